"""Type in the paint trace: its true size, its lines, its fonts; and colours in the words of the inventory.

Heights are held against the font's own outlines as another library reads them.
"""

from __future__ import annotations

import hashlib
import math
import struct

import pikepdf
import pytest
from artwork import Book, mm
from opened import DEJAVU, needs
from pikepdf import Array, Dictionary, Name
from plated import GHOSTSCRIPT_CMYK, GHOSTSCRIPT_RGB
from traced import only, painted, traced

from preflight.inventory import text_items
from preflight.units import MM_PER_PT

pytestmark = needs(DEJAVU, GHOSTSCRIPT_CMYK, GHOSTSCRIPT_RGB)


def font_objects(folder, *names: str) -> list[int]:
    """Object numbers of fonts in the file just saved, by their names in the page's resources."""
    with pikepdf.open(folder / "0.pdf") as pdf:
        return [pdf.pages[0].Resources.Font["/" + name].objgen[0] for name in names]


def text_of(book: Book, folder):
    text = only(book, folder, "text").text
    assert text is not None
    return text


def page_with(content: str, **more) -> Book:
    book = Book()
    book.page(content, resources={"F": book.embedded_font(DEJAVU), "H": book.base_font()}, **more)
    return book


# --- size ---


@pytest.mark.parametrize(
    ("content", "size"),
    [
        ("BT /F 12 Tf 20 20 Td (Moss) Tj ET", 12.0),
        ("BT /F 12 Tf 0.5 0 0 0.5 20 20 Tm (Moss) Tj ET", 6.0),
        ("q 0.5 0 0 0.5 0 0 cm BT /F 1 Tf 10 0 0 10 20 20 Tm (Moss) Tj ET Q", 5.0),
        ("BT /F 12 Tf 0.866 0.5 -0.5 0.866 60 20 Tm (Moss) Tj ET", 12.0),  # turned by 30 degrees
        ("BT /F 10 Tf 80 Tz 20 20 Td (Moss) Tj ET", 8.0),  # condensed to 80 %: the smaller axis
        ("BT /F 10 Tf 1 0 0.3 1 20 20 Tm (Moss) Tj ET", 10.0),  # leaning, as high as ever
        ("BT /F 10 Tf 1 0 0 0.4 20 20 Tm (Moss) Tj ET", 4.0),
        ("BT /F 10 Tf -1 0 0 -1 90 90 Tm (Moss) Tj ET", 10.0),
    ],
)
def test_size_after_every_matrix(content, size, tmp_path) -> None:
    assert text_of(page_with(content), tmp_path).size_pt == pytest.approx(size, rel=1e-3)


def test_the_user_unit_enlarges_type(tmp_path) -> None:
    assert text_of(page_with("BT /F 5 Tf 20 20 Td (Moss) Tj ET", UserUnit=2), tmp_path).size_pt == pytest.approx(10.0)


@pytest.mark.parametrize("shown", ["Hx", "M", "12"])
def test_heights_of_x_and_h(shown, tmp_path) -> None:
    """As fontTools reads the outlines, also where neither letter is shown."""
    fonttools = pytest.importorskip("fontTools.ttLib")
    from fontTools.pens.boundsPen import BoundsPen

    font = fonttools.TTFont(DEJAVU)
    glyphs, names = font.getGlyphSet(), font.getBestCmap()

    def height(letter: str) -> float:
        pen = BoundsPen(glyphs)
        glyphs[names[ord(letter)]].draw(pen)
        return pen.bounds[3] / font["head"].unitsPerEm

    text = text_of(page_with(f"BT /F 20 Tf 20 20 Td ({shown}) Tj ET"), tmp_path)
    assert text.x_height_mm == pytest.approx(20 * height("x") * MM_PER_PT, rel=2e-3)
    assert text.cap_height_mm == pytest.approx(20 * height("H") * MM_PER_PT, rel=2e-3)
    # The stem of the l of DejaVu Sans is 184 of 2048 units wide.
    assert text.stem_pt == pytest.approx(20 * 184 / 2048, rel=0.03)


