"""Things that break a claim of PDF/X, and their harmless twins: a change to a book that keeps its claim, and whom it breaks.

Lengths are millimetres from the bottom left corner of the trim unless a function says otherwise.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pikepdf
from artwork import Book, mm, rectangle
from claims import ART, EARLY, LATE, PARTS, X1A, X3, X4, ClaimedBook
from opened import CMYK_PROFILE, RGB_PROFILE
from pikepdf import Array, Dictionary, Name, String

BEFORE_6 = (*EARLY, X4)
Change = Callable[[ClaimedBook], None]


def page_of(book: Book) -> pikepdf.Dictionary:
    return book.pdf.pages[-1].obj


def repainted(content: str, **resources) -> Change:
    """The page painted anew; resources are made by functions of the book."""

    def change(book: ClaimedBook) -> None:
        made = {name: make(book) for name, make in resources.items()}
        book.with_page(content, resources=made)
        del book.pdf.pages[0]

    return change


def state(**entries) -> Change:
    """The art under a graphics state with these entries."""
    return repainted(f"/G gs {ART}", G=lambda book: book.state(**entries))


def annotation(subtype: str, box_mm: tuple[float, float, float, float], **entries) -> Change:
    """An annotation, box in millimetres from the bottom left corner of the trim."""

    def change(book: ClaimedBook) -> None:
        rect = Array([mm(side + 10) for side in box_mm])
        note = Dictionary(Type=Name.Annot, Subtype=Name("/" + subtype), Rect=rect, **entries)
        page_of(book).Annots = Array([book.pdf.make_indirect(note)])
        if subtype == "Widget":
            book.pdf.Root.AcroForm = Dictionary(Fields=Array([page_of(book).Annots[0]]))

    return change


def info(key: str, value: object) -> Change:
    def change(book: ClaimedBook) -> None:
        if value is None:
            del book.pdf.docinfo[Name("/" + key)]
        else:
            book.pdf.docinfo[Name("/" + key)] = value

    return change


def xmp(**values: str | None) -> Change:
    def change(book: ClaimedBook) -> None:
        for key, value in values.items():
            book.xmp.pop(key.replace("__", ":"), None)
            if value is not None:
                book.xmp[key.replace("__", ":")] = value

    return change


def intent(key: str, value: object) -> Change:
    def change(book: ClaimedBook) -> None:
        if value is None:
            del book.intent[Name("/" + key)]
        else:
            book.intent[Name("/" + key)] = value(book) if callable(value) else value

    return change


def profile(change_bytes: Callable[[bytearray], None], components: int = 4) -> Callable[[ClaimedBook], object]:
    """The press profile with other words in its head (ICC.1:2022, 7.2)."""

    def made(book: ClaimedBook) -> object:
        data = bytearray(CMYK_PROFILE.read_bytes())
        change_bytes(data)
        return book.stream(bytes(data), compress=True, N=components)

    return made


def of_class(device_class: bytes) -> Callable[[bytearray], None]:
    return lambda data: data.__setitem__(slice(12, 16), device_class)


def of_version(major: int) -> Callable[[bytearray], None]:
    return lambda data: data.__setitem__(8, major)


def boxes(**values: list[float] | None) -> Change:
    """Boxes in millimetres from the corner of the media box (120 x 100 mm; trim from 10, 10 to 110, 90)."""

    def change(book: ClaimedBook) -> None:
        for name, value in values.items():
            if value is None:
                del page_of(book)[Name("/" + name)]
            else:
                page_of(book)[Name("/" + name)] = Array([mm(side) for side in value])

    return change


def packed(filter_name: str) -> Change:
    """A picture whose data is packed by a filter; the data is not looked at, so it may be anything."""
    return repainted(
        f"{ART} q 100 0 0 100 30 30 cm /P Do Q",
        P=lambda book: book.stream(
            LZW if filter_name == "LZWDecode" else b"\0" * 40,
            Type=Name.XObject,
            Subtype=Name.Image,
            Width=2,
            Height=2,
            BitsPerComponent=8 if filter_name != "JBIG2Decode" else 1,
            ColorSpace=Name.DeviceGray,
            Filter=Name("/" + filter_name),
        ),
    )


#: Four bytes of 127, packed by LZW with codes of nine bits: clear, 127 four times, end.
LZW = int("100000000" + "001111111" * 4 + "100000001" + "00", 2).to_bytes(7, "big")


def encrypted(book: ClaimedBook) -> None:
    """An owner's password; the method is one that the PDF version knows (ISO 32000-2, Table 20)."""
    revision = {"1.3": 2, "1.4": 3, "1.6": 4, "2.0": 6}[book.version]
    book.saving = {
        "encryption": pikepdf.Encryption(owner="moss", user="", R=revision, aes=revision > 3, metadata=revision > 3),
        "deterministic_id": False,
        "stream_decode_level": None,
    }


