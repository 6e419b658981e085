"""Edges with no overlap judged from facts written by hand, by printing condition."""

from __future__ import annotations

import pytest
from by_hand import document_of, ids, job_of, judged, page_answers, page_of

from preflight.checking import run_on_page
from preflight.findings import Finding, Unchecked
from preflight.inventory.model import TrapEdge
from preflight.units import Box


def edge(length: float = 30.0, inks: tuple[str, str] = ("Cyan", "Magenta"), x: float = 10.0) -> TrapEdge:
    return TrapEdge(Box(x, 10.0, x, 40.0), length, inks, 4.0, (x, 25.0), (1, 0))


def findings(*edges: TrapEdge, rules: str = "sheetfed-coated") -> list[Finding]:
    job = job_of(rules)
    return judged("trap", page_answers("trap", page_of(trap_edges=edges), job), job)


@pytest.mark.parametrize(("length", "said"), [(2.0, []), (2.1, ["trap.gap note"])])
def test_an_edge_is_told_from_its_length_on(length, said):
    found = findings(edge(length))
    assert ids(found) == said
    for finding in found:
        assert (finding.measured, finding.limit, finding.unit, finding.stage) == (2.1, 2.0, "mm", "press")


#: Trap widths: half a screen row at 150 lines an inch is 25.4 / 300 = 0.085 mm; the published values are these.
@pytest.mark.parametrize(
    ("rules", "width"), [("sheetfed-coated", "0.08"), ("heatset-web", "0.15"), ("newsprint", "0.127")]
)
def test_the_width_asked_for_is_that_of_the_press(rules, width):
    (finding,) = findings(edge(), rules=rules)
    assert f"Trap by {width} mm" in finding.message
    assert f"overlap by {width} mm" in finding.remedy
    assert "0.1 mm of misregister" in finding.message


def test_two_pairs_of_inks_are_two_findings():
    assert len(findings(edge(), edge(inks=("Cyan", "Fern Green")), edge(x=11.0))) == 2


def test_no_edges():
    assert findings() == []


def test_edges_that_could_not_be_read_are_unchecked():
    page = page_of(unknown={"trap": "trap could not be read"})
    answers = [answer for name, answer in run_on_page(page, document_of(), job_of()) if name == "trap"]
    assert answers == [Unchecked("trap", 1, "trap could not be read")]
