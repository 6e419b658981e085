"""Fonts as a page uses them: embedded or not, readable or not, visible or not.

Truth by construction and by poppler's ``pdffonts`` (names, embedding, subsets); visibility from the paint trace of the same page.
"""

from __future__ import annotations

import re

import pytest
from artwork import Book, mm
from opened import DEJAVU, OPENTYPE, TYPE_1, needs, opened, output_of
from pikepdf import Array, Dictionary, Name
from whole import job_for

from preflight.inventory.fonts import merge_font_use, read_fonts, split_tag
from preflight.inventory.model import FontFact, Painted, TextRun
from preflight.inventory.reading import read_page
from preflight.units import Box

pytestmark = needs(DEJAVU, TYPE_1, OPENTYPE)
TEXT = f"BT /F 12 Tf {mm(10)} {mm(10)} Td (Fern) Tj ET"


def fonts_of(book: Book, folder, number: int = 1) -> tuple[FontFact, ...]:
    with opened(book, folder) as artwork:
        return read_fonts(artwork, number)


def used_on(book: Book, folder, number: int = 1) -> dict[str, FontFact]:
    """The fonts of a page with their use, by name, after the page was traced."""
    with opened(book, folder) as artwork:
        reading = read_page(artwork, number, job_for(), frozenset({"fonts", "paint"}))
    assert "fonts" not in reading.page.unknown, reading.page.unknown
    return {font.name: font for font in reading.page.fonts}


def descriptor(book: Book, name: str, **program):
    return book.pdf.make_indirect(
        Dictionary(
            Type=Name.FontDescriptor, FontName=Name("/" + name), Flags=32, FontBBox=Array([-500, -300, 1500, 1000]),
            ItalicAngle=0, Ascent=900, Descent=-250, CapHeight=700, StemV=80, **program,
        )
    )  # fmt: skip


def simple_font(book: Book, name: str, subtype: str = "Type1", **program):
    return book.pdf.make_indirect(
        Dictionary(
            Type=Name.Font, Subtype=Name("/" + subtype), BaseFont=Name("/" + name), Encoding=Name.WinAnsiEncoding,
            FirstChar=32, LastChar=126, Widths=Array([600] * 95), FontDescriptor=descriptor(book, name, **program),
        )
    )  # fmt: skip


def composite_font(book: Book, name: str, subtype: str = "CIDFontType2", **program):
    descendant = book.pdf.make_indirect(
        Dictionary(
            Type=Name.Font, Subtype=Name("/" + subtype), BaseFont=Name("/" + name), FontDescriptor=descriptor(book, name, **program),
            CIDSystemInfo=Dictionary(Registry="Adobe", Ordering="Identity", Supplement=0), DW=600, CIDToGIDMap=Name.Identity,
        )
    )  # fmt: skip
    return book.pdf.make_indirect(
        Dictionary(
            Type=Name.Font, Subtype=Name.Type0, BaseFont=Name("/" + name), Encoding=Name("/Identity-H"), DescendantFonts=Array([descendant])
        )
    )  # fmt: skip


def true_type(book: Book, cut: int | None = None):
    data = DEJAVU.read_bytes()
    return book.stream(data[:cut], compress=True, Length1=len(data))


def every_kind(book: Book) -> dict:
    type_1 = TYPE_1.read_bytes()
    return {
        "A": book.embedded_font(DEJAVU),
        "B": book.base_font("Times-Roman"),
        "C": simple_font(book, "Loose-Type1"),
        "D": simple_font(book, "ABCDEF+Own-Type1", FontFile=book.stream(type_1, Length1=len(type_1), Length2=0, Length3=0)),
        "E": composite_font(book, "GHIJKL+Own-Composite", FontFile2=true_type(book)),
        "F": composite_font(book, "Loose-Composite"),
        "G": simple_font(book, "Own-Compact", FontFile3=book.stream(OPENTYPE.read_bytes(), Subtype=Name.OpenType)),
        "H": book.type3_font({"A": "1000 0 d0 0 0 500 500 re f"}),
    }  # fmt: skip


