"""Lines by their thickness as drawn: worked examples, every disguise a line can take, and lines that must be left alone."""

from __future__ import annotations

import math

import pytest
import twins
from artwork import Book, mm, rectangle
from opened import DEJAVU, needs
from whole import found_in
from work import calls_made_by

from preflight.inventory.model import Colour, Shape
from preflight.inventory.paint_lines import settle_lines
from preflight.inventory.paint_marks import Mark
from preflight.inventory.regions import Region
from preflight.units import Box

PT_PER_MM = 72.0 / 25.4


def ids_of(book: Book, folder, **order) -> list[tuple[str, float]]:
    return [(each.id, each.measured) for each in found_in(book, folder, "line", **order)]


def page_of(content: str, **more) -> Book:
    book = Book()
    book.page(content, **more)
    return book


def across(weight: str, more: str = "0 0 0 1 K") -> str:
    """A level line of 40 mm at the middle of the page."""
    return f"{more} {weight} w {mm(20)} {mm(40)} m {mm(60)} {mm(40)} l S"


# --- the ladder ---


@pytest.mark.parametrize(
    ("weight", "colour", "expected"),
    [
        ("0", "0 0 0 1 K", ("line.hairline", 0.0)),  # width 0 is one device dot (ISO 32000-2, 8.4.3.2)
        ("0.1", "0 0 0 1 K", ("line.hairline", 0.1)),
        ("0.194", "0 0 0 1 K", ("line.hairline", 0.194)),
        ("0.2", "0 0 0 1 K", ("line.thin", 0.2)),  # exactly at the limit it passes as hairline
        ("0.24", "0 G", ("line.thin", 0.24)),
        ("0.25", "0 0 0 1 K", None),
        ("0.4", "0 0 0 1 K", None),
        ("0.4", "1 1 0 0 K", ("line.thin-many-inks", 0.4)),
        ("0.4", "0 0 0 0.4 K", ("line.thin-many-inks", 0.4)),  # a tint
        ("0.4", "0.5 G", ("line.thin-many-inks", 0.4)),
        ("0.4", "1 0 0 RG", ("line.thin-many-inks", 0.4)),  # separated, it prints from several inks
        ("0.5", "1 1 0 0 K", None),
        ("0.22", "1 1 0 0 K", ("line.thin-many-inks", 0.22)),
        ("0.1", "1 1 0 0 K", ("line.hairline", 0.1)),
    ],
)
def test_a_line_gets_one_answer_by_its_thickness_and_its_inks(weight, colour, expected, tmp_path) -> None:
    assert ids_of(page_of(across(weight, colour)), tmp_path) == ([expected] if expected else [])


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (across("0.1"), "A line of 0.10 pt"),
        (f"0 0 0 1 k {rectangle(20, 40, 40, 0.05)} f", "A filled shape of 0.14 pt"),
        (f"0 0 0 1 K 0.1 w BT 1 Tr /F 40 Tf {mm(20)} {mm(40)} Td (I) Tj ET", "An outline around type of 0.10 pt"),
    ],
    ids=["line", "filled", "type"],
)
def test_what_is_thin_is_named(content, words, tmp_path) -> None:
    book = Book()
    book.page(content, resources={"F": book.base_font("Helvetica")})
    assert {finding.message.partition(",")[0] for finding in found_in(book, tmp_path, "line")} == {words}


def test_a_line_in_a_spot_ink_is_a_line_of_one_ink(tmp_path) -> None:
    book = Book()
    book.page("/F CS 1 SCN " + across("0.4", ""), resources={"F": book.spot("Fern Green")})
    assert ids_of(book, tmp_path) == []
    book = Book()
    book.page("/F CS 0.5 SCN " + across("0.4", ""), resources={"F": book.spot("Fern Green")})
    assert ids_of(book, tmp_path) == [("line.thin-many-inks", 0.4)]


# --- thickness as drawn ---


def test_a_line_of_1_pt_under_a_scale_of_a_fifth_is_at_the_limit(tmp_path) -> None:
    # 1 x 0.2 = 0.2 pt = 0.0706 mm: passes as a hairline, which begins below it
    book = page_of(f"0 0 0 1 K 1 w 0.2 0 0 0.2 0 0 cm {mm(100)} {mm(200)} m {mm(300)} {mm(200)} l S")
    assert ids_of(book, tmp_path) == [("line.thin", pytest.approx(0.2, abs=0.001))]


