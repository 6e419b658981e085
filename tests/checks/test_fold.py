"""Panels of folded leaflets: worked examples of the trade, and what must be left alone."""

from __future__ import annotations

from typing import Any

import pytest
from artwork import Book, rectangle
from by_hand import file_answers, ids, job_of, judged, not_judged, summary
from whole import found_in

from preflight.findings import Finding

A4 = (297.0, 210.0)
IN = 25.4


def panels(*panels_mm: float, size: tuple[float, float] = A4, fold: str = "letter", **order: Any) -> list[Finding]:
    job = job_of(fold=fold, panels_mm=panels_mm, binding="fold", **order)
    return judged("fold", file_answers("fold", [summary(1, size), summary(2, size)], job), job)


@pytest.mark.parametrize(
    ("widths", "size", "fold"),
    [
        # 3-11/16 + 3-11/16 + 3-5/8 in = 11.000 in (design reference)
        pytest.param(
            ((3 + 11 / 16) * IN, (3 + 11 / 16) * IN, (3 + 5 / 8) * IN), (11 * IN, 8.5 * IN), "letter", id="11 inches"
        ),
        # 100 + 100 + 97 = 297 mm (designer's practice)
        pytest.param((100, 100, 97), A4, "letter", id="A4"),
        pytest.param((99, 99.5, 98.5), A4, "letter", id="light stock"),
        pytest.param((100, 100, 97), (210.0, 297.0), "letter", id="along the height"),
        pytest.param((100, 100, 97.5), A4, "letter", id="sum within half a millimetre"),
        pytest.param((100, 100, 98, 96), (394.0, 210.0), "roll", id="roll"),
        pytest.param((100, 99, 98), A4, "roll", id="roll of three"),
        pytest.param((98.5, 100, 100, 98.5), A4, "gate", id="double gate"),
        pytest.param((73.5, 150, 73.5), A4, "gate", id="two doors on one panel"),
        pytest.param((99, 99, 99), A4, "accordion", id="accordion"),
    ],
)
def test_good_panels(widths, size, fold):
    size = (sum(widths), size[1]) if fold == "gate" else size
    assert panels(*widths, size=size, fold=fold) == []


def test_panels_that_do_not_add_up():
    (finding,) = panels(100, 100, 95)
    assert (finding.id, finding.severity, finding.page) == ("fold.panels", "ask", 1)
    assert (finding.measured, finding.limit, finding.unit) == (295.0, 297.0, "mm")
    assert finding.details["problem"] == "sum"
    assert finding.details["difference_mm"] == -2.0
    assert "295 mm" in finding.message
    assert "295 mm" in finding.remedy


def test_an_accordion_must_add_up_too():
    assert ids(panels(99, 99, 90, fold="accordion")) == ["fold.panels ask"]


@pytest.mark.parametrize(
    ("widths", "fold", "panel", "longest"),
    [
        pytest.param((99, 99, 99), "letter", 3, 98.5, id="letter, all equal"),
        pytest.param((97, 100, 100), "letter", 3, 96.5, id="letter, the wrong end"),
        pytest.param((98, 98, 98.9, 99), "roll", 3, 97.5, id="roll, the third"),
        pytest.param((74.25, 148.5, 74.25), "gate", 1, 73.75, id="doors that meet"),
        pytest.param((99, 99, 98, 98), "gate", 1, 98.5, id="double gate"),
    ],
)
def test_a_tucked_panel_that_is_not_shorter(widths, fold, panel, longest):
    found = panels(*widths, size=(sum(widths), 210.0), fold=fold)
    tucked = {finding.details["panel"]: finding for finding in found}
    assert panel in tucked
    assert tucked[panel].limit == pytest.approx(longest)
    assert tucked[panel].measured == pytest.approx(widths[panel - 1])
    assert tucked[panel].details["problem"] == "tucked"


def test_the_tucked_panel_is_shown_on_the_page():
    (finding,) = panels(99, 99, 99)
    assert finding.box_mm == [198.0, 0.0, 297.0, 210.0]
    (finding,) = panels(99, 99, 99, size=(210.0, 297.0))
    assert finding.box_mm == [0.0, 198.0, 210.0, 297.0]


def test_both_gate_doors_are_told():
    assert ids(panels(99, 99, 99, 99, size=(396.0, 210.0), fold="gate")) == ["fold.panels ask", "fold.panels ask"]


def test_what_is_not_judged():
    pages = [summary(1, A4)]
    assert len(not_judged(file_answers("fold", pages, job_of()))) == 1
    assert "panels_mm" in not_judged(file_answers("fold", pages, job_of(fold="letter")))[0]
    assert "panels_mm" in not_judged(file_answers("fold", pages, job_of(binding="fold")))[0]
    assert "size" in not_judged(file_answers("fold", [summary(1, None)], job_of(panels_mm=(1.0, 2.0))))[0]
    assert file_answers("fold", pages, job_of(binding="saddle-stitch")) == []


@pytest.mark.parametrize(("widths", "ids_told"), [((100, 100, 97), []), ((100, 100, 95), ["fold.panels ask"])])
def test_panels_against_a_pdf(tmp_path, widths, ids_told):
    book = Book()
    for _ in range(2):
        book.page(f"1 0 0 0 k {rectangle(20, 20, 30, 30)} f", trim_mm=A4)
    assert ids(found_in(book, tmp_path, "fold", fold="letter", binding="fold", panels_mm=widths)) == ids_told