def test_the_box_holds_the_ink_of_the_letters(tmp_path) -> None:
    """One H of 100 pt: 1493 units high, from 201 to 1339 of 2048 across."""
    thing = only(page_with("BT /F 100 Tf 0 0 Td (H ) Tj ET"), tmp_path, "text")
    x0, y0, x1, y1 = thing.box_mm
    units = 100 * MM_PER_PT / 2048
    assert (x0, x1) == (pytest.approx(201 * units, abs=0.02), pytest.approx(1339 * units, abs=0.02))
    assert (y0, y1) == (pytest.approx(80 - 1493 * units, abs=0.02), pytest.approx(80, abs=0.02))


# --- lines ---


def test_lines_and_columns_are_told_apart(tmp_path) -> None:
    content = "BT /F 9 Tf 12 TL 20 150 Td (one line) Tj T* (two words) Tj T* (three) Tj 120 0 Td (a column) Tj ET"
    texts = [thing.text for thing in painted(page_with(content), tmp_path, "text")]
    assert [text.glyphs for text in texts] == [8, 9, 5, 8]
    assert [text.inked_glyphs for text in texts] == [7, 8, 5, 7]


def test_a_line_that_runs_at_a_slant_is_one(tmp_path) -> None:
    content = "BT /F 9 Tf 0.9 0.43 -0.43 0.9 20 20 Tm (all on one line) Tj ET"
    assert text_of(page_with(content), tmp_path).glyphs == 15


def test_spaces_leave_no_mark(tmp_path) -> None:
    thing = only(page_with("BT /F 9 Tf 20 20 Td (   ) Tj ET"), tmp_path, "text")
    assert (thing.text.glyphs, thing.text.inked_glyphs, thing.is_visible) == (3, 0, False)


# --- how it is shown ---


def test_render_modes(tmp_path) -> None:
    """ISO 32000-2, Table 104: 0 fill, 1 stroke, 2 both, 3 nothing, 7 clip."""
    kinds = {0: ["text"], 1: ["text-stroke"], 2: ["text", "text-stroke"], 3: [], 7: []}
    for mode, expected in kinds.items():
        book = page_with(f"0.2 w BT {mode} Tr /F 20 Tf 20 20 Td (Moss) Tj ET")
        things = [thing for thing in painted(book, tmp_path) if thing.is_visible]
        assert [thing.kind for thing in things] == expected, mode
        if mode == 1:
            assert things[0].stroke.width_pt == pytest.approx(0.2)


def test_letters_that_cut_out_something_are_seen(tmp_path) -> None:
    """Mode 7 with a picture shown through it, and text filled with a pattern: the letters are on the plate, their font counts."""
    clipped = page_with("q BT 7 Tr /F 60 Tf 20 20 Td (M) Tj ET 0 1 0 0 k 0 0 200 100 re f Q")
    assert [thing.kind for thing in painted(clipped, tmp_path) if thing.is_visible] == ["fill", "text"]
    book = Book()
    tile = book.tiling("0 1 0 0 k 0 0 5 5 re f", cell=(8, 8))
    book.page(
        "/Pattern cs /T scn BT /F 60 Tf 20 20 Td (M) Tj ET", resources={"T": tile, "F": book.embedded_font(DEJAVU)}
    )
    assert {thing.kind for thing in painted(book, tmp_path) if thing.is_visible} == {"fill", "text"}


# --- fonts ---


def test_which_font_of_the_file_it_is(tmp_path) -> None:
    book = Book()
    font = book.embedded_font(DEJAVU)
    form = book.form("BT /Inner 9 Tf 20 60 Td (b) Tj ET", resources={"Inner": book.base_font("Courier")})
    book.page(
        "BT /F 9 Tf 20 20 Td (a) Tj /H 9 Tf (b) Tj ET /Form Do",
        resources={"F": font, "H": book.pdf.make_indirect(book.base_font()), "Form": form},
    )
    one, two, three = [thing.text for thing in painted(book, tmp_path, "text")]
    assert (one.embedded, one.font_object) == (True, *font_objects(tmp_path, "F"))
    assert one.font == str(font.BaseFont)[1:]
    assert (two.font, two.embedded) == ("Helvetica", False)
    assert (three.font, three.embedded, three.font_object) == ("Courier", False, None)