@pytest.mark.parametrize(
    ("to", "expected"),
    [
        ((60, 20), 0.1),  # level under a scale of 2 by 0.1: 1 x 0.1
        ((20, 60), None),  # upright: 1 x 2
    ],
)
def test_an_uneven_scale_thins_level_and_upright_lines_differently(to, expected, tmp_path) -> None:
    x, y = mm(to[0]) / 2, mm(to[1]) / 0.1
    book = page_of(f"0 0 0 1 K 1 w 2 0 0 0.1 0 0 cm {mm(20) / 2} {mm(20) / 0.1} m {x} {y} l S")
    assert ids_of(book, tmp_path) == ([("line.hairline", pytest.approx(expected, abs=0.001))] if expected else [])


def test_a_slanting_line_under_an_uneven_scale(tmp_path) -> None:
    # w |det M| / |M d| with d = (1, 1) / sqrt 2, M = diag(2, 0.1): 1 x 0.2 x sqrt 2 / sqrt(4.01) = 0.1412
    book = page_of("0 0 0 1 K 1 w 2 0 0 0.1 50 50 cm 0 0 m 60 60 l S")
    assert ids_of(book, tmp_path) == [("line.hairline", pytest.approx(0.2 * math.sqrt(2) / math.sqrt(4.01), abs=0.001))]


def test_the_thinnest_side_of_a_frame_under_an_uneven_scale(tmp_path) -> None:
    book = page_of("0 0 0 1 K 1 w 2 0 0 0.1 50 50 cm 0 0 60 600 re S")
    assert ids_of(book, tmp_path) == [("line.hairline", pytest.approx(0.1, abs=0.001))]


def test_the_user_unit_counts(tmp_path) -> None:
    # 0.3 pt of 2/72 inch each: 0.6 pt
    assert ids_of(page_of("1 1 0 0 K 0.3 w 50 50 m 90 50 l S", UserUnit=2), tmp_path) == []
    assert ids_of(page_of("0 0 0 1 K 0.15 w 50 50 m 90 50 l S", UserUnit=1.5), tmp_path) == [("line.thin", 0.225)]


def test_a_dashed_hairline_is_a_hairline(tmp_path) -> None:
    assert ids_of(page_of("[2 1] 0 d " + across("0.1")), tmp_path) == [("line.hairline", 0.1)]


# --- filled shapes ---


@pytest.mark.parametrize("angle", [0, 30, 45, 77])
def test_a_filled_bar_is_a_line_at_any_angle(angle, tmp_path) -> None:
    c, s = math.cos(math.radians(angle)), math.sin(math.radians(angle))
    turn = f"{c:.6f} {s:.6f} {-s:.6f} {c:.6f} {mm(40)} {mm(20)} cm"
    book = page_of(f"0 0 0 1 k {turn} 0 0 {mm(40)} 0.15 re f")
    assert ids_of(book, tmp_path) == [("line.hairline", pytest.approx(0.15, abs=0.002))]


def test_a_filled_bar_thick_enough_is_none(tmp_path) -> None:
    assert ids_of(page_of(f"0 0 0 1 k {mm(20)} {mm(20)} {mm(40)} 0.3 re f"), tmp_path) == []


def test_a_shape_without_area_prints_as_a_row_of_dots(tmp_path) -> None:
    book = page_of(f"0 0 0 1 k {mm(20)} {mm(20)} m {mm(60)} {mm(30)} l h f")
    assert ids_of(book, tmp_path) == [("line.hairline", 0.0)]


def test_a_frame_drawn_as_an_area_between_two_rectangles(tmp_path) -> None:
    book = page_of("0 0 0 1 k 50 50 100 60 re 50.15 50.15 99.7 59.7 re f*")
    assert ids_of(book, tmp_path) == [("line.hairline", pytest.approx(0.15, abs=0.002))]


