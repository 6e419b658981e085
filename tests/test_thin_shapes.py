"""How thin filled shapes are, by arithmetic: bars, strips, rings, letters; and what is no line although it is thin somewhere."""

from __future__ import annotations

import math

import pytest

from preflight.inventory.paint_paths import CHORD_MM, Subpath, measure_stroke, rectangle_of, subpaths
from preflight.inventory.paint_paths import StrokeStyle as Pen
from preflight.inventory.paint_shapes import ShapeMeasurer
from preflight.units import MM_PER_PT, Matrix

THIN = 0.07  # mm


def turned(points, degrees):
    c, s = math.cos(math.radians(degrees)), math.sin(math.radians(degrees))
    return [(c * x - s * y, s * x + c * y) for x, y in points]


def measure(*rings, even_odd=False):
    runs = [ring if isinstance(ring, Subpath) else Subpath(list(ring), closed=True) for ring in rings]
    return ShapeMeasurer().measure(runs, even_odd=even_odd)


def thickness_mm(*rings, **more):
    thickness = measure(*rings, **more).thickness_pt
    return None if thickness is None else thickness * MM_PER_PT


def circle(radius, *, reverse=False, x=0.0, y=0.0):
    k = 0.5523 * radius
    curves = [
        (radius, k, k, radius, 0, radius), (-k, radius, -radius, k, -radius, 0),
        (-radius, -k, -k, -radius, 0, -radius), (k, -radius, radius, -k, radius, 0),
    ]  # fmt: skip
    steps = [(0.0, radius, 0.0), *((2.0, *curve) for curve in curves), (3.0,)]
    return subpaths(steps, (1.0, 0.0, 0.0, -1.0 if reverse else 1.0, x, y), CHORD_MM)[0]


BAR = [(0, 0), (20, 0), (20, THIN), (0, THIN)]
SHAPES = {
    "a bar": BAR,
    "a bar that leans": [(0, 0), (20, 0), (20.05, THIN), (0.05, THIN)],
    "a corner of two rules": [(0, 0), (20, 0), (20, THIN), (THIN, THIN), (THIN, 10), (0, 10)],
    "a zigzag": [
        (0, 0), (10, 0), (10, 5), (20, 5), (20, 5 + THIN), (10 - THIN, 5 + THIN), (10 - THIN, THIN), (0, THIN),
    ],
    "an arrow": [(0, 0), (30, 0), (30, -1), (33, THIN / 2), (30, 1 + THIN), (30, THIN), (0, THIN)],
}  # fmt: skip


@pytest.mark.parametrize("angle", [0, 17, 30, 45, 90])
@pytest.mark.parametrize("name", SHAPES)
def test_strips_at_any_angle(name, angle) -> None:
    assert thickness_mm(turned(SHAPES[name], angle)) == pytest.approx(THIN, rel=0.01)


@pytest.mark.parametrize("radius", [1.0, 5.0, 20.0, 80.0])
def test_rings(radius) -> None:
    hole = radius - THIN
    assert thickness_mm(circle(radius), circle(hole, reverse=True)) == pytest.approx(THIN, rel=0.02)
    assert thickness_mm(circle(radius), circle(hole), even_odd=True) == pytest.approx(THIN, rel=0.02)


def test_a_ring_of_ink_is_thick_where_the_hole_does_not_count() -> None:
    """Two circles the same way round are one disc by the nonzero rule."""
    assert thickness_mm(circle(20), circle(20 - THIN)) is None


def test_frames() -> None:
    outer, inner = (
        [(0, 0), (50, 0), (50, 30), (0, 30)],
        [(THIN, THIN), (50 - THIN, THIN), (50 - THIN, 30 - THIN), (THIN, 30 - THIN)],
    )
    shape = measure(outer, inner, even_odd=True)
    assert shape.is_frame
    assert shape.thickness_pt * MM_PER_PT == pytest.approx(THIN, rel=0.01)
    four = [
        [(0, 0), (50, 0), (50, THIN), (0, THIN)], [(0, 30), (50, 30), (50, 30 + THIN), (0, 30 + THIN)],
        [(0, 0), (THIN, 0), (THIN, 30), (0, 30)], [(50, 0), (50 + THIN, 0), (50 + THIN, 30 + THIN), (50, 30 + THIN)],
    ]  # fmt: skip
    assert measure(*four).is_frame


