"""Margins: text and small things near the cut and the spine, thin frames; and what must be left alone."""

from __future__ import annotations

import pytest
from by_hand import ids, job_of, judged, page_answers
from inked import CYAN_70, K100, WHITE, Spread, area, line, page_with, picture, spot, text
from work import calls_made_by

from preflight.findings import Finding
from preflight.inventory.model import Page, Painted, Shape
from preflight.ticket import Finishing
from preflight.units import Box

#: The page of the tests is 100 x 80 mm.
GROUND = (-3.0, -3.0, 103.0, 83.0)


def findings(*things: Painted, spread: Spread | None = None, number: int = 1, **order) -> list[Finding]:
    job = job_of(**order)
    return judged("margins", page_answers("margins", page_with(*things, spread=spread, number=number), job), job)


# --- near the trim ---------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("box", "edge"),
    [
        ((2.0, 30.0, 40.0, 33.0), "left"),
        ((30.0, 2.0, 60.0, 5.0), "top"),
        ((60.0, 30.0, 98.0, 33.0), "right"),
        ((30.0, 75.0, 60.0, 78.0), "bottom"),
    ],
)
def test_text_near_each_edge(box, edge):
    (finding,) = findings(text(box=box))
    assert (finding.id, finding.severity) == ("margins.near-trim", "ask")
    assert (finding.measured, finding.limit, finding.unit) == (2.0, 3.0, "mm")
    assert finding.details["edge"] == edge
    assert finding.box_mm == list(box)
    assert "2 mm" in finding.message


@pytest.mark.parametrize(
    "thing",
    [
        pytest.param(area(CYAN_70, (2, 30, 12, 40)), id="logo"),
        pytest.param(picture((2, 30, 20, 49)), id="small picture"),
        pytest.param(line(K100, (2, 30, 14, 30.3), 0.8), id="short rule"),
        pytest.param(text(box=(2, 30, 40, 33), kind="text-stroke"), id="outlined text"),
        pytest.param(text(box=(2, 30, 40, 33), inside=("form", "pattern")), id="nested"),
        pytest.param(text(spot("Fern Green"), box=(2, 30, 40, 33)), id="spot"),
        pytest.param(area(None, (2, 30, 12, 40), kind="shading", shape=None), id="shading"),
    ],
)
def test_disguises(thing):
    assert ids(findings(thing)) == ["margins.near-trim ask"]


@pytest.mark.parametrize(
    "things",
    [
        pytest.param([text(box=(3.0, 30, 40, 33))], id="at the limit"),
        pytest.param([text(box=(2.96, 30, 40, 33))], id="within the tolerance"),
        pytest.param([picture(GROUND)], id="full-bleed picture"),
        pytest.param([picture((1, 30, 41, 60))], id="large picture"),
        pytest.param([line(K100, (-3, 30, 15, 30.3), 0.8)], id="rule that bleeds"),
        pytest.param([text(box=(-2, 30, 40, 33))], id="text that is cut on purpose"),
        pytest.param([line(K100, (-9, -0.1, -4, 0.1), 0.25, visible_mm=None)], id="crop mark"),
        pytest.param([area(K100, (101, 30, 103, 40))], id="outside the trim"),
        pytest.param([text(WHITE, box=(2, 30, 40, 33))], id="white on paper"),
        pytest.param([text(box=(2, 30, 40, 33), inked=0)], id="spaces"),
        pytest.param([text(box=(2, 30, 40, 33), covered=True)], id="covered"),
        pytest.param([line(K100, (2, 30, 42, 30.3), 0.8)], id="long rule"),
        pytest.param([area(spot("Die line"), (1, 1, 10, 10))], id="finishing ink by its name"),
        pytest.param([area(CYAN_70, (0, 30, 10, 40))], id="reaches the trim: the bleed's business"),
        pytest.param([area(CYAN_70, (1, y, 15, y + 9)) for y in range(5, 60, 9)], id="tiles of something large"),
        pytest.param(
            [area(CYAN_70, (x, 30, x + 5, 36)) for x in (-4.0, 1.0)], id="piece of something that runs through the trim"
        ),
    ],
)
def test_left_alone(things):
    assert findings(*things, spread={}) == []


