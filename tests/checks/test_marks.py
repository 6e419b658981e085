"""Crop and register marks in the bleed or inside the trim, and the lines of ordinary artwork that only look like them."""

from __future__ import annotations

import pytest
from by_hand import document_of, ids, job_of, judged, page_answers, page_of, painted

from preflight.inventory.model import Colour
from preflight.units import Box

BLACK = Colour("cmyk", "DeviceCMYK", ("Cyan", "Magenta", "Yellow", "Black"), (0.0, 0.0, 0.0, 1.0))
RICH = Colour("cmyk", "DeviceCMYK", ("Cyan", "Magenta", "Yellow", "Black"), (1.0, 1.0, 1.0, 1.0))
ALL = Colour("separation", "Separation(DeviceCMYK,All)", ("All",), (1.0,))
WHITE = Colour("gray", "DeviceGray", ("Black",), (1.0,))
HALF = 0.05  # half a line of about 0.3 pt
Rect = tuple[float, float, float, float]
TRIM: Rect = (0.0, 0.0, 100.0, 80.0)


def crop_boxes(gap: float, length: float = 5.0, around: Rect = TRIM) -> list[Box]:
    """The eight marks at the corners of a rectangle, ``gap`` away from it."""
    x0, y0, x1, y1 = around
    boxes = []
    for x, out in ((x0, -1), (x1, 1)):
        for y, over in ((y0, -1), (y1, 1)):
            near, far = x + out * gap, x + out * (gap + length)
            boxes.append(Box(min(near, far), y - HALF, max(near, far), y + HALF))
            near, far = y + over * gap, y + over * (gap + length)
            boxes.append(Box(x - HALF, min(near, far), x + HALF, max(near, far)))
    return boxes


def things(boxes, colour=BLACK, kind="stroke", **facts):
    return [painted(colour, tuple(box), kind=kind, **facts) for box in boxes]


def level(x, y, length=6.0):
    return Box(x - length / 2, y - HALF, x + length / 2, y + HALF)


def upright(x, y, length=6.0):
    return Box(x - HALF, y - length / 2, x + HALF, y + length / 2)


def marks(objects, **facts):
    job = job_of(bleed_mm=3.0)
    return judged("marks", page_answers("marks", page_of(*objects, **facts), job), job)


@pytest.mark.parametrize("colour", [BLACK, ALL, RICH], ids=["black", "All", "four inks"])
@pytest.mark.parametrize("kind", ["stroke", "fill"])
def test_crop_marks_two_millimetres_from_the_trim(colour, kind) -> None:
    (finding,) = marks(things(crop_boxes(2.0), colour, kind))
    assert ids([finding]) == ["marks.in-bleed ask"]
    assert (finding.measured, finding.limit, finding.unit) == (pytest.approx(2.0), 3.0, "mm")
    assert (finding.count, len(finding.details["boxes_mm"])) == (8, 8)


def test_crop_marks_drawn_as_one_path() -> None:
    whole = painted(BLACK, (-7, -7, 107, 87), kind="stroke", parts_mm=tuple(crop_boxes(2.0)))
    (finding,) = marks([whole])
    assert finding.count == 8


def test_marks_outside_the_bleed_are_silent() -> None:
    assert marks(things(crop_boxes(3.0))) == []
    assert marks(things(crop_boxes(5.0), ALL)) == []


def test_a_wider_bleed_makes_them_too_close() -> None:
    zone = Box(-5.0, -5.0, 105.0, 85.0)
    objects = [painted(BLACK, tuple(box), kind="stroke", zone=zone) for box in crop_boxes(4.0)]
    job = job_of(bleed_mm=5.0)
    (finding,) = judged("marks", page_answers("marks", page_of(*objects, zone_mm=zone), job), job)
    assert (finding.measured, finding.limit) == (pytest.approx(4.0), 5.0)


def test_a_page_with_marks_placed_inside_the_trim() -> None:
    (finding,) = marks(things(crop_boxes(3.0, around=(20.0, 15.0, 80.0, 65.0))))
    assert (finding.measured, finding.count) == (0.0, 8)


def test_two_corners_of_the_trim_are_enough() -> None:
    assert len(marks(things(crop_boxes(2.0)[:4]))) == 1


