"""Black from several inks, black that knocks out, large blacks of one ink; and what must be left alone."""

from __future__ import annotations

from dataclasses import replace
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
    line,
    page_with,
    picture,
    spot,
    text,
)

from preflight.findings import Finding
from preflight.inventory.model import PROCESS_INKS, Colour, Painted, Shape

BOX = (10.0, 10.0, 60.0, 40.0)
TEXT = (20.0, 20.0, 50.0, 23.0)
RULE = (20.0, 20.0, 50.0, 20.2)
CYAN: Spread = {"Cyan": [(BOX, 70.0)]}


def findings(*things: Painted, spread: Spread | None = None, **order: Any) -> list[Finding]:
    job = job_of(**order)
    return judged("black", page_answers("black", page_with(*things, spread=spread or {}), job), job)


def all_four(box: tuple[float, float, float, float]) -> Spread:
    return {ink: [(box, 25.0)] for ink in PROCESS_INKS}


# --- many inks -------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "colour",
    [
        pytest.param(RICH_BLACK, id="60/40/40/100"),
        pytest.param(cmyk(20, 20, 20, 100), id="20/20/20/100"),
        pytest.param(cmyk(75, 68, 67, 90), id="a converted black"),
        pytest.param(cmyk(100, 100, 100, 0), id="without black"),
        pytest.param(Colour("device-n", inks=("Black", "Fern Green"), values=(1.0, 0.5)), id="black and a spot"),
    ],
)
def test_small_type_that_looks_black_from_several_inks(colour):
    (finding,) = findings(text(colour, size_pt=9.0))
    assert (finding.id, finding.severity) == ("black.many-inks", "ask")
    assert (finding.measured, finding.limit, finding.unit) == (9.0, 12.0, "pt")
    assert finding.box_mm == list(TEXT)
    assert len(finding.details["inks"]) > 1


@pytest.mark.parametrize(
    "thing",
    [
        pytest.param(line(RICH_BLACK, RULE, 0.57), id="stroke"),
        pytest.param(area(RICH_BLACK, RULE), id="thin bar"),
        pytest.param(line(RICH_BLACK, BOX, 0.57, is_frame=True), id="frame"),
        pytest.param(area(RICH_BLACK, BOX, shape=Shape(0.57, 30.0, is_frame=True)), id="ring"),
        pytest.param(line(RICH_BLACK, RULE, 0.57, inside=("group", "pattern")), id="nested"),
    ],
)
def test_thin_lines_that_look_black_from_several_inks(thing):
    (finding,) = findings(thing)
    assert (finding.id, finding.limit) == ("black.many-inks", 1.0)
    assert finding.measured == pytest.approx(0.57, abs=0.005)


@pytest.mark.parametrize(
    "colour",
    [
        RGB_BLACK,
        Colour("rgb", values=(0.14, 0.12, 0.13)),
        Colour("icc-rgb", values=(0.0, 0.0, 0.0)),
        Colour("lab", values=(5.0, 0.0, 0.0)),
        Colour("icc-gray", inks=("Black",), values=(0.0,)),
        Colour("icc-cmyk", inks=PROCESS_INKS, values=(0.0, 0.0, 0.0, 1.0)),
    ],
)
def test_converted_black_is_judged_by_the_plates(colour):
    assert ids(findings(text(colour, size_pt=9.0), spread=all_four(TEXT))) == ["black.many-inks ask"]
    assert findings(text(colour, size_pt=9.0), spread={"Black": [(TEXT, 25.0)]}) == []


@pytest.mark.parametrize(
    "thing",
    [
        pytest.param(area(RICH_BLACK, BOX), id="large rich black"),
        pytest.param(text(RICH_BLACK, size_pt=12.0), id="type at the limit"),
        pytest.param(line(RICH_BLACK, RULE, 1.0), id="line at the limit"),
        pytest.param(text(K100, size_pt=6.0), id="black alone"),
        pytest.param(text(cmyk(2, 1, 0, 100), size_pt=6.0), id="traces that do not print"),
        pytest.param(text(cmyk(100, 100, 0, 0), size_pt=9.0), id="dark blue"),
        pytest.param(text(cmyk(0, 100, 100, 60), size_pt=9.0), id="dark red"),
        pytest.param(text(cmyk(30, 20, 20, 40), size_pt=9.0), id="gray"),
        pytest.param(text(GREEN, size_pt=9.0), id="green"),
        pytest.param(text(spot("Fern Green"), size_pt=9.0), id="a spot alone"),
        pytest.param(text(RICH_BLACK, size_pt=9.0, alpha=0.3), id="thinned to gray"),
        pytest.param(text(RICH_BLACK, size_pt=9.0, covered=True), id="covered"),
        pytest.param(text(RICH_BLACK, size_pt=9.0, inside=("soft-mask",)), id="in a soft mask"),
        pytest.param(
            text(Colour("separation", inks=("All",), values=(1.0,)), size_pt=9.0), id="registration is told elsewhere"
        ),
        pytest.param(area(RICH_BLACK, BOX, shape=Shape(0.5, 300.0)), id="thin somewhere is no line"),
        pytest.param(picture(BOX), id="picture"),
    ],
)
def test_no_black_from_many_inks(thing):
    assert [finding.id for finding in findings(thing) if finding.id == "black.many-inks"] == []