def test_white_text_on_a_picture_is_text():
    found = findings(
        picture(GROUND), text(WHITE, box=(2, 30, 40, 33)), spread={"Cyan": [(GROUND, 60)], "Black": [(GROUND, 20)]}
    )
    assert ids(found) == ["margins.near-trim ask"]


def test_an_ordered_finishing_ink_is_left_alone():
    shape = area(spot("Gold 12"), (1, 1, 10, 10))
    assert findings(shape) != []
    assert findings(shape, finishing=(Finishing("foil", "Gold 12"),)) == []


def test_pieces_of_a_small_logo_are_one_finding():
    found = findings(area(CYAN_70, (2, 30, 6, 34)), area(K100, (6, 30, 10, 34)), area(K100, (2, 34, 6, 36)))
    assert [(finding.count, finding.box_mm) for finding in found] == [(1, [2.0, 30.0, 10.0, 36.0])]


def test_a_corner_is_told_once_with_both_distances():
    (finding,) = findings(text(box=(2.0, 1.0, 30.0, 4.0)))
    assert finding.measured == 1.0
    assert finding.details["distances_mm"] == {"left": 2.0, "top": 1.0}


def test_work_on_pieces_near_the_trim_grows_with_their_number():
    def work(rows: int) -> int:
        things = [
            area(CYAN_70, (x / 10, 2 + y / 4, x / 10 + 0.05, 2.1 + y / 4))
            for x in range(20, 900, 4)
            for y in range(rows)
        ]
        return calls_made_by(lambda: page_answers("margins", page_with(*things, spread={}), job_of()))

    assert work(80) < 5 * work(20)


# --- the spine -------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("number", "box"), [(1, (6.0, 30, 40, 33)), (2, (60.0, 30, 94.0, 33)), (3, (6.0, 30, 40, 33))])
def test_text_in_the_gutter_of_a_perfect_bound_book(number, box):
    (finding,) = findings(text(box=box), number=number, binding="perfect")
    assert (finding.id, finding.severity) == ("margins.gutter", "ask")
    assert (finding.measured, finding.limit) == (6.0, 10.0)


def test_text_very_near_the_glued_spine_is_told_once():
    assert ids(findings(text(box=(2, 30, 40, 33)), binding="perfect")) == ["margins.gutter ask"]


@pytest.mark.parametrize(
    ("things", "number", "order"),
    [
        pytest.param([text(box=(10.0, 30, 40, 33))], 1, {"binding": "perfect"}, id="at the limit"),
        pytest.param([text(box=(6.0, 30, 40, 33))], 2, {"binding": "perfect"}, id="the face edge"),
        pytest.param([text(box=(6.0, 30, 40, 33))], 1, {"binding": "saddle-stitch"}, id="stitched"),
        pytest.param([text(box=(6.0, 30, 40, 33))], 1, {"binding": "perfect", "part": "cover"}, id="cover"),
        pytest.param([text(box=(6.0, 30, 40, 33))], 1, {}, id="no ticket"),
        pytest.param([picture(GROUND), area(CYAN_70, (4, 30, 14, 40))], 1, {"binding": "perfect"}, id="no text"),
        pytest.param([text(WHITE, box=(6.0, 30, 40, 33))], 1, {"binding": "perfect"}, id="white on paper"),
    ],
)
def test_left_alone_at_the_spine(things, number, order):
    assert findings(*things, spread={}, number=number, **order) == []


# --- frames ----------------------------------------------------------------------------------------------------------

RING = Shape(None, 2 * 0.5 * (92 + 72) - 4 * 0.5**2, is_frame=True, parts=2)  # 0.5 mm thick
FRAME = (4.0, 4.0, 96.0, 76.0)
SIDES = [(4.0, 4.0, 96.0, 4.4), (4.0, 75.6, 96.0, 76.0), (4.0, 4.0, 4.4, 76.0), (95.6, 4.0, 96.0, 76.0)]


def pieces(side: tuple[float, float, float, float]) -> list[tuple[float, float, float, float]]:
    """A side in four pieces with gaps of 2 mm between them."""
    x0, y0, x1, y1 = side
    if x1 - x0 > y1 - y0:
        step = (x1 - x0) / 4
        return [(x0 + i * step, y0, x0 + (i + 1) * step - 2, y1) for i in range(4)]
    step = (y1 - y0) / 4
    return [(x0, y0 + i * step, x1, y0 + (i + 1) * step - 2) for i in range(4)]


