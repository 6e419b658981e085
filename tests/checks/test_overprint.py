"""Overprint judged from facts written by hand: what is told of a change, and what its size decides."""

from __future__ import annotations

import pytest
from by_hand import ids, job_of, judged, page_answers, page_of, painted

from preflight.findings import Finding, Unchecked
from preflight.inventory.model import Colour, OverprintChange, TextRun
from preflight.units import Box

CMYK = ("Cyan", "Magenta", "Yellow", "Black")
WHITE = Colour("cmyk", inks=CMYK, values=(0.0, 0.0, 0.0, 0.0))
FERN = Colour("separation", inks=("Fern Green",), values=(1.0,))
TYPE = TextRun("Garden", 12.0, 9, 9)
JOB = job_of()


def change(effect: str, area: float = 20.0, **facts) -> OverprintChange:
    values = {"object_order": 0, "plates_percent": {"Cyan": 70.0}} | facts
    return OverprintChange(Box(10.0, 10.0, 15.0, 14.0), area, 40.0, effect, **values)


def findings(*changes: OverprintChange, **thing) -> list[Finding]:
    values = {"kind": "fill", "overprint": True, "overprint_mode": 1} | thing
    colour = values.pop("colour", WHITE)
    page = page_of(painted(colour, **values), overprint_changes=changes)
    return judged("overprint", page_answers("overprint", page, JOB), JOB)


def test_what_vanishes_is_named():
    (finding,) = findings(change("vanishes"), kind="text", text=TYPE)
    assert ids([finding]) == ["overprint.vanishes stop"]
    assert finding.box_mm == [10.0, 10.0, 15.0, 14.0]
    assert (finding.measured, finding.limit, finding.unit) == (None, None, None)
    assert finding.message.startswith("Type in white is set to overprint and leaves no mark: Cyan 70 %")
    assert finding.details["on_the_plates_percent"] == {"Cyan": 70.0}


def test_a_coloured_thing_that_vanishes_is_told_by_its_inks():
    meant = {"Yellow": 30.0}
    (finding,) = findings(change("vanishes", inks=("Yellow",), meant_percent=meant, plates_percent={"Black": 100.0}))
    assert "An area in Yellow" in finding.message


@pytest.mark.parametrize(("area", "said"), [(15.0, []), (15.1, ["overprint.changes ask"])])
def test_an_area_is_asked_about_from_its_size_on(area, said):
    found = findings(change("changes", area, inks=("Fern Green",), meant_percent={"Fern Green": 100.0}), colour=FERN)
    assert ids(found) == said
    for finding in found:
        assert (finding.measured, finding.limit, finding.unit) == (area, 15.0, "mm2")
        assert "instead of Fern Green 100 %" in finding.message


def test_pieces_of_one_logo_are_one_finding():
    piece = change("vanishes")
    moved = OverprintChange(Box(16.0, 10.0, 20.0, 14.0), 16.0, 40.0, "vanishes", 0)
    (finding,) = findings(piece, moved)
    assert (finding.count, finding.box_mm) == (2, [10.0, 10.0, 20.0, 14.0])


def test_nothing_overprints():
    assert findings() == []


def test_what_could_not_be_compared_is_unchecked():
    from preflight.checking import run_on_page

    page = page_of(unknown={"overprint": "overprint could not be read"})
    from by_hand import document_of

    answers = [answer for name, answer in run_on_page(page, document_of(), JOB) if name == "overprint"]
    assert answers == [Unchecked("overprint", 1, "overprint could not be read")]