def ring(radius: float, *, turned: bool = False) -> str:
    """A circle from four curves, either way round."""
    k = 0.5523 * radius
    points = [
        (radius, 0), (radius, k), (k, radius), (0, radius), (-k, radius), (-radius, k), (-radius, 0),
        (-radius, -k), (-k, -radius), (0, -radius), (k, -radius), (radius, -k), (radius, 0),
    ]  # fmt: skip
    if turned:
        points.reverse()
    curves = " ".join(
        " ".join(f"{x:.4f} {y:.4f}" for x, y in points[start : start + 3]) + " c" for start in (1, 4, 7, 10)
    )
    return f"{points[0][0]:.4f} {points[0][1]:.4f} m {curves} h"


def test_a_ring_drawn_as_an_area(tmp_path) -> None:
    book = page_of(f"0 0 0 1 k 1 0 0 1 120 100 cm {ring(40)} {ring(39.8, turned=True)} f")
    assert ids_of(book, tmp_path) == [("line.thin", pytest.approx(0.2, abs=0.004))]


def test_a_thin_part_of_a_larger_shape_is_found(tmp_path) -> None:
    """An arrow: a shaft of 0.15 pt, 30 mm long, and a head."""
    shaft = f"{mm(20)} 100 m {mm(50)} 100 l {mm(50)} 96 l {mm(54)} 100.075 l {mm(50)} 104 l {mm(50)} 100.15 l {mm(20)} 100.15 l h f"
    assert ids_of(page_of(f"0 0 0 1 k {shaft}"), tmp_path) == [("line.hairline", pytest.approx(0.15, abs=0.002))]


# --- reversed ---


@pytest.mark.parametrize(("colour", "many"), [("0 0 0 0 K", True), ("1 G", True), ("1 1 1 RG", True)])
def test_a_line_of_paper_in_ink(colour, many, tmp_path) -> None:
    ground = f"0 0 0 1 k {rectangle(10, 30, 60, 20)} f "
    assert ids_of(page_of(ground + across("0.4", colour)), tmp_path) == [("line.thin-many-inks", 0.4)]
    assert ids_of(page_of(ground + across("0.6", colour)), tmp_path) == []
    assert ids_of(page_of(across("0.1", colour)), tmp_path) == []  # paper on paper


def test_a_line_of_paper_beside_ink_lies_on_paper(tmp_path) -> None:
    ground = f"0 0 0 1 k {rectangle(10, 41, 60, 20)} f "
    assert ids_of(page_of(ground + across("0.4", "1 G")), tmp_path) == []


def test_a_line_of_paper_over_ink_that_was_covered_by_paper(tmp_path) -> None:
    ground = f"0 0 0 1 k {rectangle(10, 30, 60, 20)} f 0 0 0 0 k {rectangle(10, 30, 60, 20)} f "
    assert ids_of(page_of(ground + across("0.4", "1 G")), tmp_path) == []


def test_a_line_of_paper_in_the_corner_that_a_round_clip_leaves_free(tmp_path) -> None:
    """The picture's box reaches under the line, its clip does not."""
    book = Book()
    clip = (
        f"q 1 0 0 1 {mm(40)} {mm(40)} cm {ring(mm(20))} W n {mm(40)} 0 0 {mm(40)} {-mm(20)} {-mm(20)} cm /Photo Do Q "
    )
    line = f"1 G 0.3 w {mm(21)} {mm(21)} m {mm(24)} {mm(21)} l S"
    book.page(clip + line, resources={"Photo": book.image(400, 400)})
    assert ids_of(book, tmp_path) == []


# --- left alone ---