LETTER_A = [(0, 0), (3, 6), (6, 0)]
NO_LINES = {
    "the thin counter of a letter": ([LETTER_A, [(2.9, 1), (3, 5), (3.1, 1)]], {}),
    "a counter by even-odd": ([LETTER_A, [(2.9, 1), (3.1, 1), (3, 5)]], {"even_odd": True}),
    "a needle": ([[(0, 0), (20, 0.17), (0, 0.35)]], {}),
    "a short needle": ([[(0, 0), (5, 0.17), (0, 0.35)]], {}),
    "a star": ([[(math.cos(k * math.pi / 8) * (5 if k % 2 else 1), math.sin(k * math.pi / 8) * (5 if k % 2 else 1)) for k in range(16)]], {}),
    "a dot": ([circle(0.03)], {}),
    "a speck": ([[(0, 0), (0.3, 0), (0.3, 0.05), (0, 0.05)]], {}),
    "a disc": ([circle(3)], {}),
    "an O": ([circle(2), circle(1, reverse=True)], {}),
    "slices joined along their sides": ([[(0, k * THIN), (20, k * THIN), (20, (k + 1) * THIN), (0, (k + 1) * THIN)] for k in range(60)], {}),
    "a point": ([[(1, 1), (1, 1)]], {}),
    "nothing": ([], {}),
}  # fmt: skip


@pytest.mark.parametrize("name", NO_LINES)
def test_no_lines(name) -> None:
    rings, more = NO_LINES[name]
    assert thickness_mm(*rings, **more) is None


@pytest.mark.parametrize("ring", [[(0, 0), (20, 5)], [(0, 0), (20, 0), (20, 0), (0, 0)], [(0, 0), (10, 0), (20, 0)]])
def test_without_area(ring) -> None:
    assert thickness_mm(ring) == 0.0


def test_many_pieces_of_one_path_are_measured_each() -> None:
    rules = [[(0, 5 * k), (50, 5 * k), (50, 5 * k + 0.3), (0, 5 * k + 0.3)] for k in range(20)]
    assert thickness_mm(*rules) == pytest.approx(0.3)
    assert thickness_mm(*rules, [(0, 200), (50, 200), (50, 200 + THIN), (0, 200 + THIN)]) == pytest.approx(THIN)
    assert measure(*rules).direction == "level"


def test_letters_that_repeat_are_searched_once() -> None:
    measurer = ShapeMeasurer()
    for step in range(50):
        runs = [Subpath([(x + 3.7 * step, y) for x, y in SHAPES["an arrow"]], closed=True)]
        assert measurer.measure(runs, even_odd=False).thickness_pt is not None
    assert measurer.searches == 1


# --- strokes ---


@pytest.mark.parametrize(
    ("matrix", "expected"),
    [
        (Matrix(1, 0, 0, 1), 1.0),
        (Matrix(0, 2, -2, 0), 2.0),
        (Matrix(0.866025, 0.5, -0.5, 0.866025), 1.0),
        (Matrix(3, 0, 0, 0.2), 0.2),  # level lines under a flat scale
        (Matrix(0.2, 0, 0, 3), 3.0),
        (Matrix(1, 0, 1, 1), 1.0),  # leaning: a level line keeps its height
        (Matrix(1, 0, 0, 0), 0.0),
    ],
)
def test_thickness_of_a_level_line(matrix, expected) -> None:
    """From (0, 0) to (10, 0), the pen 1 wide: w |det M| / |M d|."""
    run = Subpath([matrix.point(0, 0), matrix.point(10, 0)])
    measured = measure_stroke([run], tuple(matrix), Pen(1.0))
    assert measured.stroke.width_pt * MM_PER_PT == pytest.approx(expected, abs=1e-5)


def test_the_corners_of_a_line_span_its_thickness() -> None:
    matrix = Matrix(2, 0.3, -0.4, 0.5)
    run = Subpath([matrix.point(1, 1), matrix.point(8, 4)])
    measured = measure_stroke([run], tuple(matrix), Pen(0.7))
    (ax, ay), (bx, by), (cx, cy), _ = measured.corners
    area = abs((bx - ax) * (cy - by) - (by - ay) * (cx - bx))
    assert area / math.dist((ax, ay), (bx, by)) == pytest.approx(measured.stroke.width_pt * MM_PER_PT, rel=1e-6)


@pytest.mark.parametrize(
    ("points", "is_rectangle"),
    [
        ([(0, 0), (5, 0), (5, 3), (0, 3)], True),
        ([(0, 0), (0, 3), (5, 3), (5, 0), (0, 0)], True),
        ([(0, 0), (5, 0), (5, 3), (0, 3.1)], False),
        ([(0, 0), (5, 0), (5, 3)], False),
        ([(0, 0), (5, 3), (5, 0), (0, 3)], False),
    ],
)
def test_upright_rectangles(points, is_rectangle) -> None:
    assert (rectangle_of(Subpath(points, closed=True)) is not None) is is_rectangle
