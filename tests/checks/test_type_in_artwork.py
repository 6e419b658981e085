"""Small type found in PDFs at the size it prints; sizes, inks and heights are those the artwork was made with."""

from __future__ import annotations

from pathlib import Path

import pytest
from artwork import Book, mm, rectangle
from fontTools.fontBuilder import FontBuilder
from fontTools.pens.ttGlyphPen import TTGlyphPen
from pikepdf import Array, Dictionary, Name
from whole import found_in, job_for, report_of

from preflight.findings import Finding


def words(size: float, colour: str = "0 0 0 1 k", *, x_mm: float = 20, y_mm: float = 40, say: str = "Hamburg") -> str:
    return f"{colour} BT /F {size} Tf {mm(x_mm)} {mm(y_mm)} Td ({say}) Tj ET\n"


def types(book: Book, folder, **order) -> list[Finding]:
    return found_in(book, folder, "type", **order)


# --- effective size --------------------------------------------------------------------------------------------------


def plain(book, colour):
    return words(3.5, colour), {"F": book.base_font()}


def by_the_text_matrix(book, colour):
    return f"{colour} BT /F 1 Tf 3.5 0 0 3.5 {mm(20)} {mm(40)} Tm (Hamburg) Tj ET", {"F": book.base_font()}


def by_the_page(book, colour):
    return f"q 0.35 0 0 0.35 0 0 cm {words(10, colour, x_mm=60, y_mm=100)} Q", {"F": book.base_font()}


def turned(book, colour):
    return f"q 0 1 -1 0 {mm(60)} 0 cm {words(3.5, colour)} Q", {"F": book.base_font()}


def squeezed(book, colour):
    # 10 pt wide, 3.5 pt high: the smaller axis counts.
    return f"q 1 0 0 0.35 0 0 cm {words(10, colour, y_mm=100)} Q", {"F": book.base_font()}


def in_a_form(book, colour):
    form = book.form(words(7, colour), resources={"F": book.base_font()}, Matrix=Array([0.5, 0, 0, 0.5, 0, 0]))
    return "/X Do", {"X": form}


def in_a_group(book, colour):
    group = Dictionary(S=Name.Transparency, CS=Name.DeviceCMYK, K=True)
    return "/X Do", {"X": book.form(words(3.5, colour), resources={"F": book.base_font()}, Group=group)}


def in_a_pattern(book, colour):
    cell = book.tiling(words(3.5, colour), cell=(mm(200), mm(200)), resources={"F": book.base_font()})
    return f"/Pattern cs /P scn {rectangle(0, 0, 100, 80)} f", {"P": cell}


def in_a_type3_font(book, colour):
    font = book.type3_font({"H": "700 0 0 0 700 700 d1 0 0 600 700 re f"})
    return words(3.5, colour, say="HHH"), {"F": font}


DISGUISES = [
    plain,
    by_the_text_matrix,
    by_the_page,
    turned,
    squeezed,
    in_a_form,
    in_a_group,
    in_a_pattern,
    in_a_type3_font,
]


@pytest.mark.parametrize("disguise", DISGUISES)
def test_the_size_that_prints(tmp_path, disguise):
    book = Book()
    content, resources = disguise(book, "0 0 0 1 k")
    book.page(content, resources=resources)
    (finding,) = types(book, tmp_path)
    assert (finding.id, finding.severity, finding.limit) == ("type.small", "ask", 4.0)
    assert finding.measured == pytest.approx(3.5, rel=0.02)


@pytest.mark.parametrize("disguise", DISGUISES)
def test_the_inks_that_print(tmp_path, disguise):
    book = Book()
    content, resources = disguise(book, "0.8 0 1 0 k")
    book.page(content, resources=resources)
    (finding,) = types(book, tmp_path)
    assert (finding.id, finding.limit) == ("type.small-many-inks", 8.0)
    assert set(finding.details["inks"]) == {"Cyan", "Yellow"}


def test_a_user_unit_counts(tmp_path):
    book = Book()
    book.page(words(3, "0 0 0 1 k"), resources={"F": book.base_font()}, UserUnit=2)
    assert types(book, tmp_path) == []


# --- inks ------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("colour", "kind"),
    [
        ("0 0 0 rg", "small-many-inks"),
        ("0.9 0.1 0.1 rg", "small-many-inks"),
        ("/N cs 1 0.5 scn", "small-many-inks"),
        ("/S cs 1 scn", None),
        ("0 g", None),
        ("0 0 0 0.5 k", None),
    ],
)
def test_inks_of_7_pt_type(tmp_path, colour, kind):
    book = Book()
    resources = {"F": book.base_font(), "N": book.device_n(["Black", "Fern Green"]), "S": book.spot("Fern Green")}
    book.page(words(7, colour), resources=resources)
    assert [finding.id for finding in types(book, tmp_path)] == ([f"type.{kind}"] if kind else [])


def test_black_that_overprints_a_picture_is_one_ink(tmp_path):
    book = Book()
    picture = f"q {mm(60)} 0 0 {mm(40)} {mm(10)} {mm(20)} cm /Im Do Q"
    resources = {"F": book.base_font(), "Im": book.image(60, 40), "G": book.state(OP=True, op=True, OPM=1)}
    book.page(f"{picture} /G gs {words(7)}", resources=resources)
    assert types(book, tmp_path) == []


# --- reversed --------------------------------------------------------------------------------------------------------

GROUND = rectangle(10, 30, 60, 20)