def test_long_names_are_whole(tmp_path) -> None:
    """The engine keeps 31 bytes of a name."""
    book = Book()
    name = "ABCDEF+FernhollowBotanicGardenDisplay-SemiBoldCondensed"
    font = book.pdf.make_indirect(book.base_font(name))
    book.page("BT /F 9 Tf 20 20 Td (a) Tj ET", resources={"F": font})
    text = text_of(book, tmp_path)
    assert (text.font, text.font_object) == (name, *font_objects(tmp_path, "F"))


def test_two_fonts_of_one_name(tmp_path) -> None:
    book = Book()
    font = book.embedded_font(DEJAVU)
    bare = book.pdf.make_indirect(book.base_font(str(font.BaseFont)[1:]))
    book.page("BT /A 9 Tf 20 20 Td (a) Tj /B 9 Tf (b) Tj ET", resources={"A": font, "B": bare})
    found = [(thing.text.font_object, thing.text.embedded) for thing in painted(book, tmp_path, "text")]
    embedded, not_embedded = font_objects(tmp_path, "A", "B")
    assert found == [(embedded, True), (not_embedded, False)]


def composite(book: Book, shown: str) -> tuple:
    """DejaVu Sans as a composite font with glyph numbers for codes, and codes for some letters."""
    from fontTools.ttLib import TTFont

    names = TTFont(DEJAVU)
    order, letters = names.getReverseGlyphMap(), names.getBestCmap()
    simple = book.embedded_font(DEJAVU)
    descendant = Dictionary(
        Type=Name.Font, Subtype=Name.CIDFontType2, BaseFont=simple.BaseFont, FontDescriptor=simple.FontDescriptor,
        CIDSystemInfo=Dictionary(Registry=pikepdf.String("Adobe"), Ordering=pikepdf.String("Identity"), Supplement=0),
        CIDToGIDMap=Name.Identity, DW=600,
    )  # fmt: skip
    font = Dictionary(
        Type=Name.Font, Subtype=Name.Type0, BaseFont=simple.BaseFont, Encoding=Name("/Identity-H"),
        DescendantFonts=Array([book.pdf.make_indirect(descendant)]),
    )  # fmt: skip
    codes = "".join(f"{order[letters[ord(letter)]]:04X}" for letter in shown)
    return book.pdf.make_indirect(font), codes


def test_glyphs_that_are_missing(tmp_path) -> None:
    pytest.importorskip("fontTools.ttLib")
    book = Book()
    font, codes = composite(book, "Moss")
    book.page(f"BT /F 20 Tf 20 20 Td <{codes}0000> Tj ET", resources={"F": font})
    text = text_of(book, tmp_path)
    assert (text.glyphs, text.missing_glyphs, text.embedded) == (5, 1, True)


# --- letters that are drawings ---


def test_a_type_3_font_of_bitmaps(tmp_path) -> None:
    book = Book()
    stencil = book.image(8, 8, bits=1, ImageMask=True, data=bytes([0xAA, 0x55] * 4))
    font = book.type3_font(
        {"a": "1000 0 0 0 750 750 d1 500 0 0 500 0 0 cm /M Do", "b": "1000 0 d0 1 0 0 rg 0 0 500 500 re f"},
        resources={"M": stencil},
    )
    book.page("0 1 0 0 k BT /T 20 Tf 20 20 Td (aa) Tj 0 -30 Td (b) Tj ET", resources={"T": font})
    things = painted(book, tmp_path)
    bitmaps, drawn = [thing for thing in things if thing.text]
    # 8 px over half of 20 pt: 57.6 ppi
    assert bitmaps.text.bitmap_ppi == pytest.approx(57.6, abs=0.1)
    assert (bitmaps.text.type3, bitmaps.text.embedded) == (True, True)
    assert [bitmaps.text.font_object] == font_objects(tmp_path, "T")
    assert bitmaps.colour.values == (0.0, 1.0, 0.0, 0.0)  # d1: the text's own
    assert drawn.text.bitmap_ppi is None
    assert drawn.colour.family == "rgb"  # d0: the glyph's own
    parts = [thing for thing in things if thing.image]
    assert [part.inside for part in parts] == [("type3",), ("type3",)]
    assert {part.colour.values for part in parts} == {(0.0, 1.0, 0.0, 0.0)}
    assert parts[1].box_mm.x0 - parts[0].box_mm.x0 == pytest.approx(20 * MM_PER_PT, abs=0.001)