# --- knocks out ------------------------------------------------------------------------------------------------------

GRAY_ICC = Colour("icc-gray", inks=("Black",), values=(0.0,))


@pytest.mark.parametrize(
    ("colour", "overprint", "mode", "cause"),
    [
        pytest.param(K100, False, 0, "no-overprint", id="no overprint"),
        pytest.param(K100, False, 1, "no-overprint", id="no overprint, mode 1"),
        pytest.param(K100, True, 0, "overprint-mode-0", id="overprint mode 0"),
        pytest.param(GRAY_BLACK, True, 1, "gray-erases", id="gray"),
        pytest.param(GRAY_BLACK, False, 0, "no-overprint", id="gray, no overprint"),
        pytest.param(GRAY_ICC, True, 1, "gray-erases", id="gray with a profile"),
        pytest.param(spot("Black"), False, 0, "no-overprint", id="separation black"),
        pytest.param(
            Colour("device-n", inks=("Cyan", "Black"), values=(0.0, 1.0)), True, 1, "named-at-zero", id="DeviceN"
        ),
    ],
)
@pytest.mark.parametrize("fine", ["type", "line", "bar"])
def test_black_that_cuts_a_hole_into_colour(colour, overprint, mode, cause, fine):
    made = {"type": text(colour, size_pt=9.0), "line": line(colour, RULE, 0.57), "bar": area(colour, RULE)}[fine]

    (finding,) = findings(area(CYAN_70, BOX), replace(made, overprint=overprint, overprint_mode=mode), spread=CYAN)
    assert (finding.id, finding.severity) == ("black.knocks-out", "ask")
    assert finding.details["cause"] == cause
    assert set(finding.details["erased_inks"]) == {"Cyan"}
    assert finding.limit == (12.0 if fine == "type" else 1.0)


@pytest.mark.parametrize(
    "ground",
    [
        pytest.param(picture(BOX), id="picture"),
        pytest.param(area(None, BOX, kind="shading", shape=None), id="shading"),
        pytest.param(area(CYAN_70, BOX, inside=("pattern",)), id="pattern"),
        pytest.param(area(Colour("rgb", values=(0.0, 0.6, 0.9)), BOX), id="RGB"),
    ],
)
def test_whatever_the_ground_is_made_of(ground):
    assert ids(findings(ground, text(K100, size_pt=9.0), spread=CYAN)) == ["black.knocks-out ask"]


def test_a_spot_ground_is_kept_by_any_overprint():
    ground, spread = area(spot("Fern Green"), BOX), {"Fern Green": [(BOX, 100.0)]}
    assert ids(findings(ground, text(K100, size_pt=9.0), spread=spread)) == ["black.knocks-out ask"]
    for mode in (0, 1):
        assert findings(ground, text(K100, size_pt=9.0, overprint=True, overprint_mode=mode), spread=spread) == []
    assert findings(ground, text(GRAY_BLACK, size_pt=9.0, overprint=True, overprint_mode=1), spread=spread) == []