@pytest.mark.parametrize(
    ("ground", "white", "size", "limit"),
    [
        (f"1 0 0 0 k {GROUND} f", "0 0 0 0 k", 5, 6.0),
        (f"1 0.5 0 0 k {GROUND} f", "0 0 0 0 k", 7, 8.0),
        (f"1 0.5 0 0 k {GROUND} f", "1 g", 7, 8.0),
        (f"1 0.5 0 0 k {GROUND} f", "1 1 1 rg", 7, 8.0),
        (f"/S cs 1 scn {GROUND} f", "0 0 0 0 k", 5, 6.0),
        (f"/S cs 1 scn {GROUND} f", "/S cs 0 scn", 5, 6.0),
        (f"q {mm(60)} 0 0 {mm(20)} {mm(10)} {mm(30)} cm /Im Do Q", "0 0 0 0 k", 7, 8.0),
        (f"q {GROUND} W n /Sh sh Q", "0 0 0 0 k", 7, 8.0),
    ],
    ids=["one ink", "two inks", "gray white", "RGB white", "spot", "spot at 0", "picture", "shading"],
)
def test_white_type_out_of_ink(tmp_path, ground, white, size, limit):
    book = Book()
    shading = Dictionary(
        ShadingType=2,
        ColorSpace=Name.DeviceCMYK,
        Coords=Array([0, 0, mm(100), 0]),
        Extend=Array([True, True]),
        Function=Dictionary(
            FunctionType=2, Domain=Array([0, 1]), C0=Array([0.9, 0.6, 0, 0]), C1=Array([0.5, 0.9, 0, 0]), N=1
        ),
    )
    data = bytes([200, 120, 0, 0]) * 60 * 20
    resources = {
        "F": book.base_font(),
        "S": book.spot("Fern Green"),
        "Im": book.image(60, 20, data=data),
        "Sh": shading,
    }
    book.page(f"{ground} {words(size, white)}", resources=resources)
    (finding,) = types(book, tmp_path)
    assert (finding.id, finding.measured, finding.limit) == ("type.small-reversed", size, limit)


@pytest.mark.parametrize(
    "content",
    [
        words(4, "0 0 0 0 k"),
        f"1 0.5 0 0 k {rectangle(10, 60, 60, 10)} f {words(4, '0 0 0 0 k')}",
        f"1 0.5 0 0 k {GROUND} f 0 0 0 0 k {GROUND} f {words(4, '0 0 0 0 k')}",
        f"1 0.5 0 0 k {GROUND} f {words(8, '0 0 0 0 k')}",
        f"q {rectangle(0, 0, 5, 5)} W n 1 0.5 0 0 k {GROUND} f Q {words(4, '0 0 0 0 k')}",
        f"{words(4, '0 0 0 0 k')} 1 0.5 0 0 k {GROUND} f",
    ],
    ids=["on paper", "ground elsewhere", "white panel", "at the limit", "ground clipped away", "ground comes later"],
)
def test_white_type_left_alone(tmp_path, content):
    book = Book()
    book.page(content, resources={"F": book.base_font()})
    assert types(book, tmp_path) == []


# --- food labels -----------------------------------------------------------------------------------------------------

X_HEIGHT = 0.5


@pytest.fixture(scope="module")
def label_font(tmp_path_factory) -> Path:
    """A font whose small letters are exactly half its size high."""
    names = [".notdef", "space", "x", "H"]
    heights = {"x": 500, "H": 700}
    glyphs = {}
    for name in names:
        pen = TTGlyphPen(None)
        if name in heights:
            pen.moveTo((50, 0))
            for point in ((50, heights[name]), (450, heights[name]), (450, 0)):
                pen.lineTo(point)
            pen.closePath()
        glyphs[name] = pen.glyph()
    built = FontBuilder(1000, isTTF=True)
    built.setupGlyphOrder(names)
    built.setupCharacterMap({32: "space", ord("x"): "x", ord("H"): "H"})
    built.setupGlyf(glyphs)
    built.setupHorizontalMetrics(dict.fromkeys(names, (500, 50)))
    built.setupHorizontalHeader(ascent=800, descent=-200)
    built.setupNameTable({"familyName": "Label", "styleName": "Regular"})
    built.setupOS2(sxHeight=500, sCapHeight=700)
    built.setupPost()
    path = tmp_path_factory.mktemp("font") / "label.ttf"
    built.save(path)
    return path


def label(font: Path, size: float) -> Book:
    book = Book()
    book.page(words(size, say="xHx"), resources={"F": book.embedded_font(font)})
    return book


@pytest.mark.parametrize(("size", "surface", "limit"), [(6.0, None, 1.2), (4.5, 60.0, 0.9)])
def test_the_x_height_is_measured_from_the_outlines(tmp_path, label_font, size, surface, limit):
    (finding,) = types(label(label_font, size), tmp_path, food_label=True, label_surface_cm2=surface)
    assert (finding.id, finding.unit, finding.limit) == ("type.legal-minimum", "mm", limit)
    assert finding.measured == pytest.approx(size * X_HEIGHT * 25.4 / 72, rel=0.02)


@pytest.mark.parametrize(
    ("size", "order"),
    [
        (7.0, {"food_label": True}),  # 1.235 mm
        (6.0, {"food_label": True, "label_surface_cm2": 60.0}),
        (6.0, {"pages": 1}),
        (6.0, {}),
    ],
)
def test_labels_left_alone(tmp_path, label_font, size, order):
    assert types(label(label_font, size), tmp_path, **order) == []


def test_a_font_that_is_not_embedded_leaves_the_height_open(tmp_path):
    book = Book()
    book.page(words(6), resources={"F": book.base_font()})
    report = report_of(book.save(tmp_path / "label.pdf"), job_for(food_label=True))
    assert [answer.page for answer in report.unchecked if answer.check == "type"] == [1]
