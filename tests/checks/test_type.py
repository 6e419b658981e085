"""Small type: in one ink, in several, reversed, and on food labels; and what must be left alone."""

from __future__ import annotations

from typing import Any

import pytest
from by_hand import ids, job_of, judged, page_answers
from inked import (
    CYAN_70,
    GRAY_BLACK,
    GREEN,
    K100,
    K_GROUND,
    RGB_BLACK,
    RICH_BLACK,
    WHITE,
    Spread,
    area,
    cmyk,
    page_with,
    spot,
    text,
)

from preflight.findings import Finding, Unchecked
from preflight.inventory.model import Colour, Painted
from preflight.ticket import Finishing

BOX = (10.0, 10.0, 60.0, 40.0)
TEXT = (20.0, 20.0, 50.0, 23.0)
ONE: Spread = {"Cyan": [(BOX, 70.0)]}
TWO: Spread = {"Cyan": [(BOX, 80.0)], "Yellow": [(BOX, 100.0)]}


def findings(
    *things: Painted, spread: Spread | None = None, rules: str = "sheetfed-coated", **order: Any
) -> list[Finding]:
    job = job_of(rules, **order)
    return judged("type", page_answers("type", page_with(*things, spread=spread or {}), job), job)


# --- positive type ---------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("thing", "limit"),
    [
        pytest.param(text(K100, size_pt=3.5), 4.0, id="black"),
        pytest.param(text(GRAY_BLACK, size_pt=3.5), 4.0, id="gray"),
        pytest.param(text(spot("Black"), size_pt=3.5), 4.0, id="separation black"),
        pytest.param(text(K_GROUND, size_pt=3.5), 4.0, id="tint of black"),
        pytest.param(text(cmyk(100, 0, 0, 0), size_pt=4.5), 5.0, id="cyan"),
        pytest.param(text(spot("Fern Green"), size_pt=4.5), 5.0, id="spot"),
        pytest.param(text(cmyk(100, 0, 2, 0), size_pt=4.5), 5.0, id="a second ink too weak to print"),
        pytest.param(text(K100, size_pt=3.5, kind="text-stroke"), 4.0, id="outline of letters"),
        pytest.param(text(K100, size_pt=3.5, inside=("pattern", "type3")), 4.0, id="nested"),
    ],
)
def test_small_type_of_one_ink(thing, limit):
    (finding,) = findings(thing)
    assert (finding.id, finding.severity) == ("type.small", "ask")
    assert (finding.measured, finding.limit, finding.unit) == (thing.text.size_pt, limit, "pt")
    assert finding.box_mm == list(TEXT)


@pytest.mark.parametrize(
    "colour",
    [
        pytest.param(GREEN, id="two inks"),
        pytest.param(RICH_BLACK, id="rich black"),
        pytest.param(Colour("device-n", inks=("Black", "Fern Green"), values=(1.0, 0.5)), id="black and a spot"),
        pytest.param(Colour("separation", inks=("All",), values=(1.0,)), id="registration"),
    ],
)
def test_small_type_of_several_inks(colour):
    (finding,) = findings(text(colour, size_pt=7.5))
    assert (finding.id, finding.measured, finding.limit) == ("type.small-many-inks", 7.5, 8.0)
    assert len(finding.details["inks"]) > 1


def test_converted_type_is_judged_by_the_plates():
    four: Spread = {ink: [(TEXT, 25.0)] for ink in ("Cyan", "Magenta", "Yellow", "Black")}
    one: Spread = {"Black": [(TEXT, 25.0)]}
    assert ids(findings(text(RGB_BLACK, size_pt=7.5), spread=four)) == ["type.small-many-inks ask"]
    assert findings(text(RGB_BLACK, size_pt=7.5), spread=one) == []
    assert ids(findings(text(RGB_BLACK, size_pt=3.5), spread=one)) == ["type.small ask"]


def test_type_filled_with_a_pattern_is_judged_by_the_plates():
    two: Spread = {"Cyan": [(TEXT, 25.0)], "Yellow": [(TEXT, 25.0)]}
    assert ids(findings(text(None, size_pt=7.5), spread=two)) == ["type.small-many-inks ask"]