@pytest.mark.parametrize(
    ("things", "spread"),
    [
        pytest.param([text(K100, size_pt=9.0)], {"Black": [(TEXT, 25.0)]}, id="on paper"),
        pytest.param([area(WHITE, BOX), text(K100, size_pt=9.0)], {}, id="on white"),
        pytest.param([area(K_GROUND, BOX), text(K100, size_pt=9.0)], {"Black": [(BOX, 60.0)]}, id="on black alone"),
        pytest.param(
            [area(CYAN_70, BOX), text(K100, size_pt=9.0, overprint=True, overprint_mode=1)], CYAN, id="overprints"
        ),
        pytest.param(
            [area(CYAN_70, BOX), text(spot("Black"), size_pt=9.0, overprint=True)], CYAN, id="separation black"
        ),
        pytest.param([area(CYAN_70, BOX), text(K100, size_pt=9.0, blend="Multiply")], CYAN, id="multiplied"),
        pytest.param([area(CYAN_70, BOX), text(K100, size_pt=12.0)], CYAN, id="large type"),
        pytest.param([area(CYAN_70, BOX), line(K100, (20, 20, 50, 20.4), 1.0)], CYAN, id="thick line"),
        pytest.param([area(CYAN_70, BOX), area(K100, (20, 20, 30, 30))], CYAN, id="an area"),
        pytest.param(
            [area(CYAN_70, BOX), area(WHITE, (15, 15, 55, 30)), text(K100, size_pt=9.0)], {}, id="on a white panel"
        ),
        pytest.param(
            [area(CYAN_70, (10, 24, 60, 40)), text(K100, size_pt=9.0)], {"Cyan": [((10, 24, 60, 40), 70)]}, id="beside"
        ),
        pytest.param(
            [text(K100, size_pt=9.0), area(CYAN_70, (10, 24, 60, 40))], {"Cyan": [((10, 24, 60, 40), 70)]}, id="later"
        ),
        pytest.param([area(CYAN_70, BOX), text(WHITE, size_pt=9.0)], CYAN, id="white"),
        pytest.param([area(CYAN_70, BOX), text(cmyk(0, 0, 0, 40), size_pt=9.0)], CYAN, id="gray type"),
        pytest.param([picture(BOX), text(K100, size_pt=9.0)], {"Black": [(BOX, 40.0)]}, id="on the black of a picture"),
    ],
)
def test_no_knock_out(things, spread):
    assert findings(*things, spread=spread) == []


# --- thin solid ------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "thing",
    [
        pytest.param(area(K100, (10, 10, 40, 30)), id="CMYK"),
        pytest.param(area(GRAY_BLACK, (10, 10, 40, 30)), id="gray"),
        pytest.param(area(spot("Black"), (10, 10, 40, 30)), id="separation"),
        pytest.param(line(K100, (10, 10, 40, 30), 20 * 72 / 25.4), id="a very thick stroke"),
        pytest.param(area(K100, (10, 10, 40, 30), inside=("form",)), id="nested"),
    ],
)
def test_a_large_solid_of_black_alone(thing):
    (finding,) = findings(thing, spread={"Black": [((10, 10, 40, 30), 100.0)]})
    assert (finding.id, finding.severity) == ("black.thin-solid", "note")
    assert finding.measured == pytest.approx(600.0)
    assert (finding.limit, finding.unit) == (400.0, "mm2")


@pytest.mark.parametrize(
    ("things", "spread", "order"),
    [
        pytest.param([area(K100, (10, 10, 30, 30))], {}, {}, id="at the limit"),
        pytest.param([area(K_GROUND, BOX)], {}, {}, id="a tint"),
        pytest.param([area(RICH_BLACK, BOX)], {}, {}, id="enriched"),
        pytest.param([area(K100, (90, 10, 140, 40))], {}, {}, id="mostly off the page"),
        pytest.param([area(K100, BOX, shape=Shape(None, 300.0))], {}, {}, id="a small shape in a large box"),
        pytest.param([area(K100, BOX)], {}, {"inks": ("Black",)}, id="a job in black"),
        pytest.param([area(K100, BOX)], {}, {"inks": ("Black", "Fern Green")}, id="a job in black and a spot"),
        pytest.param(
            [area(CYAN_70, BOX), area(K100, BOX, overprint=True, overprint_mode=1)],
            CYAN,
            {},
            id="enriched by overprint",
        ),
        pytest.param([picture(BOX)], {"Black": [(BOX, 100.0)]}, {}, id="picture"),
        pytest.param([area(K100, (0, 10, 100, 14.9))], {}, {}, id="a broad rule"),
        pytest.param([line(K100, (0, 10, 100, 60), 12.0, length_mm=300.0)], {}, {}, id="a thick curve"),
    ],
)
def test_no_thin_solid(things, spread, order):
    assert findings(*things, spread=spread, **order) == []


def test_a_four_colour_job_may_be_enriched():
    found = findings(area(K100, BOX), spread={"Black": [(BOX, 100.0)]}, inks=("Cyan", "Magenta", "Yellow", "Black"))
    assert ids(found) == ["black.thin-solid note"]


def test_a_solid_is_told_without_plates():
    page = page_with(area(K100, BOX))
    assert page.plates is None
    job = job_of()
    assert ids(judged("black", page_answers("black", page, job), job)) == ["black.thin-solid note"]