LEFT_ALONE = {
    "a clipping path": f"0.05 w {rectangle(10, 10, 30, 0.02)} W n",
    "a rim around a fill of the same colour": f"0 0 0 1 k 0 0 0 1 K 0.1 w {rectangle(10, 10, 30, 20)} B",
    "a rim drawn apart": f"0 g {rectangle(10, 10, 30, 20)} f 0 G 0.1 w {rectangle(10, 10, 30, 20)} S",
    "a rim drawn first": f"0 G 0.1 w {rectangle(10, 10, 30, 20)} S 0 g {rectangle(10, 10, 30, 20)} f",
    "the rims of pieces": f"0 g {rectangle(10, 10, 30, 20)} {rectangle(50, 10, 30, 20)} f 0 G 0.1 w {rectangle(10, 10, 30, 20)} S "
    f"{rectangle(50, 10, 30, 20)} S",
    "the counter of a letter": "0 g 60 60 m 68 90 l 76 60 l h 67.95 63 m 68.1 63 l 68.1 80 l 67.95 80 l h f*",
    "the counter by direction": "0 g 60 60 m 68 90 l 76 60 l h 67.95 63 m 68.1 63 l 68.1 80 l 67.95 80 l h f",
    "a line without length": "0 G 0.05 w 60 60 m 60 60 l S",
    "a needle that tapers": f"0 g {mm(20)} 60 m {mm(30)} 60.4 l {mm(20)} 60.8 l h f",
    "slices of a blend": "".join(
        f"{step / 300:.4f} 0 0 0 k {50 + step * 0.15:.3f} 50 0.15 40 re f " for step in range(200)
    ),
    "text of any weight": "BT /F 3 Tf 60 60 Td (thin) Tj ET",
    "a path of moves": "0 G 0.05 w 60 60 m 80 80 m S",
}


@pytest.mark.parametrize("name", LEFT_ALONE)
def test_left_alone(name, tmp_path) -> None:
    book = Book()
    book.page(LEFT_ALONE[name], resources={"F": book.base_font()})
    assert ids_of(book, tmp_path) == []


#: A bow whose highest point lies in the middle of a curve, in 10 sizes.
BOWS = [f"60 60 m 60 {60 + 1.2 * size} {60 + size} {60 + 1.3 * size} {60 + size} 60 c h" for size in range(17, 170, 16)]


@pytest.mark.parametrize("painting", ["{0} B", "{0} f {0} S", "{0} S {0} f"])
def test_a_rim_around_a_curve(painting, tmp_path) -> None:
    """Curves are cut into finer chords to be filled than to be stroked."""
    alike, apart = Book(), Book()
    for bow in BOWS:
        alike.page("0 1 0 0 k 0 1 0 0 K 0.1 w " + painting.format(bow))
        apart.page("0 1 0 0 k 0 0 0 1 K 0.1 w " + painting.format(bow))
    assert ids_of(alike, tmp_path) == []
    told = {found.page for found in found_in(apart, tmp_path, "line")}
    # In another colour it is a line of its own, even half hidden under the fill.
    assert told == set(range(1, len(BOWS) + 1))


@pytest.mark.parametrize("ink", ["0 0 0 1", "0 0.6 0 0", "0.5 0.4 0.4 1"])
@pytest.mark.parametrize("line", ["0.1 w 80 80 m 140 110 l S", "80 80 50 0.1 re f"])
def test_a_line_on_a_ground_of_its_own_colour(line, ink, tmp_path) -> None:
    """It leaves no mark there; where it leaves that ground, or has another tint, it is a line."""

    def told(book: Book) -> list[str]:
        return [each for each, _ in ids_of(book, tmp_path)]

    start = f"{ink} k {ink} K"
    assert told(page_of(f"{start} {rectangle(15, 15, 60, 60)} f {line}")) == []
    assert told(page_of(f"{start} {rectangle(15, 15, 25, 60)} f {line}")) == ["line.hairline"]
    assert told(page_of(f"0 0 0 0.3 k {rectangle(15, 15, 60, 60)} f {start} {line}")) == ["line.hairline"]
    # What lies between is what it is seen on.
    between = f"0 0 0 0 k {rectangle(18, 18, 50, 50)} f"
    assert told(page_of(f"{start} {rectangle(15, 15, 60, 60)} f {between} {start} {line}")) == ["line.hairline"]


def turned(degrees: float, content: str) -> str:
    c, s = math.cos(math.radians(degrees)), math.sin(math.radians(degrees))
    return f"q {c:.5f} {s:.5f} {-s:.5f} {c:.5f} 150 150 cm {content} Q"