def test_invisible_text_in_a_type_3_font(tmp_path) -> None:
    book = Book()
    font = book.type3_font({"a": "1000 0 0 0 750 750 d1 0 0 500 500 re f 20 w 0 0 m 500 500 l S"})
    book.page(f"0 g {mm(60)} 20 20 20 re f BT 3 Tr /T 20 Tf 20 20 Td (aa) Tj ET", resources={"T": font})
    assert [thing.kind for thing in painted(book, tmp_path)] == ["fill"]


# --- colour ---


def spaces(book: Book) -> dict:
    ink = book.spot("Fern Green")
    lab = Array([Name.Lab, Dictionary(WhitePoint=Array([0.9642, 1, 0.8249]), Range=Array([-100, 100, -100, 100]))])
    white = Dictionary(WhitePoint=Array([0.9505, 1, 1.089]))
    return {
        "Spot": ink, "All": book.spot("All"), "None": book.spot("None"), "Two": book.device_n(["Cyan", "Gold"]),
        "Lab": lab, "CalRGB": Array([Name.CalRGB, white]), "CalGray": Array([Name.CalGray, white]),
        "Table": Array([Name.Indexed, ink, 1, pikepdf.String(b"\x00\xff")]),
    }  # fmt: skip


@pytest.mark.parametrize(
    ("set_colour", "family", "inks", "tints"),
    [
        ("0.25 g", "gray", ("Black",), {"Black": 75.0}),
        ("1 0 0.5 rg", "rgb", (), None),
        ("0.1 0 1 0 k", "cmyk", ("Cyan", "Magenta", "Yellow", "Black"), {"Cyan": 10.0, "Yellow": 100.0}),
        ("/Spot cs 0.5 scn", "separation", ("Fern Green",), {"Fern Green": 50.0}),
        ("/All cs 1 scn", "separation", ("All",), {"All": 100.0}),
        ("/None cs 1 scn", "none", ("None",), {"None": 100.0}),
        ("/Two cs 0.3 0.4 scn", "device-n", ("Cyan", "Gold"), {"Cyan": 30.0, "Gold": 40.0}),
        ("/Lab cs 50 20 30 scn", "lab", (), None),
        ("/CalRGB cs 1 0 1 scn", "cal-rgb", (), None),
        ("/CalGray cs 0.3 scn", "cal-gray", ("Black",), {"Black": 70.0}),
    ],
)
def test_colour_spaces(set_colour, family, inks, tints, tmp_path) -> None:
    book = Book()
    book.page(f"{set_colour} 0 0 50 50 re f", resources=spaces(book))
    colour = only(book, tmp_path, "fill").colour
    assert (colour.family, colour.inks) == (family, inks)
    found = colour.tints_percent()
    assert found == (None if tints is None else pytest.approx(tints, abs=0.01))


def test_an_indexed_picture_has_the_family_of_its_base(tmp_path) -> None:
    book = Book()
    table = spaces(book)["Table"]
    book.page("q 50 0 0 50 0 0 cm /P Do Q", resources={"P": book.image(8, 8, space=table, data=bytes([0, 1] * 32))})
    colour = only(book, tmp_path, "image").colour
    assert (colour.family, colour.indexed, colour.inks) == ("separation", True, ("Fern Green",))


@pytest.mark.parametrize(
    ("path", "parts", "family"), [(GHOSTSCRIPT_CMYK, 4, "icc-cmyk"), (GHOSTSCRIPT_RGB, 3, "icc-rgb")]
)
def test_profiles_by_their_sum(path, parts, family, tmp_path) -> None:
    book = Book()
    book.page(f"/P cs {'0.5 ' * parts} scn 0 0 50 50 re f", resources={"P": book.icc(path, parts)})
    colour = only(book, tmp_path, "fill").colour
    assert (colour.family, colour.profile_md5) == (family, hashlib.md5(path.read_bytes()).hexdigest())
    assert colour.profile_description.startswith("Artifex")