def without_id(path: Path) -> None:
    """Takes the identifier out of a written file, leaving every offset where it is."""
    data = path.read_bytes()
    assert data.count(b"/ID [") == 1
    path.write_bytes(data.replace(b"/ID [", b"/Id ["))


def open_action(**entries) -> Change:
    return lambda book: book.pdf.Root.__setattr__("OpenAction", Dictionary(**entries))


def layer(book: ClaimedBook) -> None:
    group = book.layer("Deutsch")
    book.with_page(f"/OC /L BDC {ART} EMC", resources={"L": group})
    del book.pdf.pages[0]


def attachment(book: ClaimedBook) -> None:
    book.pdf.attachments["terms.txt"] = b"terms"


def two_intents(book: ClaimedBook) -> None:
    book.pdf.Root.OutputIntents.append(book.intent)


def no_intent(book: ClaimedBook) -> None:
    book.intent.S = Name.GTS_PDFA1


def intent_of_the_page(book: ClaimedBook) -> None:
    book.pdf.Root.OutputIntents = Array([])
    page_of(book).OutputIntents = Array([book.intent])


def blend_space(space: object) -> Change:
    return lambda book: page_of(book).__setattr__(
        "Group", Dictionary(Type=Name.Group, S=Name.Transparency, CS=space(book) if callable(space) else space)
    )


def rgb_space(book: ClaimedBook) -> object:
    return book.icc(RGB_PROFILE, 3)


def spot_over(alternate: object) -> Callable[[Book], object]:
    return lambda book: Array([
        Name.Separation, Name("/Moss"), alternate,
        Dictionary(FunctionType=2, Domain=Array([0, 1]), C0=Array([1, 1, 1]), C1=Array([0, 1, 0]), N=1),
    ])  # fmt: skip


LAB = Array([Name.Lab, Dictionary(WhitePoint=Array([0.9505, 1, 1.089]), Range=Array([-100, 100, -100, 100]))])
SPOT = f"/S cs 1 scn {rectangle(10, 10, 40, 30)} f"
PICTURE = f"{ART} q 100 0 0 100 30 30 cm /P Do Q"
STRAIGHT = Dictionary(FunctionType=2, Domain=Array([0, 1]), C0=Array([0]), C1=Array([1]), N=1)
CURVE = Dictionary(FunctionType=2, Domain=Array([0, 1]), C0=Array([0]), C1=Array([1]), N=1.8)
SCREEN = Dictionary(Type=Name.Halftone, HalftoneType=1, Frequency=150, Angle=45, SpotFunction=Name.Round)


def threshold(book: Book) -> object:
    return book.stream(bytes(64), Type=Name.Halftone, HalftoneType=6, Width=8, Height=8)