@pytest.mark.parametrize(
    "things",
    [
        pytest.param([line(K100, FRAME, 1.0, is_frame=True)], id="one rectangle"),
        pytest.param([line(K100, FRAME, 1.0, length_mm=2 * (92 + 72) * 0.97, direction=None)], id="round corners"),
        pytest.param([area(K100, FRAME, shape=RING)], id="one ring"),
        pytest.param([line(K100, side, 1.0) for side in SIDES], id="four lines"),
        pytest.param(
            [line(K100, FRAME, 1.0, direction=None, length_mm=600, parts_mm=tuple(Box(*s) for s in SIDES))],
            id="one path",
        ),
        pytest.param([area(K100, side) for side in SIDES], id="four bars"),
        pytest.param([area(K100, piece) for side in SIDES for piece in pieces(side)], id="bars end to end"),
        pytest.param([area(K100, FRAME), area(WHITE, (5, 5, 95, 75))], id="one area on another"),
        pytest.param([area(CYAN_70, GROUND), picture((2.5, 2.5, 97.5, 77.5))], id="a rim that bleeds"),
        pytest.param([line(WHITE, FRAME, 1.0, is_frame=True)], id="reversed out"),
    ],
)
def test_a_thin_frame_near_the_trim(things):
    assert ids(findings(*things, spread={"Black": [(GROUND, 50)]})) == ["margins.frame ask"]


def test_the_frame_is_measured_at_its_nearest_side():
    (finding,) = findings(line(K100, (2.0, 4.5, 96.0, 77.0), 1.0, is_frame=True))
    assert (finding.id, finding.measured, finding.limit) == ("margins.frame", 2.0, 5.0)
    assert finding.box_mm == [2.0, 4.5, 96.0, 77.0]


@pytest.mark.parametrize(
    "things",
    [
        pytest.param([line(K100, (5, 5, 95, 75), 1.0, is_frame=True)], id="at the limit"),
        pytest.param([line(K100, (4, 4, 96, 60), 1.0, is_frame=True)], id="one side far in"),
        pytest.param([line(K100, SIDES[0], 1.0)], id="one rule"),
        pytest.param([line(K100, SIDES[0], 1.0), line(K100, SIDES[1], 1.0)], id="two rules"),
        pytest.param([line(K100, side, 1.0) for side in SIDES[:3]], id="three rules"),
        pytest.param(
            [area(K100, (4, 4, 96, 8.5)), *(area(K100, side) for side in SIDES[1:])], id="one side is an area"
        ),
        pytest.param(
            [line(K100, (x0, y0, x1 / 2 + x0 / 2, y1), 1.0) for x0, y0, x1, y1 in SIDES[:2]], id="short rules"
        ),
        pytest.param([picture((4, 4, 96, 76))], id="a picture with a white border"),
        pytest.param([area(CYAN_70, GROUND), picture((8, 8, 92, 72))], id="a broad border"),
        pytest.param([area(CYAN_70, GROUND), area(CYAN_70, (4, 4, 96, 76))], id="the same colour twice"),
        pytest.param([area(WHITE, GROUND), picture((2, 2, 98, 78))], id="white below"),
        pytest.param([line(spot("Die line"), (0, 0, 100, 80), 0.5, is_frame=True)], id="die line"),
        pytest.param([line(K100, FRAME, 30.0, is_frame=True)], id="a thick stroke"),
        pytest.param([line(K100, (-3, -3, 103, 83), 1.0, is_frame=True)], id="outside the trim"),
        pytest.param([area(K100, FRAME, shape=Shape(None, 2 * 4 * (92 + 72) - 64, is_frame=True))], id="a broad ring"),
    ],
)
def test_no_frame(things):
    assert [finding.id for finding in findings(*things) if finding.id == "margins.frame"] == []


def test_a_page_of_unknown_size_is_not_judged():
    page: Page = page_with(text(box=(2, 30, 40, 33)), trim_mm=None)
    assert page_answers("margins", page, job_of()) == []
