"""Fonts: what must be embedded, what must be readable, what letters of dots need; and every font that may be left alone."""

from __future__ import annotations

import pytest
from artwork import Book, mm
from by_hand import ids, job_of, judged, page_answers, page_of
from opened import DEJAVU, needs
from pikepdf import Array, Dictionary, Name
from whole import found_in, report_of

from preflight.findings import Unchecked
from preflight.inventory.model import FontFact
from preflight.units import Box

TEXT = f"BT /F 12 Tf {mm(10)} {mm(10)} Td (Fern) Tj ET"


def judge_fonts(*fonts: FontFact):
    job = job_of()
    return judged("font", page_answers("font", page_of(fonts=fonts), job), job)


def fact(**facts) -> FontFact:
    return FontFact(**({"name": "Moss-Bold", "kind": "TrueType", "embedded": True, "used_visibly": True} | facts))


def bitmap_font(book: Book, dots: int = 40):
    """A Type 3 font whose A is a picture of so many dots to its height (0.8 of the size)."""
    row = b"\x55\xaa" * (dots // 16) + b"\x55" * (-(-dots // 8) - 2 * (dots // 16))
    data = b"".join(row if line % 2 else bytes(255 - byte for byte in row) for line in range(dots))
    mask = book.image(dots, dots, bits=1, data=data, ImageMask=True)
    return book.type3_font({"A": "1000 0 0 0 800 800 d1 800 0 0 800 0 0 cm /M Do"}, resources={"M": mask})


# --- in artwork ------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", ["Helvetica", "Courier", "Symbol", "Fern-Grotesk"])
def test_fonts_that_are_not_embedded_the_base_14_included(name, tmp_path):
    book = Book()
    book.page(TEXT, resources={"F": book.base_font(name)})
    (finding,) = found_in(book, tmp_path, "font")
    assert (finding.id, finding.severity, finding.page) == ("font.not-embedded", "stop", 1)
    assert name in finding.message
    assert finding.box_mm[0] == pytest.approx(10, abs=0.8)


def test_a_font_of_many_pages_is_told_once_with_its_pages(tmp_path):
    """Contract, "Grouping": a fact of the file once, on the first page that shows it."""
    book = Book()
    font, other = book.pdf.make_indirect(book.base_font()), book.base_font("Courier")
    book.page("0 0 0 1 k 9 9 50 50 re f", resources={"F": font})
    for _ in range(3):
        book.page(TEXT, resources={"F": font})
    book.page(TEXT, resources={"F": other})
    found = found_in(book, tmp_path, "font")
    assert [(each.page, each.details["font"], each.details["pages"], each.count) for each in found] == [
        (2, "Helvetica", [2, 3, 4], 3),
        (5, "Courier", [5], 1),
    ]
    assert found[0].box_mm[0] == pytest.approx(10, abs=0.8)


@needs(DEJAVU)
def test_an_embedded_font_is_silent(tmp_path):
    book = Book()
    book.page(TEXT, resources={"F": book.embedded_font(DEJAVU)})
    assert found_in(book, tmp_path, "font") == []


@pytest.mark.parametrize(
    "content",
    [
        "",
        "BT /F 12 Tf ET",
        "BT /F 12 Tf 3 Tr 30 30 Td (Fern) Tj ET",
        "BT /F 12 Tf 30 30 Td (   ) Tj ET",
        f"BT /F 12 Tf {mm(-9)} {mm(30)} Td (i) Tj ET",
        f"{TEXT} 0 0 0 0.5 k {mm(-3)} {mm(-3)} {mm(106)} {mm(86)} re f",
        f"{mm(60)} {mm(60)} 9 9 re W n {TEXT}",
        f"/Hidden gs {TEXT}",
        f"/OC /Off BDC {TEXT} EMC",
    ],
    ids=[
        "listed",
        "named",
        "invisible",
        "spaces",
        "outside the bleed",
        "covered",
        "clipped away",
        "transparent",
        "layer off",
    ],
)
def test_fonts_that_do_not_show_are_left_alone(content, tmp_path):
    book = Book()
    things = {"F": book.base_font("Courier"), "Hidden": book.state(ca=0), "Off": book.layer("Off", on=False)}
    book.page(content, resources=things)
    assert found_in(book, tmp_path, "font") == []


@pytest.mark.parametrize("inside", ["form", "pattern", "1000 0 d0", "1000 0 0 0 1000 1000 d1"])
def test_fonts_wherever_they_are_nested(inside, tmp_path):
    book = Book()
    fonts = {"F": book.base_font("Courier")}
    if inside == "form":
        book.page("/X Do", resources={"X": book.form(TEXT, resources=fonts)})
    elif inside == "pattern":
        tile = book.tiling("BT /F 12 Tf 5 5 Td (Fern) Tj ET", cell=(50, 50), resources=fonts)
        book.page("/Pattern cs /P scn 0 0 90 90 re f", resources={"P": tile})
    else:
        font = book.type3_font({"A": f"{inside} BT /F 900 Tf (A) Tj ET"}, resources=fonts)
        book.page("BT /T 20 Tf 30 30 Td (A) Tj ET", resources={"T": font})
    assert ids(found_in(book, tmp_path, "font")) == ["font.not-embedded stop"]


def test_each_font_is_told_once(tmp_path):
    book = Book()
    fonts = {"F": book.base_font("Courier"), "G": book.base_font("Fern-Sans")}
    for _ in range(2):
        book.page(f"{TEXT} {TEXT.replace('/F', '/G')} {TEXT}", resources=fonts)
    findings = found_in(book, tmp_path, "font")
    assert sorted((found.page, found.details["font"]) for found in findings) == [(1, "Courier"), (1, "Fern-Sans")]
    assert [found.details["pages"] for found in findings] == [[1, 2], [1, 2]]


@pytest.mark.parametrize(
    ("size_pt", "expected"),
    [(6.0, []), (5.9, []), (6.1, ["font.type3-bitmap ask"]), (12.0, ["font.type3-bitmap ask"])],
)
def test_letters_made_of_dots(size_pt, expected, tmp_path):
    """40 dots over 0.8 of the size: 72 x 40 / (0.8 x 6) = 600 ppi at 6 pt."""
    book = Book()
    book.page(f"BT /F {size_pt} Tf 30 30 Td (AAA) Tj ET", resources={"F": bitmap_font(book)})
    findings = found_in(book, tmp_path, "font")
    assert ids(findings) == expected
    if findings:
        assert findings[0].measured == pytest.approx(72 * 40 / (0.8 * size_pt), rel=0.02)
        assert (findings[0].limit, findings[0].unit) == (600.0, "ppi")


def test_outlines_in_a_type_3_font_and_bitmap_fonts_not_shown(tmp_path):
    book = Book()
    outlines = book.type3_font({"A": "1000 0 d0 0 0 500 500 re f"})
    things = {"F": outlines, "G": bitmap_font(book, 8)}
    book.page("BT /F 12 Tf 30 30 Td (A) Tj 3 Tr /G 12 Tf ( ) Tj ET", resources=things)
    assert found_in(book, tmp_path, "font") == []


@needs(DEJAVU)
def test_a_program_that_cannot_be_read(tmp_path):
    book = Book()
    font = book.embedded_font(DEJAVU)
    font.FontDescriptor.FontFile2 = book.stream(DEJAVU.read_bytes()[:5000])
    book.page(TEXT, resources={"F": font})
    report = report_of(book.save(tmp_path / "art.pdf"))
    assert [f"{found.id} {found.severity}" for found in report.findings if found.id.startswith(("font", "file"))] == [
        "font.faulty ask"
    ]


@needs(DEJAVU)
def test_signs_that_are_missing(tmp_path):
    book = Book()
    data = DEJAVU.read_bytes()
    descriptor = book.pdf.make_indirect(
        Dictionary(Type=Name.FontDescriptor, FontName=Name.Moss, Flags=4, FontBBox=Array([0, 0, 1000, 1000]), ItalicAngle=0, Ascent=900,
                   Descent=-200, CapHeight=700, StemV=80, FontFile2=book.stream(data, compress=True, Length1=len(data)))
    )  # fmt: skip
    descendant = Dictionary(
        Type=Name.Font, Subtype=Name.CIDFontType2, BaseFont=Name.Moss, FontDescriptor=descriptor, DW=600, CIDToGIDMap=Name.Identity,
        CIDSystemInfo=Dictionary(Registry="Adobe", Ordering="Identity", Supplement=0),
    )  # fmt: skip
    font = Dictionary(
        Type=Name.Font, Subtype=Name.Type0, BaseFont=Name.Moss, Encoding=Name("/Identity-H"), DescendantFonts=Array([book.pdf.make_indirect(descendant)])
    )  # fmt: skip
    book.page("BT /F 12 Tf 30 30 Td <002400000000> Tj ET", resources={"F": font})
    (finding,) = found_in(book, tmp_path, "font")
    assert (finding.id, finding.details["missing_signs"]) == ("font.faulty", 2)
    book.pdf.pages[0].obj.Contents = book.stream(b"BT /F 12 Tf 60 60 Td <00240025> Tj ET")
    assert found_in(book, tmp_path, "font") == []


@needs(DEJAVU)
def test_a_code_whose_glyph_the_font_does_not_hold(tmp_path):
    """The engine shows the sign for what has none (U+FFFD); a platesetter shows a box or nothing."""
    book = Book()
    font = book.embedded_font(DEJAVU)
    names = Array([72, Name.nosuchglyph, 73, Name.A])
    font.Encoding = Dictionary(Type=Name.Encoding, BaseEncoding=Name.WinAnsiEncoding, Differences=names)
    book.page("BT /F 12 Tf 30 30 Td (HIHo) Tj ET", resources={"F": font})
    (finding,) = found_in(book, tmp_path, "font")
    assert (finding.id, finding.details["missing_signs"]) == ("font.faulty", 2)
    book.pdf.pages[0].obj.Contents = book.stream(b"BT /F 12 Tf 60 60 Td (Io) Tj ET")
    assert found_in(book, tmp_path, "font") == []


@pytest.mark.parametrize("set_to_nothing", ["/H 0 Tf", "/H 12 Tf 0 Tz", "/H 12 Tf 12 0 0 0 0 0 Tm"])
def test_type_of_no_size_prints_nothing_and_is_not_told(set_to_nothing, tmp_path):
    """Nor is what the engine says of letters that it cannot draw for want of size."""
    book = Book()
    book.page(f"BT {set_to_nothing} 20 60 Td (Moss) Tj ET", resources={"H": book.base_font()})
    report = report_of(book.save(tmp_path / "art.pdf"))
    told = {finding.id for finding in report.findings}
    assert not {found for found in told if found.startswith(("font.", "type.", "file."))}
    book.pdf.pages[0].obj.Contents = book.stream(b"BT /H 12 Tf 20 60 Td (Moss) Tj ET")
    assert "font.not-embedded" in {finding.id for finding in report_of(book.save(tmp_path / "b.pdf")).findings}


# --- facts written by hand -------------------------------------------------------------------------------------------


def test_kinds_and_severities():
    assert judge_fonts(fact()) == []
    assert ids(judge_fonts(fact(embedded=False))) == ["font.not-embedded stop"]
    assert ids(judge_fonts(fact(faulty="its font program is cut"))) == ["font.faulty ask"]
    assert ids(judge_fonts(fact(notdef_shown=1))) == ["font.faulty ask"]
    assert ids(judge_fonts(fact(kind="Type 3", bitmap_ppi=300.0))) == ["font.type3-bitmap ask"]


@pytest.mark.parametrize(("ppi", "count"), [(600.0, 0), (599.6, 0), (599.4, 1)])
def test_the_tolerance_is_half_a_pixel_per_inch(ppi, count):
    assert len(judge_fonts(fact(bitmap_ppi=ppi))) == count


def test_fonts_that_do_not_show_are_never_judged():
    hidden = fact(used_visibly=False, embedded=False, faulty="x", notdef_shown=3, bitmap_ppi=72.0)
    assert judge_fonts(hidden) == []


@pytest.mark.parametrize("facts", [{"embedded": None}, {"used_visibly": None, "embedded": False}])
def test_what_is_not_known_is_not_passed(facts):
    job = job_of()
    answers = page_answers("font", page_of(fonts=(fact(**facts),)), job)
    assert [type(answer) for answer in answers] == [Unchecked]


def test_messages_name_the_font_and_survive_any_name():
    (finding,) = judge_fonts(fact(name="{evil} \x1b[1m<b>", embedded=False, box_mm=Box(1, 2, 3, 4)))
    assert "{evil}" in finding.message
    assert finding.box_mm == [1, 2, 3, 4]
    assert "outlines" in finding.remedy