def test_default_spaces_stand_for_device_spaces(tmp_path) -> None:
    """ISO 32000-2, 8.6.5.6."""
    book = Book()
    book.page(
        "0 0 0 1 k 0 0 50 50 re f 1 0 0 rg 60 0 20 20 re f",
        resources={"DefaultCMYK": book.icc(GHOSTSCRIPT_CMYK, 4)},
    )
    one, other = painted(book, tmp_path, "fill")
    assert (one.colour.family, one.colour.values) == ("icc-cmyk", (0.0, 0.0, 0.0, 1.0))
    assert other.colour.family == "rgb"


def test_an_output_intent_changes_no_colour(tmp_path) -> None:
    book = Book()
    book.page("0 0 0 1 k 0 0 50 50 re f")
    book.output_intent("FOGRA39", GHOSTSCRIPT_CMYK)
    assert only(book, tmp_path, "fill").colour.family == "cmyk"


def test_overprint_as_the_graphics_state_has_it(tmp_path) -> None:
    book = Book()
    states = {"On": book.state(OP=True, op=True, OPM=1), "Fill": book.state(OP=False, op=True, OPM=0)}
    book.page("/On gs 0 0 0 1 k 0 0 9 9 re B /Fill gs 20 0 9 9 re B", resources=states)
    found = [(thing.kind, thing.overprint, thing.overprint_mode) for thing in painted(book, tmp_path)]
    assert found == [("fill", True, 1), ("stroke", True, 1), ("fill", True, 0), ("stroke", False, 0)]


def test_names_that_are_no_text_do_no_harm(tmp_path) -> None:
    book = Book()
    odd = book.spot("x")
    odd[1] = Name("/A#20B#ff#fe#0a<b>")
    book.page(
        "/S cs 1 scn 0 0 9 9 re f /OC /L BDC 20 0 9 9 re f EMC", resources={"S": odd, "L": book.layer("\n<i>\x00")}
    )
    trace = traced(book, tmp_path)
    assert len(trace.painted) == 2
    assert trace.painted[0].colour.family == "separation"


def test_shadings_have_the_space_they_are_made_in(tmp_path) -> None:
    book = Book()
    function = Dictionary(FunctionType=2, Domain=Array([0, 1]), C0=Array([0, 0, 0]), C1=Array([1, 0, 0]), N=1)
    shading = Dictionary(ShadingType=2, ColorSpace=Name.DeviceRGB, Coords=Array([0, 0, 100, 0]), Function=function)
    book.page("q 10 10 50 30 re W n /S sh Q", resources={"S": shading})
    thing = only(book, tmp_path, "shading")
    assert thing.colour.family == "rgb"
    assert thing.visible_mm.width == pytest.approx(50 * MM_PER_PT, abs=0.01)
    assert math.isclose(thing.visible_mm.height, 30 * MM_PER_PT, abs_tol=0.01)


# --- read in one piece ---

LINES = "BT /F 12 Tf 20 80 Td (Moss and fern) Tj 0 -16 Td (in two lines, ffi) Tj ET BT /H 9 Tf 20 20 Td [(W) 200 (A) -4000 (V)] TJ ET"


def test_glyphs_are_read_in_one_piece(tmp_path, monkeypatch) -> None:
    """Here the engine lays glyphs down as expected: asked one by one is the first text only, once to compare."""
    asked = []
    one_by_one = text_items._asked
    monkeypatch.setattr(text_items, "_asked", lambda *how: asked.append(how) or one_by_one(*how))
    assert len(painted(page_with(LINES), tmp_path, "text")) >= 3
    assert len(asked) == 1


@pytest.mark.parametrize("layout", ["=ff4xi4xi", "=8xffii", "=ffii8x"])
def test_glyphs_are_asked_one_by_one_where_the_engine_lays_them_down_otherwise(layout, tmp_path, monkeypatch) -> None:
    as_ever = painted(page_with(LINES), tmp_path, "text")
    monkeypatch.setattr(text_items, "_LAYOUT", struct.Struct(layout))
    assert painted(page_with(LINES), tmp_path, "text") == as_ever