@pytest.mark.parametrize("degrees", [3, 30, 89.99, 90.01, 135, 200])
def test_slanted_slices_of_a_blend(degrees, tmp_path) -> None:
    steps = [f"{0.2 + step / 100} 0 0 0 k -40 {step * 0.15 - 4:.3f} 80 0.15 re f" for step in range(50)]
    assert ids_of(page_of(turned(degrees, " ".join(steps))), tmp_path) == []
    # With paper between them they are lines.
    apart = [f"1 0 0 0 k -40 {step * 0.4 - 4:.3f} 80 0.15 re f" for step in range(5)]
    assert {each for each, _ in ids_of(page_of(turned(degrees, " ".join(apart))), tmp_path)} == {"line.hairline"}


def test_slanted_slices_inside_a_circle(tmp_path) -> None:
    """Strips of unequal length, their corners rounded to a hundredth of a point."""
    strips = []
    for step in range(100):
        low, high = step * 0.18 - 9, step * 0.18 - 8.82
        corners = [(sign * math.sqrt(400 - y * y), y) for sign, y in ((-1, low), (1, low), (1, high), (-1, high))]
        slanted = [(150 + 0.8 * x - 0.6 * y, 150 + 0.6 * x + 0.8 * y) for x, y in corners]
        path = " l ".join(f"{x:.2f} {y:.2f}" for x, y in slanted).replace(" l ", " m ", 1)
        strips.append(f"0 {0.3 + step / 200} 0 0 k {path} l h f")
    assert ids_of(page_of(" ".join(strips)), tmp_path) == []


@pytest.mark.parametrize("second", ["0 1 0 0 k 0 0 60 0.15 re f", "1 0 0 0 k 0 0.15 60 0.15 re f"])
def test_slanted_lines_that_are_no_slices(second, tmp_path) -> None:
    """Twice the same one; two that touch in different colours."""
    book = page_of(turned(30, f"0 1 0 0 k 0 0 60 0.15 re f {second}"))
    assert {each for each, _ in ids_of(book, tmp_path)} == {"line.hairline"}


def test_many_slanted_lines_in_one_place_take_no_square_of_the_work() -> None:
    box = Box(0.0, 0.0, 20.0, 10.0)
    strip = [(0.0, 0.0), (20.0, 9.95), (20.0, 10.0), (0.0, 0.05)]

    def calls(number: int) -> int:
        shape = Shape(thickness_pt=0.1, area_mm2=1.0)
        marks = [
            Mark("fill", box, Colour("cmyk"), visible=box, shape=shape, area=Region(box, [strip]))
            for _ in range(number)
        ]
        return calls_made_by(lambda: settle_lines(marks))

    assert calls(2000) < 3 * calls(1000)


def test_rims_of_other_pieces_make_a_thin_one_no_fatter(tmp_path) -> None:
    pieces = [rectangle(10, 10, 30, 20), rectangle(50, 10, 30, 20)]
    book = page_of(f"0 g {' '.join(pieces)} {rectangle(10, 40, 30, 0.05)} f 0 G 0.2 w {pieces[0]} S {pieces[1]} S")
    assert [each for each, _ in ids_of(book, tmp_path)] == ["line.hairline"]


def test_a_rim_in_another_colour_is_a_line(tmp_path) -> None:
    book = page_of(f"0 0 0 0.1 k 0 0 0 1 K 0.1 w {rectangle(10, 10, 30, 20)} B")
    assert ids_of(book, tmp_path) == [("line.hairline", 0.1)]


@pytest.mark.parametrize(
    ("clip", "weight", "expected"),
    [
        (rectangle(20, 20, 40, 40), "0.38", [("line.hairline", 0.19)]),  # the outer half is cut off
        (rectangle(20, 20, 40, 40), "0.6", []),
        (rectangle(19, 19, 42, 42), "0.38", []),  # another path: all of it shows
    ],
)
def test_a_line_along_its_own_clip_shows_half(clip, weight, expected, tmp_path) -> None:
    outlined = f"q {clip} W n 0 0 0 1 K {weight} w {rectangle(20, 20, 40, 40)} S Q"
    assert ids_of(page_of(outlined), tmp_path) == expected