def test_embedding_by_kind(tmp_path):
    book = Book()
    fonts = every_kind(book)
    book.page("BT " + " ".join(f"/{name} 9 Tf" for name in fonts) + " ET", resources=fonts)
    found = {font.name: (font.embedded, font.subset, font.kind) for font in fonts_of(book, tmp_path)}
    assert found == {
        "DejaVu-Sans-Book": (True, False, "TrueType"),
        "Times-Roman": (False, False, "Type 1"),
        "Loose-Type1": (False, False, "Type 1"),
        "Own-Type1": (True, True, "Type 1"),
        "Own-Composite": (True, True, "composite TrueType"),
        "Loose-Composite": (False, False, "composite TrueType"),
        "Own-Compact": (True, False, "Type 1 (compact)"),
        "H": (True, False, "Type 3"),
    }
    assert not any(font.faulty for font in fonts_of(book, tmp_path))


@needs("pdffonts")
def test_embedding_agrees_with_poppler(tmp_path):
    book = Book()
    fonts = every_kind(book)
    book.page("BT " + " ".join(f"/{name} 9 Tf" for name in fonts) + " ET", resources=fonts)
    path = book.save(tmp_path / "art.pdf")
    rows = re.findall(
        r"^(\S+) .*?(yes|no) +(yes|no) +(?:yes|no) +(\d+) +\d+$", output_of("pdffonts", path), re.MULTILINE
    )
    poppler = {
        (split_tag(name)[1], emb == "yes", sub == "yes", int(number))
        for name, emb, sub, number in rows
        if name != "[none]"
    }
    with opened(path, tmp_path) as artwork:
        ours = {
            (font.name, font.embedded, font.subset, font.object_number)
            for font in read_fonts(artwork, 1)
            if font.kind != "Type 3" and font.object_number
        }
    assert len(ours) == 6  # Times-Roman is written straight into the resources
    assert ours <= poppler


@pytest.mark.parametrize("inside", ["form", "pattern", "type3", "annotation"])
def test_fonts_wherever_they_are_nested(inside, tmp_path):
    book = Book()
    fonts = {"F": book.base_font("Courier")}
    if inside == "form":
        book.page("/X Do", resources={"X": book.form("/Y Do", resources={"Y": book.form(TEXT, resources=fonts)})})
    elif inside == "pattern":
        book.page(
            "/Pattern cs /P scn 0 0 90 90 re f", resources={"P": book.tiling(TEXT, cell=(50, 50), resources=fonts)}
        )
    elif inside == "type3":
        font = book.type3_font({"A": "1000 0 d0 BT /F 900 Tf (A) Tj ET"}, resources=fonts)
        book.page("BT /T 20 Tf 9 9 Td (A) Tj ET", resources={"T": font})
    else:
        stamp = book.form("BT /F 12 Tf (Fern) Tj ET", resources=fonts, BBox=Array([0, 0, 50, 20]))
        note = Dictionary(
            Type=Name.Annot, Subtype=Name.Stamp, F=4, Rect=Array([90, 90, 140, 110]), AP=Dictionary(N=stamp)
        )
        book.page("").obj.Annots = Array([book.pdf.make_indirect(note)])
    assert used_on(book, tmp_path)["Courier"].used_visibly is True


def test_fonts_that_are_listed_and_not_named_are_left_out(tmp_path):
    book = Book()
    book.page(TEXT, resources={"F": book.base_font("Courier"), "G": book.base_font("Times-Roman")})
    assert [font.name for font in fonts_of(book, tmp_path)] == ["Courier"]


@pytest.mark.parametrize(
    ("content", "visible"),
    [
        (TEXT, True),
        ("BT /F 12 Tf 1 Tr 30 30 Td (Fern) Tj ET", True),
        ("BT /F 12 Tf 3 Tr 30 30 Td (Fern) Tj ET", False),
        ("BT /F 12 Tf 30 30 Td (    ) Tj ET", False),
        ("BT /F 12 Tf ET", False),
        ("BT /F 12 Tf 3000 30 Td (Fern) Tj ET", False),
        (f"{TEXT} 0 0 0 1 k 0 0 {mm(100)} {mm(80)} re f", False),
        (f"0 0 1 1 re W n {TEXT}", False),
    ],
    ids=[
        "filled",
        "stroked",
        "invisible (OCR)",
        "spaces only",
        "named only",
        "off the page",
        "covered",
        "clipped away",
    ],
)
def test_visible_use(content, visible, tmp_path):
    book = Book()
    book.page(content, resources={"F": book.base_font("Courier")})
    assert used_on(book, tmp_path)["Courier"].used_visibly is visible