@pytest.mark.parametrize(
    "thing",
    [
        pytest.param(text(K100, size_pt=4.0), id="black at the limit"),
        pytest.param(text(K100, size_pt=3.996), id="black within the tolerance"),
        pytest.param(text(cmyk(0, 100, 0, 0), size_pt=5.0), id="one ink at the limit"),
        pytest.param(text(GREEN, size_pt=8.0), id="two inks at the limit"),
        pytest.param(text(K100, size_pt=7.0, overprint=True, overprint_mode=1), id="black that overprints"),
        pytest.param(text(K100, size_pt=2.0, inked=0), id="spaces"),
        pytest.param(text(K100, size_pt=2.0, covered=True), id="covered"),
        pytest.param(text(K100, size_pt=2.0, alpha=0.0), id="not there"),
        pytest.param(text(K100, size_pt=2.0, inside=("soft-mask",)), id="in a soft mask"),
        pytest.param(text(K100, (200, 200, 220, 203), size_pt=2.0), id="off the page"),
        pytest.param(text(spot("Varnish"), size_pt=2.0), id="finishing"),
        pytest.param(area(K100, (20, 20, 21, 21)), id="outlines are no type"),
        pytest.param(text(Colour("none", inks=("None",), values=(1.0,)), size_pt=2.0), id="no plate"),
    ],
)
def test_type_left_alone(thing):
    assert findings(thing, spread=ONE) == []


def test_black_that_overprints_a_coloured_ground_is_one_ink():
    words = text(K100, size_pt=7.0, overprint=True, overprint_mode=1)
    assert findings(area(CYAN_70, BOX), words, spread=ONE) == []


# --- reversed type ---------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("spread", "ground", "size", "limit"),
    [
        pytest.param(ONE, CYAN_70, 5.5, 6.0, id="out of one ink"),
        pytest.param(TWO, GREEN, 7.5, 8.0, id="out of two"),
        pytest.param({"Fern Green": [(BOX, 100.0)]}, spot("Fern Green"), 5.5, 6.0, id="out of a spot"),
        pytest.param({"Black": [(BOX, 50.0)]}, K_GROUND, 5.5, 6.0, id="out of gray"),
    ],
)
@pytest.mark.parametrize(
    "white",
    [
        WHITE,
        Colour("gray", inks=("Black",), values=(1.0,)),
        Colour("rgb", values=(1.0, 1.0, 1.0)),
        spot("Fern Green", 0),
    ],
    ids=["CMYK", "gray", "RGB", "spot at 0"],
)
def test_small_white_type(spread, ground, size, limit, white):
    (finding,) = findings(area(ground, BOX), text(white, size_pt=size), spread=spread)
    assert (finding.id, finding.severity) == ("type.small-reversed", "ask")
    assert (finding.measured, finding.limit) == (size, limit)
    assert set(finding.details["inks"]) == set(spread)


@pytest.mark.parametrize(
    ("things", "spread"),
    [
        pytest.param([text(WHITE, size_pt=4.0)], {}, id="white on paper"),
        pytest.param([area(CYAN_70, BOX), text(WHITE, size_pt=6.0)], ONE, id="one ink, at the limit"),
        pytest.param([area(CYAN_70, BOX), text(WHITE, size_pt=7.0)], ONE, id="out of one ink, 7 pt"),
        pytest.param([area(GREEN, BOX), text(WHITE, size_pt=8.0)], TWO, id="two inks, at the limit"),
        pytest.param([area(CYAN_70, BOX), area(WHITE, BOX), text(WHITE, size_pt=4.0)], {}, id="on a white panel"),
        pytest.param(
            [area(CYAN_70, BOX), text(WHITE, size_pt=4.0, overprint=True, overprint_mode=1)],
            ONE,
            id="it vanishes instead",
        ),
    ],
)
def test_reversed_type_left_alone(things, spread):
    assert findings(*things, spread=spread) == []


