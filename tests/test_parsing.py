"""Tickets, rules, reports and kept results spoilt at random: refused in one line, or fit for use; ``hostile/fuzz.py`` goes on for hours."""

from __future__ import annotations

import json
import tempfile
from functools import cache
from pathlib import Path

import pytest
from hostile.parsing import TARGETS, seeds
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from preflight.errors import UsageFault
from preflight.report.json_report import report_from_json

#: What people and programs put where something else was meant.
ODD = (
    *("0", "-1", "1e999", "1e300", "nan", "-inf", "9" * 30, "9" * 5000, "true", "null", '""', "[]", "{}", "[[[[1]]]]"),
    *(r'"\u0000"', r'"\ud800"', r'"\u202egnp"', "2026-13-01", "2026-03-02T25:00:00", "1979-05-27 07:32:00Z", "0x_1"),
    *("[shop.de]", 'extends = "shop"', 'severity = { low = "of" }', "\x00", "'''", "=", '"', "\n", "a.b.c = 1", "#"),
)


@cache
def good() -> dict[str, list[str]]:
    return {kind: [seed.decode() for seed in texts] for kind, texts in seeds().items()}


@st.composite
def spoilt(draw, kind):
    """A good text in which words and figures were put in place of others, lines dropped, doubled and moved."""
    lines = draw(st.sampled_from(good()[kind])).splitlines()
    for _ in range(draw(st.integers(0, 4))):
        at = draw(st.integers(0, len(lines) - 1))
        match draw(st.sampled_from(("value", "drop", "double", "move", "cut", "odd", "text"))):
            case "value":
                before, sign, _ = lines[at].partition("=" if "=" in lines[at] else ":")
                comma = "," if lines[at].endswith(",") else ""
                lines[at] = f"{before}{sign} {draw(st.sampled_from(ODD))}{comma}"
            case "drop":
                del lines[at : at + draw(st.integers(1, 3))]
            case "double":
                lines.insert(at, lines[at])
            case "move":
                lines.insert(draw(st.integers(0, len(lines) - 1)), lines.pop(at))
            case "cut":
                lines[at] = lines[at][: draw(st.integers(0, len(lines[at])))]
            case "odd":
                lines.insert(at, draw(st.sampled_from(ODD)))
            case _:
                lines[at] = draw(st.text(max_size=30)).join(lines[at].partition(" "))
        lines = lines or [""]
    return "\n".join(lines).encode("utf-8", draw(st.sampled_from(("surrogatepass", "replace"))))


@pytest.mark.parametrize("kind", TARGETS)
def test_good_ones_are_taken(kind, tmp_path):
    for text in good()[kind]:
        assert TARGETS[kind](text.encode(), tmp_path) is True


@pytest.mark.parametrize("kind", TARGETS)
def test_spoilt_ones_are_refused_in_one_line_or_fit_for_use(kind):
    @settings(max_examples=120, deadline=None, suppress_health_check=list(HealthCheck))
    @given(spoilt(kind))
    def held(data):
        with tempfile.TemporaryDirectory() as folder:
            TARGETS[kind](data, Path(folder))

    held()


@pytest.mark.parametrize(
    ("field", "odd"),
    [
        ("box_mm", [1, 2, 3, 4, 5]),
        ("box_mm", [1, 2]),
        ("boxes_mm", [[1, 2, 3, "4"]]),
        ("boxes_mm", 7),
        ("trim_mm", [1]),
        ("picture_mm", []),
    ],
)
def test_boxes_of_a_report_read_back_are_boxes(field, odd):
    whole = json.loads(good()["report"][0])
    assert report_from_json(json.dumps(whole)).findings
    held = whole["pages"][0] if field in whole["pages"][0] else whole["findings"][0]
    (held if field in held else held["details"])[field] = odd
    with pytest.raises(UsageFault, match=rf"{field}: expected \d numbers"):
        report_from_json(json.dumps(whole))