def test_use_has_a_place(tmp_path):
    book = Book()
    book.page(TEXT, resources={"F": book.embedded_font(DEJAVU)})
    box = used_on(book, tmp_path)["DejaVu-Sans-Book"].box_mm
    assert box is not None
    # 10 mm from the left, its foot 10 mm from the bottom of an 80 mm page, 12 pt = 4.2 mm high
    assert box.x0 == pytest.approx(10, abs=0.7)
    assert box.y1 == pytest.approx(70, abs=0.3)
    assert 2.5 < box.height < 4.3


def test_signs_that_the_font_does_not_hold(tmp_path):
    """Glyph 0 of a TrueType font is .notdef (ISO/IEC 14496-22); 36 is the A of this one."""
    book = Book()
    font = composite_font(book, "Own", FontFile2=true_type(book))
    book.page("BT /F 12 Tf 30 30 Td <000000240000> Tj ET", resources={"F": font})
    assert used_on(book, tmp_path)["Own"].notdef_shown == 2


def test_a_font_that_holds_all_its_signs(tmp_path):
    book = Book()
    book.page("BT /F 12 Tf 30 30 Td (Fern, 12 %) Tj ET", resources={"F": book.embedded_font(DEJAVU)})
    assert used_on(book, tmp_path)["DejaVu-Sans-Book"].notdef_shown == 0


# --- programs that cannot be read ------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("program", "words"),
    [
        (lambda book: true_type(book, 3000), "cut"),
        (lambda book: true_type(book, 700_000), "cut"),
        (lambda book: book.stream(b"no font at all " * 40), "cannot be read"),
        (lambda book: book.stream(b""), "empty"),
        (lambda book: book.stream(b"x\x9c\x00\x01garbage", Filter=Name.FlateDecode), "damaged"),
    ],
    ids=["cut after the head", "cut near the end", "no font", "empty", "compressed data broken"],
)
def test_programs_that_cannot_be_read(program, words, tmp_path):
    book = Book()
    book.page(TEXT, resources={"F": simple_font(book, "Broken", "TrueType", FontFile2=program(book))})
    (font,) = fonts_of(book, tmp_path)
    assert font.embedded is True
    assert words in (font.faulty or "")


@pytest.mark.parametrize("lost", [b"FontFile2", b"FontDescriptor"])
def test_what_is_named_and_missing_is_lost(lost, tmp_path):
    book = Book()
    font = simple_font(book, "Gone", "TrueType", FontFile2=true_type(book))
    font.FontDescriptor = book.pdf.make_indirect(font.FontDescriptor)
    book.page(TEXT, resources={"F": book.pdf.make_indirect(font)})
    path = book.save(tmp_path / "art.pdf")
    named = rb"/%s (\d+) 0 R" % lost
    data = re.sub(named, lambda found: (b"/%s 99 0 R" % lost).ljust(len(found[0])), path.read_bytes())
    (font,) = fonts_of_bytes(data, tmp_path)
    assert (font.embedded, font.program_lost) == (False, True)


def test_a_font_left_out_is_not_lost(tmp_path):
    book = Book()
    book.page(TEXT, resources={"F": book.pdf.make_indirect(book.base_font())})
    (font,) = fonts_of(book, tmp_path)
    assert (font.embedded, font.program_lost) == (False, False)


def fonts_of_bytes(data: bytes, folder) -> tuple[FontFact, ...]:
    with opened(data, folder, "changed.pdf") as artwork:
        return read_fonts(artwork, 1)


def test_names_of_any_bytes(tmp_path):
    book = Book()
    book.page(TEXT, resources={"F": book.pdf.make_indirect(book.base_font("Moss"))})
    path = book.save(tmp_path / "art.pdf")
    (font,) = fonts_of_bytes(path.read_bytes().replace(b"/Moss", b"/M\xff\xf6s"), tmp_path)
    assert font.name == "M\\xff\\xf6s"