@pytest.mark.parametrize(
    "objects",
    [
        things(crop_boxes(2.0), WHITE),
        things(crop_boxes(2.0), covered=True),
        things(crop_boxes(2.0), visible_mm=None),
        things(crop_boxes(2.0), inside=("pattern",)),
        things(crop_boxes(2.0)[:2]),
        things(crop_boxes(2.0, length=60.0)),
        things(crop_boxes(0.0, around=(20.0, 15.0, 80.0, 65.0))),
        things(crop_boxes(3.0, around=(20.0, 15.0, 80.0, 65.0))[:6]),
        things([level(x, y, 18.0) for x in (10, 30, 50, 70, 90) for y in range(5, 80, 5)]),
        things([level(x, y, 18.0) for x in (10, 30, 50) for y in range(5, 80, 5)] + [upright(x, y, 5) for x in (1, 21, 41) for y in range(8, 80, 5)]),
        things([level(5, y, 2.0) for y in range(10, 71, 10)] + [upright(x, 75, 2.0) for x in range(10, 91, 10)]),
        things([Box(-3, 20 - HALF, 15, 20 + HALF), Box(85, 20 - HALF, 103, 20 + HALF), Box(20 - HALF, -3, 20 + HALF, 12)]),
        [painted(BLACK, (20, 20, 60, 60), kind="stroke")],
    ],
    ids=[
        "white",
        "covered",
        "clipped away",
        "a pattern's",
        "one corner only",
        "long rules",
        "a frame with crossing corners",
        "three corners of a rectangle",
        "table rules",
        "a table with uprights",
        "ticks of a chart",
        "rules that bleed",
        "a frame",
    ],
)  # fmt: skip
def test_ordinary_lines_are_silent(objects) -> None:
    assert marks(objects) == []


def test_corner_ornaments_along_a_frame_are_silent() -> None:
    """Brackets lie on the edges of the rectangle they mark, crop marks on their extension."""
    ornaments = [level(x, y) for x in (23, 77) for y in (15, 65)] + [upright(x, y) for x in (20, 80) for y in (18, 62)]
    assert marks(things(ornaments)) == []


def test_a_boxed_chart_with_ticks_on_all_sides_is_silent() -> None:
    x0, y0, x1, y1 = 20.0, 15.0, 80.0, 65.0
    ticks = [level(x, y, 2.0) for x in (x0 - 1, x1 + 1) for y in range(15, 66, 10)]
    ticks += [upright(x, y, 2.0) for y in (y0 - 1, y1 + 1) for x in range(20, 81, 10)]
    assert marks(things(ticks)) == []


# --- register marks ---


def test_a_cross_in_a_ring_beside_the_middle_of_an_edge() -> None:
    ring = painted(BLACK, (48.5, -3.5, 51.5, -0.5), kind="stroke")
    (finding,) = marks([*things([level(50, -2), upright(50, -2)]), ring])
    assert finding.details["what"] == "register marks"


@pytest.mark.parametrize("colour", [ALL, RICH], ids=["All", "four inks"])
def test_a_cross_in_all_inks_inside_the_trim(colour) -> None:
    (finding,) = marks(things([level(50, 40), upright(50, 40)], colour))
    assert finding.measured == 0.0


@pytest.mark.parametrize(
    "objects",
    [
        things([level(50, 40), upright(50, 40)]),
        [*things([level(50, 40), upright(50, 40)]), painted(BLACK, (48, 38, 52, 42), kind="stroke")],
        things([level(x, -2, 3) for x in range(0, 101, 10)] + [upright(x, -2, 3) for x in range(0, 101, 10)]),
        things([level(50, -5), upright(50, -5, 3.0)]),
    ],
    ids=["a plus sign", "a target drawn in black", "a pattern of plus signs that bleeds", "outside the bleed"],
)
def test_crosses_that_are_artwork_are_silent(objects) -> None:
    assert marks(objects) == []


def test_anything_in_the_registration_colour_between_trim_and_bleed() -> None:
    (finding,) = marks([painted(ALL, (20.0, -2.5, 40.0, -1.0), kind="text")])
    assert finding.details["what"] == "marks in the registration colour"
    assert finding.measured == pytest.approx(1.0)


def test_the_registration_colour_inside_the_trim_is_no_mark() -> None:
    """It is ``colour.registration`` there."""
    assert marks([painted(ALL, (20.0, 20.0, 40.0, 30.0), kind="text")]) == []


def test_an_image_has_no_marks_to_find() -> None:
    job = job_of()
    page = page_of(painted(None, kind="image"), trim_mm=None)
    assert page_answers("marks", page, job, document_of("png")) == []