@needs(DEJAVU)
@pytest.mark.parametrize(
    ("mode", "expected"),
    [
        ("1 Tr 0.1 w 0 0 0 1 K", [("line.hairline", 0.1)]),
        ("1 Tr 0.3 w 0 0 0 1 K", []),
        ("2 Tr 0.1 w 0 1 0 0 K 0 0 0 1 k", [("line.hairline", 0.1)]),
        ("2 Tr 0.1 w 0 0 0 1 K 0 0 0 1 k", []),  # a rim that only makes the letters fatter
        ("q 1 0 0 0.2 0 0 cm 1 Tr 0.5 w 0 0 0 1 K", [("line.hairline", 0.1)]),  # 0.5 pt pressed to a fifth
    ],
)
def test_the_outline_around_type_is_a_line(mode, expected, tmp_path) -> None:
    book = Book()
    font = book.embedded_font(DEJAVU)
    book.page(f"{mode} BT /F 40 Tf {mm(20)} {mm(40)} Td (H) Tj ET", resources={"F": font})
    assert ids_of(book, tmp_path) == expected


def test_a_thin_bar_between_tinted_cells_is_a_line(tmp_path) -> None:
    """It touches its neighbours as a slice would, in another colour."""
    cells = "0.2 0 0 0 k 50 50 40 40 re f 90.15 50 40 40 re f 0 0 0 1 k 90 50 0.15 40 re f"
    assert ids_of(page_of(cells), tmp_path) == [("line.hairline", pytest.approx(0.15, abs=0.002))]


def test_a_finishing_line_prints_nothing(tmp_path) -> None:
    book = Book()
    book.page("/D CS 1 SCN " + across("0.1", ""), resources={"D": book.spot("Die cut")})
    assert ids_of(book, tmp_path) == []


def test_marks_in_the_registration_colour_in_the_bleed(tmp_path) -> None:
    def marked(x: float) -> Book:
        book = Book()
        every = book.spot("All", (1.0, 1.0, 1.0, 1.0))
        book.page(f"/A CS 1 SCN 0.25 w {mm(x)} {mm(-2.5)} m {mm(x)} {mm(-0.5)} l S", resources={"A": every})
        return book

    assert ids_of(marked(50), tmp_path) == []
    book = Book()
    book.page(across("0.25", "/A CS 1 SCN"), resources={"A": book.spot("All", (1.0, 1.0, 1.0, 1.0))})
    assert ids_of(book, tmp_path) == [("line.thin-many-inks", 0.25)]


# --- seen or not ---

CORNER = f"{mm(10)} {mm(12)} m {mm(30)} {mm(12)} l {mm(30)} {mm(16)} l S"
HAIRLINE = twins.Thing(f"0 0 0 1 K 0.1 w {CORNER}", (10, 10, 21, 8))
BAR = twins.Thing(f"0 0 0 1 k {mm(10)} {mm(12)} {mm(20)} 0.15 re f", (10, 10, 20, 5))
MIXED = twins.Thing(f"1 1 0 0 K 0.4 w {CORNER}", (10, 10, 21, 8))
REVERSED = twins.Thing(
    f"1 G 0.4 w {CORNER}",
    (10, 10, 21, 8),
    ground=f"0 0 0 1 k {rectangle(5, -20, 40, 60)} f",
)
THINGS = {
    "line.hairline": HAIRLINE,
    "line.hairline filled": BAR,
    "line.thin-many-inks": MIXED,
    "line.thin-many-inks reversed": REVERSED,
}


@pytest.mark.parametrize("name", THINGS)
@pytest.mark.parametrize("twin", twins.NESTED)
def test_found_however_it_is_drawn(name, twin, tmp_path) -> None:
    found = ids_of(twins.book(THINGS[name], twin), tmp_path)
    assert {identifier for identifier, _ in found} == {name.split()[0]}
    expected = 0.4 if "many" in name else 0.15 if "filled" in name else 0.1
    assert {round(measured, 2) for _, measured in found} == {expected}
    assert twins.leaves_mark(THINGS[name], twin, tmp_path)


@pytest.mark.parametrize("name", THINGS)
@pytest.mark.parametrize("twin", twins.HIDDEN)
def test_silent_where_nobody_sees_it(name, twin, tmp_path) -> None:
    assert ids_of(twins.book(THINGS[name], twin), tmp_path) == []
    if not (twin == "covered" and "reversed" in name):  # there the patches themselves hide the ground
        assert not twins.leaves_mark(THINGS[name], twin, tmp_path)