# --- merging with the trace ------------------------------------------------------------------------------------------


def run(
    font: str, *, order: int = 0, box: tuple = (0, 0, 9, 9), inked: int = 4, covered: bool = False, **facts
) -> Painted:
    text = TextRun(font=font, size_pt=9.0, glyphs=4, inked_glyphs=inked, **facts)
    return Painted(order, "text", Box(*box), Box(*box), None, covered=covered, text=text)


def fact(name: str, number: int | None = None, *, embedded: bool | None = True, tag: str = "") -> FontFact:
    return FontFact(name, "TrueType", embedded, object_number=number, tag=tag, subset=bool(tag))


def test_runs_find_their_font_by_number_then_tag_then_name():
    fonts = (fact("Fern", 4, tag="AAAAAA"), fact("Fern", 5, tag="BBBBBB"), fact("Moss", 6))

    def visible(*runs):
        return [font.object_number for font in merge_font_use(fonts, runs) if font.used_visibly]

    assert visible(run("Fern", font_object=5)) == [5]
    assert visible(run("BBBBBB+Fern")) == [5]
    assert visible(run("Fern")) == [4, 5]
    assert visible(run("moss")) == [6]
    assert visible(run("Type3 (6 0 R)", type3=True)) == [6]
    assert visible(run("Fern", font_object=4, covered=True), run("Moss", inked=0)) == []


def test_names_that_the_engine_cut_are_found():
    long = "NimbusSansNarrow-BoldObliqueExtendedDisplay"
    (font,) = merge_font_use((fact(long),), [run(long[:31])])
    assert font.used_visibly is True


def test_use_is_summed_up():
    first = run("Fern", missing_glyphs=1, bitmap_ppi=300.0)
    second = run("Fern", missing_glyphs=2, bitmap_ppi=150.0, box=(20, 0, 30, 5))
    (font,) = merge_font_use((fact("Fern"),), [first, second])
    assert (font.notdef_shown, font.bitmap_ppi, font.box_mm) == (3, 150.0, Box(0, 0, 30, 9))


def test_a_font_that_only_the_trace_knows_is_not_taken_for_embedded():
    (font,) = merge_font_use((), [run("Stranger")])
    assert (font.name, font.embedded, font.used_visibly) == ("Stranger", None, True)


def test_a_run_without_a_name_is_set_in_a_font_that_no_other_run_names():
    """The engine has no name for a font whose dictionary is broken; letters of a font of its own are shown then."""
    fonts = (fact("Fern", 4), fact("Moss", 5, embedded=False), fact("Ivy", 6))

    def visible(*runs, of=fonts):
        return [font.name for font in merge_font_use(of, runs) if font.used_visibly]

    assert visible(run("")) == ["Moss"]
    assert visible(run("", embedded=True), run("Fern")) == ["Fern", "Ivy"]
    assert visible(run(""), run("Moss")) == ["Fern", "Moss", "Ivy"]
    assert visible(run("", covered=True), run("Fern")) == ["Fern"]
    (font, stranger) = merge_font_use((fact("Fern"),), [run("Fern"), run("")])
    assert (font.name, stranger.name, stranger.embedded, stranger.used_visibly) == ("Fern", "", None, True)


@pytest.mark.parametrize("broken", ["no descriptor", "no descendant", "no name"])
def test_broken_fonts_whose_letters_the_engine_makes_up(broken, tmp_path):
    book = Book()
    font = Dictionary(Type=Name.Font, Subtype=Name.Type0, BaseFont=Name.Moss, Encoding=Name("/Identity-H"))
    if broken == "no descriptor":
        system = Dictionary(Registry="Adobe", Ordering="Identity", Supplement=0)
        font.DescendantFonts = Array(
            [Dictionary(Type=Name.Font, Subtype=Name.CIDFontType2, BaseFont=Name.Moss, CIDSystemInfo=system)]
        )
    elif broken == "no name":
        font = Dictionary(Type=Name.Font, Subtype=Name.Type1)
    book.page(TEXT, resources={"F": book.pdf.make_indirect(font)})
    (found,) = used_on(book, tmp_path).values()
    assert (found.embedded, found.used_visibly) == (False, True)
