"""Tints too light to print, and what must be left alone."""

from __future__ import annotations

import pytest
from by_hand import ids, job_of, judged, page_answers
from inked import CYAN_70, Spread, area, cmyk, line, page_with, picture, spot, text

from preflight.findings import Finding
from preflight.inventory.model import Colour, Painted

BOX = (10.0, 10.0, 60.0, 40.0)


def findings(*things: Painted, spread: Spread | None = None, rules: str = "sheetfed-coated") -> list[Finding]:
    job = job_of(rules)
    return judged("tint", page_answers("tint", page_with(*things, spread=spread or {}), job), job)


@pytest.mark.parametrize(
    ("thing", "measured"),
    [
        pytest.param(area(cmyk(2, 0, 0, 0), BOX), 2.0, id="fill"),
        pytest.param(area(cmyk(2, 1, 2.5, 0), BOX), 2.5, id="several inks, all light"),
        pytest.param(area(Colour("gray", inks=("Black",), values=(0.98,)), BOX), 2.0, id="gray"),
        pytest.param(area(spot("Fern Green", 2), BOX), 2.0, id="spot"),
        pytest.param(text(cmyk(0, 0, 0, 2)), 2.0, id="text"),
        pytest.param(line(cmyk(0, 0, 0, 2), (10, 10, 60, 11), 3.0), 2.0, id="line"),
        pytest.param(area(cmyk(10, 0, 0, 0), BOX, alpha=0.2), 2.0, id="thinned by transparency"),
        pytest.param(area(cmyk(2, 0, 0, 0), BOX, inside=("pattern",)), 2.0, id="in a pattern"),
        pytest.param(area(cmyk(2, 0, 0, 0), BOX, kind="image-mask", shape=None), 2.0, id="stencil"),
    ],
)
def test_a_flat_tint_that_is_too_light(thing, measured):
    (finding,) = findings(thing)
    assert (finding.id, finding.severity) == ("tint.too-light", "note")
    assert (finding.measured, finding.limit, finding.unit) == (pytest.approx(measured, abs=0.01), 3.0, "percent")


@pytest.mark.parametrize(
    "things",
    [
        pytest.param([area(cmyk(3, 0, 0, 0), BOX)], id="at the limit"),
        pytest.param([area(cmyk(2.9, 0, 0, 0), BOX)], id="8-bit rounding of 3 %"),
        pytest.param([area(cmyk(100, 2, 0, 0), BOX)], id="a trace beside a strong ink"),
        pytest.param([area(cmyk(0, 0, 0, 0), BOX)], id="white"),
        pytest.param([area(None, BOX, kind="shading", shape=None)], id="gradient"),
        pytest.param([picture(BOX)], id="picture"),
        pytest.param([area(cmyk(2, 0, 0, 0), BOX, covered=True)], id="covered"),
        pytest.param([area(cmyk(2, 0, 0, 0), BOX, inside=("soft-mask",))], id="in a soft mask"),
        pytest.param([area(spot("Varnish", 2), BOX)], id="finishing"),
        pytest.param([area(cmyk(t, 0, 0, 0), (10 + t, 10, 11 + t, 40)) for t in range(1, 8)], id="steps of a gradient"),
        pytest.param(
            [area(cmyk(t, 0, 0, 0), (10 + t, 10 + t, 60 - t, 40 - t)) for t in range(1, 8)], id="nested steps"
        ),
        pytest.param([area(Colour("icc-rgb", values=(0.99, 0.99, 0.99)), BOX)], id="a converted colour is not known"),
    ],
)
def test_tints_left_alone(things):
    assert findings(*things) == []


def test_a_shade_over_a_picture_is_no_tint_of_its_own():
    shade = area(cmyk(0, 0, 0, 100), BOX, alpha=0.02)
    assert findings(area(CYAN_70, BOX), shade, spread={"Cyan": [(BOX, 69.0)]}) == []
    assert ids(findings(shade)) == ["tint.too-light note"]


def test_two_tints_side_by_side_are_no_gradient():
    assert ids(findings(area(cmyk(2, 0, 0, 0), BOX), area(cmyk(10, 0, 0, 0), (10, 40, 60, 60)))) == [
        "tint.too-light note"
    ]


def test_newsprint_loses_more():
    (finding,) = findings(area(cmyk(4, 0, 0, 0), BOX), rules="newsprint")
    assert finding.limit == 5.0
    assert findings(area(cmyk(5, 0, 0, 0), BOX), rules="newsprint") == []