#: What it is: the change, the requirement it breaks, the parts that it breaks.
CASES: dict[str, tuple[Change, str, tuple[str, ...]]] = {
    "encrypted": (encrypted, "encryption", PARTS),
    "a script on opening": (open_action(S=Name.JavaScript, JS="app.beep()"), "actions", PARTS),
    "an action on opening that goes to a place": (open_action(S=Name.GoTo, D=Array([0, Name.Fit])), "actions", BEFORE_6),
    "an action when a page is shown": (
        lambda book: page_of(book).__setattr__("AA", Dictionary(O=Dictionary(S=Name.Named, N=Name.NextPage))), "actions", PARTS,
    ),
    "a place to open at": (lambda book: book.pdf.Root.__setattr__("OpenAction", Array([page_of(book), Name.Fit])), "actions", ()),
    "a link on the page": (annotation("Link", (20, 20, 40, 30), A=Dictionary(S=Name.URI, URI="https://example.org")), "annotations", BEFORE_6),
    "a link in the bleed": (annotation("Link", (-2.5, 20, -1, 30)), "annotations", BEFORE_6),
    "a note that prints": (annotation("Square", (20, 20, 40, 30), F=4, C=Array([0, 0, 0, 1])), "annotations", PARTS),
    "a note that does not print": (annotation("Text", (20, 20, 25, 25), F=0), "annotations", BEFORE_6),
    "a note beyond the bleed": (annotation("Text", (-9, 20, -4, 25)), "annotations", ()),
    "a note at the edge of the bleed": (annotation("Square", (-9, 20, -3, 25)), "annotations", ()),
    "a printer's mark": (annotation("PrinterMark", (20, 20, 40, 30)), "annotations", ()),
    "a trap network": (annotation("TrapNet", (20, 20, 40, 30)), "annotations", ()),
    "a form field": (annotation("Widget", (20, 20, 40, 30), FT=Name.Tx, T="name"), "form-fields", BEFORE_6),
    "a form field that prints": (annotation("Widget", (20, 20, 40, 30), FT=Name.Tx, T="name", F=4), "form-fields", PARTS),
    "an XFA form": (
        lambda book: book.pdf.Root.__setattr__("AcroForm", Dictionary(Fields=Array([]), XFA=book.stream(b"<xdp/>"))), "form-fields", PARTS,
    ),
    "a layer": (layer, "layers", EARLY),
    "an attachment": (attachment, "attachments", EARLY),
    "half opacity": (state(ca=0.5), "transparency", EARLY),
    "lines of half opacity": (state(CA=0.5), "transparency", EARLY),
    "full opacity": (state(ca=1, CA=1, BM=Name.Normal, SMask=Name("/None")), "transparency", ()),
    "a blend mode": (state(BM=Name.Multiply), "transparency", EARLY),
    "a compatible blend mode": (state(BM=Name.Compatible), "transparency", ()),
    "a picture with a soft mask": (
        repainted(PICTURE, P=lambda book: book.image(4, 4, SMask=book.image(4, 4, space=Name.DeviceGray))), "transparency", EARLY,
    ),
    "a transparency group": (
        repainted(
            "/F Do", F=lambda book: book.form(ART, Group=Dictionary(S=Name.Transparency, CS=Name.DeviceCMYK)),
        ), "transparency", EARLY,
    ),
    "a soft mask in a form": (
        repainted(
            "/F Do",
            F=lambda book: book.form(
                f"/G gs {ART}",
                resources={"G": book.state(SMask=Dictionary(S=Name.Luminosity, G=book.form("1 g 0 0 300 300 re f")))},
            ),
        ), "transparency", EARLY,
    ),
    "an RGB blend space": (blend_space(Name.DeviceRGB), "blend-space", LATE),
    "a Lab blend space": (blend_space(LAB), "blend-space", LATE),
    "a CMYK blend space": (blend_space(Name.DeviceCMYK), "blend-space", ()),
    "a gray blend space": (blend_space(Name.DeviceGray), "blend-space", ()),
    "a profiled RGB blend space": (blend_space(rgb_space), "blend-space", ()),
    "a transfer curve": (state(TR=CURVE), "transfer-curves", PARTS),
    "a transfer curve for PDF 1.3": (state(TR2=CURVE), "transfer-curves", PARTS),
    "no transfer curve": (state(TR=Name.Identity, TR2=Name.Default), "transfer-curves", ()),
    "a threshold halftone": (
        repainted(f"/G gs {ART}", G=lambda book: book.state(HT=threshold(book))), "halftones", PARTS,
    ),
    "a threshold halftone for one ink": (
        repainted(f"/G gs {ART}", G=lambda book: book.state(HT=Dictionary(Type=Name.Halftone, HalftoneType=5, Default=SCREEN, Cyan=threshold(book)))),
        "halftones", PARTS,
    ),
    "a halftone of type 1": (state(HT=SCREEN), "halftones", ()),
    "a halftone of type 5": (state(HT=Dictionary(Type=Name.Halftone, HalftoneType=5, Default=SCREEN)), "halftones", ()),
    "the usual halftone": (state(HT=Name.Default), "halftones", ()),
    "a PostScript object": (
        repainted(f"{ART} /X Do", X=lambda book: book.stream(b"showpage", Type=Name.XObject, Subtype=Name.PS)), "postscript", PARTS,
    ),
    "the PostScript operator": (repainted(f"{ART} (showpage) PS"), "postscript", PARTS),
    "a letter P and S": (repainted(f"{ART} /PS gs", PS=lambda book: book.state(OPM=1)), "postscript", ()),
    "an OPI proxy": (
        repainted(PICTURE, P=lambda book: book.image(4, 4, OPI=Dictionary({"/2.0": Dictionary(Type=Name.OPI, Version=2.0)}))), "opi", PARTS,
    ),
    "a reference to another file": (
        repainted("/F Do", F=lambda book: book.form(ART, Ref=Dictionary(F=String("other.pdf"), Page=0))), "external-content", PARTS,
    ),
    "LZW": (packed("LZWDecode"), "compression", PARTS),
    "LZW in an inline picture": (
        repainted(f"{ART} q 50 0 0 50 30 30 cm BI /W 2 /H 2 /BPC 8 /CS /G /F /LZW ID {LZW.decode('latin-1')} EI Q"), "compression", PARTS,
    ),
    "an inline picture packed otherwise": (
        repainted(f"{ART} q 50 0 0 50 30 30 cm BI /W 2 /H 2 /BPC 8 /CS /G /F /AHx ID 007f7fff> EI Q"), "compression", ()),
    "a preseparated page": (
        lambda book: page_of(book).__setattr__("SeparationInfo", Dictionary(Pages=Array([page_of(book)]), DeviceColorant=Name.Cyan)),
        "preseparated", PARTS,
    ),
    "trapped unknown": (info("Trapped", Name.Unknown), "trapped", BEFORE_6),
    "trapped": (info("Trapped", Name("/True")), "trapped", ()),
    "no title": (info("Title", None), "title", EARLY),
    "no date of making": (info("CreationDate", None), "dates", EARLY),
    "no date of change": (info("ModDate", None), "dates", EARLY),
    "another version in the document information": (
        info("GTS_PDFXVersion", String("PDF/X-3:2002")), "identification", LATE),
    "two output intents": (two_intents, "output-intent", PARTS),
    "no output intent": (no_intent, "output-intent", PARTS),
    "output intents of pages": (intent_of_the_page, "output-intent", BEFORE_6),
    "no profile, a registered condition": (intent("DestOutputProfile", None), "printing-condition", LATE),
    "a condition without a name": (intent("OutputConditionIdentifier", String("")), "printing-condition", PARTS),
    "a profile for a screen": (intent("DestOutputProfile", profile(of_class(b"mntr"))), "intent-profile", PARTS),
    "a profile of ICC version 4": (intent("DestOutputProfile", profile(of_version(4))), "intent-profile", EARLY),
    "a profile of ICC version 5": (intent("DestOutputProfile", profile(of_version(5))), "intent-profile", PARTS),
    "trim box and art box": (boxes(ArtBox=[20, 20, 100, 80]), "page-boxes", PARTS),
    "no trim box": (boxes(TrimBox=None), "page-boxes", PARTS),
    "an art box instead": (boxes(TrimBox=None, ArtBox=[10, 10, 110, 90]), "page-boxes", ()),
    "a crop box inside the bleed box": (boxes(CropBox=[10, 10, 110, 90]), "box-nesting", PARTS),
    "a crop box around the bleed box": (boxes(CropBox=[6, 6, 114, 94]), "box-nesting", ()),
    "a crop box on the bleed box, rounded": (boxes(CropBox=[7.03, 7.03, 112.97, 92.97]), "box-nesting", ()),
    "a bleed box inside the trim box": (boxes(BleedBox=[12, 12, 108, 88]), "box-nesting", PARTS),
    "a bleed box beyond the media box": (boxes(BleedBox=[-3, -3, 123, 103]), "box-nesting", PARTS),
    "no bleed box": (boxes(BleedBox=None), "box-nesting", ()),
    "gray": (repainted(f"0.5 g {rectangle(10, 10, 40, 30)} f"), "ink-colours", ()),
    "a spot colour with a Lab alternate": (repainted(SPOT, S=spot_over(LAB)), "ink-colours", X1A),
    "a spot colour with an RGB alternate in PDF/X-1a": (repainted(SPOT, S=spot_over(Name.DeviceRGB)), "ink-colours", X1A),
    "a spot colour with an RGB alternate": (repainted(SPOT, S=spot_over(Name.DeviceRGB)), "device-colours", (*X3, *LATE)),
    "a spot colour": (repainted(SPOT, S=lambda book: book.spot("Moss")), "ink-colours", ()),
    "profiled RGB": (repainted(f"/S cs 1 0 0 scn {rectangle(10, 10, 40, 30)} f", S=rgb_space), "ink-colours", X1A),
    "Lab": (repainted(f"/S cs 50 20 20 scn {rectangle(10, 10, 40, 30)} f", S=lambda book: LAB), "ink-colours", X1A),
    "RGB in PDF/X-1a": (repainted(f"1 0 0 rg {rectangle(10, 10, 40, 30)} f"), "ink-colours", X1A),
    "RGB": (repainted(f"1 0 0 rg {rectangle(10, 10, 40, 30)} f"), "device-colours", (*X3, *LATE)),
    "an RGB picture in a pattern": (
        repainted(
            f"/Pattern cs /T scn {rectangle(10, 10, 40, 30)} f",
            T=lambda book: book.tiling(
                "20 0 0 20 0 0 cm /P Do", cell=(20, 20), resources={"P": book.image(4, 4, space=Name.DeviceRGB)}
            ),
        ), "device-colours", (*X3, *LATE),
    ),
    "RGB that the page replaces by profiled RGB": (
        repainted(f"1 0 0 rg {rectangle(10, 10, 40, 30)} f", DefaultRGB=rgb_space), "device-colours", ()),
    "a profile that links devices": (
        repainted(
            f"/S cs 0 0 0 1 scn {rectangle(10, 10, 40, 30)} f",
            S=lambda book: Array([Name.ICCBased, profile(of_class(b"link"))(book)]),
        ), "colour-profiles", (*X3, *LATE),
    ),
    "colours by a profile of ICC version 4": (
        repainted(
            f"/S cs 0 0 0 1 scn {rectangle(10, 10, 40, 30)} f",
            S=lambda book: Array([Name.ICCBased, profile(of_version(4))(book)]),
        ), "colour-profiles", X3,
    ),
    "a picture of 16 bits": (repainted(PICTURE, P=lambda book: book.image(4, 4, bits=16)), "sixteen-bits", EARLY),
    "a picture of 8 bits": (repainted(PICTURE, P=lambda book: book.image(4, 4)), "sixteen-bits", ()),
}  # fmt: skip
#: Changes that break another requirement as well, by what they are; that is no part of the case.
ALSO = {
    "an RGB blend space": {"transparency"},
    "a Lab blend space": {"transparency"},
    "a CMYK blend space": {"transparency"},
    "a gray blend space": {"transparency"},
    "a profiled RGB blend space": {"transparency"},
    "a bleed box inside the trim box": set(),
    "output intents of pages": set(),
    "a spot colour with an RGB alternate": {"ink-colours"},
    "a spot colour with an RGB alternate in PDF/X-1a": {"device-colours"},
    "RGB": {"ink-colours"},
    "RGB in PDF/X-1a": {"device-colours"},
    "an RGB picture in a pattern": {"ink-colours"},
    "RGB that the page replaces by profiled RGB": {"ink-colours"},
    "a profile that links devices": {"ink-colours"},
    "colours by a profile of ICC version 4": {"ink-colours"},
    "encrypted": set(),
}