def test_type_of_a_trace_of_ink_is_reversed_on_a_strong_ground_only():
    pale = text(cmyk(0, 0, 10, 0), size_pt=5.5)
    (finding,) = findings(area(CYAN_70, BOX), pale, spread=ONE)
    assert (finding.id, set(finding.details["inks"])) == ("type.small-reversed", {"Cyan"})
    assert findings(pale) == []
    assert findings(area(cmyk(15, 0, 0, 0), BOX), pale, spread={"Cyan": [(BOX, 15.0)]}) == []


def test_white_that_shows_the_ground_through_is_reversed_too():
    found = findings(area(CYAN_70, BOX), text(WHITE, size_pt=5.0, alpha=0.8), spread=ONE)
    assert ids(found) == ["type.small-reversed ask"]


# --- newsprint -------------------------------------------------------------------------------------------------------


def test_newsprint_asks_for_more():
    assert ids(findings(text(GREEN, size_pt=9.5), rules="newsprint")) == ["type.small-many-inks ask"]
    assert findings(text(GREEN, size_pt=10.0), rules="newsprint") == []
    (one,) = findings(area(CYAN_70, BOX), text(WHITE, size_pt=9.0), spread=ONE, rules="newsprint")
    (two,) = findings(area(GREEN, BOX), text(WHITE, size_pt=13.0), spread=TWO, rules="newsprint")
    assert (one.limit, two.limit) == (10.0, 14.0)


# --- food labels -----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("x_height", "surface", "limit"), [(1.0, None, 1.2), (1.0, 80.0, 1.2), (1.0, 500.0, 1.2), (0.8, 79.0, 0.9)]
)
def test_x_height_on_a_food_label(x_height, surface, limit):
    (finding,) = findings(text(size_pt=6.0, x_height_mm=x_height), food_label=True, label_surface_cm2=surface)
    assert (finding.id, finding.severity) == ("type.legal-minimum", "ask")
    assert (finding.measured, finding.limit, finding.unit) == (x_height, limit, "mm")
    assert "authority" in finding.message
    assert "authority" in finding.remedy


def test_the_published_size_of_a_face_with_a_known_x_height():
    # A face whose x-height is 0.519 of its size needs 1.2 / (0.3528 x 0.519) = 6.55 pt for 1.2 mm.
    height = 6.55 * 25.4 / 72 * 0.519
    assert findings(text(size_pt=6.55, x_height_mm=height), food_label=True) == []
    small = 6.2 * 25.4 / 72 * 0.519
    assert ids(findings(text(size_pt=6.2, x_height_mm=small), food_label=True)) == ["type.legal-minimum ask"]


@pytest.mark.parametrize(
    ("thing", "order"),
    [
        pytest.param(text(size_pt=6.0, x_height_mm=1.0), {}, id="no ticket"),
        pytest.param(text(size_pt=6.0, x_height_mm=1.0), {"food_label": False, "pages": 1}, id="not a food label"),
        pytest.param(text(size_pt=6.0, x_height_mm=1.2), {"food_label": True}, id="at the limit"),
        pytest.param(
            text(size_pt=6.0, x_height_mm=0.9), {"food_label": True, "label_surface_cm2": 50.0}, id="small pack"
        ),
        pytest.param(text(WHITE, size_pt=6.0, x_height_mm=0.5), {"food_label": True}, id="white on paper"),
        pytest.param(text(size_pt=10.0), {"food_label": True}, id="large, so no doubt"),
        pytest.param(
            text(spot("Gold"), size_pt=6.0, x_height_mm=0.5),
            {"food_label": True, "finishing": (Finishing("foil", "Gold"),)},
            id="foil",
        ),
    ],
)
def test_no_legal_matter(thing, order):
    assert findings(thing, **order) == []


@pytest.mark.parametrize("unmeasured", [text(size_pt=6.0), text(size_pt=6.0, x_height_mm=1.5, embedded=False)])
def test_an_x_height_that_cannot_be_measured_is_unchecked(unmeasured):
    job = job_of(food_label=True)
    answers = page_answers("type", page_with(unmeasured, spread={}), job)
    (answer,) = answers
    assert isinstance(answer, Unchecked)
    assert "Garden-Sans" in answer.why
