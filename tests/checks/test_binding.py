"""Creep and spine: the worked examples of the trade, and what must be left alone."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from artwork import Book, rectangle
from by_hand import document_of, file_answers, ids, job_of, judged, not_judged, page_answers, summary
from inked import WHITE, area, page_with, text
from whole import found_in

from preflight.bindery import Creep, spine_width_mm
from preflight.findings import Finding
from preflight.inventory.model import Painted

MM_PER_INCH = 25.4
STITCHED = {"binding": "saddle-stitch", "pages": 64, "caliper_mm": 0.1}


def on_page(number: int, *things: Painted, pages: int = 64, **order: Any) -> list[Finding]:
    job = job_of(**(STITCHED | order))
    answers = page_answers("binding", page_with(*things, spread={}, number=number), job, document_of(pages=pages))
    return judged("binding", answers, job)


def text_from_face(distance_mm: float, number: int, **facts: Any) -> Painted:
    """Text that ends so far from the face edge of a page of 100 mm."""
    box = (60.0, 30.0, 100.0 - distance_mm, 33.0) if number % 2 else (distance_mm, 30.0, 40.0, 33.0)
    return text(box=box, **facts)


# --- arithmetic ------------------------------------------------------------------------------------------------------


def test_the_whole_push_out_of_64_pages_of_a_tenth_of_a_millimetre():
    # The published example: (64 / 4) x 0.1 mm.
    assert Creep(64, 0.1).total_mm == pytest.approx(1.6)


@pytest.mark.parametrize(
    ("page", "sheet"),
    [(1, 1), (2, 1), (3, 2), (4, 2), (31, 16), (32, 16), (33, 16), (34, 16), (61, 2), (62, 2), (63, 1), (64, 1)],
)
def test_which_sheet_a_page_is_on(page, sheet):
    # Pages on one side of a sheet sum to the count plus one: 1 with 64 and 2 with 63; 31 with 34 and 32 with 33.
    assert Creep(64, 0.1).sheet_of(page) == sheet


def test_push_out_goes_down_in_proportion():
    creep = Creep(64, 0.1)
    assert creep.push_out_mm(32) == pytest.approx(1.6)
    assert creep.push_out_mm(16) == pytest.approx(0.8)
    assert creep.push_out_mm(1) == pytest.approx(0.1)


@pytest.mark.parametrize(
    ("pages", "caliper_in", "spine_in"),
    [(128, 0.0039, 0.2496), (200, 0.005, 0.500)],  # printers' public tables
)
def test_published_spines(pages, caliper_in, spine_in):
    assert spine_width_mm(pages, caliper_in * MM_PER_INCH, 0.0) == pytest.approx(spine_in * MM_PER_INCH)


def test_a_metric_spine():
    # 100 g/m2 at a bulk of 1.25 is 0.125 mm; 200 pages of it 12.5 mm; a cover of 0.3 mm adds 0.6 mm.
    assert spine_width_mm(200, 100 * 1.25 / 1000, 0.3) == pytest.approx(13.1)


# --- creep -----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("number", [31, 32, 33, 34])
def test_creep_brings_text_of_inner_pages_too_close_to_the_face(number):
    (finding,) = on_page(number, text_from_face(4.0, number))
    assert (finding.id, finding.severity, finding.page) == ("binding.creep", "ask", number)
    assert finding.measured == pytest.approx(2.4)  # 4.0 - 1.6
    assert (finding.limit, finding.unit) == (3.0, "mm")
    assert finding.details["push_out_mm"] == 1.6
    assert finding.details["total_push_out_mm"] == 1.6
    assert finding.details["margin_mm"] == 4.0
    assert (finding.details["sheet"], finding.details["sheets"]) == (16, 16)
    assert finding.details["edge"] == ("right" if number % 2 else "left")
    assert "1.6 mm" in finding.message


def test_the_page_count_of_the_file_stands_in_for_the_tickets():
    assert ids(on_page(32, text_from_face(4.0, 32), pages=None)) == ["binding.creep ask"]
    job = job_of(binding="saddle-stitch", caliper_mm=0.1)
    page = page_with(text_from_face(4.0, 32), spread={}, number=32)
    (finding,) = judged("binding", page_answers("binding", page, job, document_of(pages=64)), job)
    assert finding.measured == pytest.approx(2.4)


def test_text_that_was_too_close_anyway_is_told_where_creep_matters():
    assert ids(on_page(32, text_from_face(2.5, 32))) == ["binding.creep ask"]
    assert ids(on_page(1, text_from_face(2.5, 1))) == []


@pytest.mark.parametrize(
    ("number", "things", "order"),
    [
        pytest.param(1, [text_from_face(3.2, 1)], {}, id="an outer sheet"),
        pytest.param(64, [text_from_face(3.2, 64)], {}, id="the other half of it"),
        pytest.param(32, [text_from_face(4.6, 32)], {}, id="exactly enough"),
        pytest.param(32, [text(box=(60, 30, 96, 33))], {}, id="near the spine, not the face"),
        pytest.param(32, [area(None, (4, 30, 14, 40))], {}, id="no text"),
        pytest.param(32, [text_from_face(4.0, 32, colour=WHITE)], {}, id="white on paper"),
        pytest.param(32, [text_from_face(-2.0, 32)], {}, id="cut on purpose"),
        pytest.param(32, [text_from_face(4.0, 32)], {"caliper_mm": 0.05}, id="thin paper"),
        pytest.param(8, [text_from_face(4.0, 8)], {"pages": 16}, id="few pages"),
        pytest.param(32, [text_from_face(4.0, 32)], {"binding": "perfect"}, id="not stitched"),
        pytest.param(32, [text_from_face(4.0, 32)], {"part": "cover"}, id="a cover"),
        pytest.param(32, [text_from_face(4.0, 32)], {"caliper_mm": None}, id="no caliper"),
    ],
)
def test_no_creep(number, things, order):
    assert on_page(number, *things, **order) == []


def whole(margins: tuple[float, float, float, float] | None, **order: Any) -> tuple[list[Finding], list[str]]:
    job = job_of(**(STITCHED | order))
    pages = [replace(summary(number), text_margins_mm=margins) for number in range(1, 65)]
    answers = file_answers("binding", pages, job, document_of(pages=64))
    return judged("binding", answers, job), not_judged(answers)


@pytest.mark.parametrize("margins", [(12.0, 12.0, 12.0, 12.0), None])
def test_creep_over_a_millimetre_that_hurts_nothing_is_a_note(margins):
    (finding,), nothing = whole(margins)
    assert (finding.id, finding.severity, finding.page) == ("binding.creep", "note", None)
    assert finding.details["mild"] is True
    assert (finding.measured, finding.limit) == (1.6, 1.0)
    assert nothing == []


def test_no_note_where_text_is_hurt_or_creep_is_small():
    assert whole((4.0, 12.0, 4.0, 12.0))[0] == []
    assert whole((12.0, 12.0, 12.0, 12.0), caliper_mm=0.06)[0] == []


def test_without_a_caliper_it_says_so():
    found, words = whole((12.0, 12.0, 12.0, 12.0), caliper_mm=None)
    assert found == []
    assert ["caliper_mm" in word for word in words] == [True]


def test_without_a_ticket_it_says_so():
    assert len(not_judged(file_answers("binding", [summary()], job_of()))) == 1
    assert not_judged(file_answers("binding", [summary()], job_of(binding="none"))) == []


# --- spine -----------------------------------------------------------------------------------------------------------

COVER = {
    "part": "cover",
    "binding": "perfect",
    "trim_mm": (309.1, 210.0),
    "spine_mm": 13.1,
    "pages": 200,
    "caliper_mm": 0.125,
    "cover_caliper_mm": 0.3,
}


def cover(size: tuple[float, float] = (309.1, 210.0), **order: Any) -> tuple[list[Finding], list[str]]:
    job = job_of(**(COVER | order))
    answers = file_answers("binding", [summary(1, size)], job, document_of(pages=1))
    return judged("binding", answers, job), not_judged(answers)


def test_a_spine_that_is_too_narrow():
    (finding,), _ = cover((306.0, 210.0), trim_mm=(306.0, 210.0), spine_mm=10.0)
    assert (finding.id, finding.severity, finding.page) == ("binding.spine-width", "ask", 1)
    assert (finding.measured, finding.limit) == (10.0, 13.1)
    assert finding.details["difference_mm"] == -3.1
    assert finding.box_mm == [148.0, 0.0, 158.0, 210.0]  # 10 mm in the middle of 306 mm
    assert "13.1 mm" in finding.message
    assert "13.1 mm" in finding.remedy


def test_a_file_made_wider_than_ordered_was_made_for_a_wider_spine():
    (finding,), _ = cover((311.0, 210.0))
    assert finding.measured == pytest.approx(15.0)


@pytest.mark.parametrize(
    ("size", "order"),
    [
        pytest.param((309.1, 210.0), {}, id="right"),
        pytest.param((309.1, 210.0), {"spine_mm": 13.6}, id="half a millimetre more"),
        pytest.param((309.1, 210.0), {"spine_mm": 12.6}, id="half a millimetre less"),
        pytest.param((210.0, 309.1), {}, id="lying on its side"),
        pytest.param((309.1, 210.0), {"binding": "saddle-stitch", "spine_mm": 5.0}, id="stitched: no spine"),
        pytest.param((309.1, 210.0), {"part": "body", "spine_mm": 5.0}, id="not the cover"),
    ],
)
def test_spines_left_alone(size, order):
    assert cover(size, **order)[0] == []


@pytest.mark.parametrize("lacking", ["caliper_mm", "spine_mm", "pages"])
def test_what_the_ticket_lacks_for_the_spine_is_said(lacking):
    found, words = cover(**{lacking: None, "spine_mm": None if lacking == "spine_mm" else 5.0})
    assert found == []
    assert [lacking in word for word in words] == [True]


def test_without_the_covers_caliper_only_a_spine_that_is_wrong_for_any_cover_is_told():
    assert ids(cover(cover_caliper_mm=None, spine_mm=10.0)[0]) == ["binding.spine-width ask"]
    found, words = cover(cover_caliper_mm=None)
    assert found == []
    assert "cover_caliper_mm" in words[0]


@pytest.mark.parametrize(("width", "spine"), [(309.1, 13.1), (306.0, 10.0)])
def test_a_cover_as_a_pdf(tmp_path, width, spine):
    book = Book()
    for _ in range(2):
        book.page(f"1 0 0 0 k {rectangle(20, 20, 30, 30)} f", trim_mm=(width, 210.0))
    found = found_in(book, tmp_path, "binding", **(COVER | {"trim_mm": (width, 210.0), "spine_mm": spine}))
    assert [finding.measured for finding in found] == ([] if spine == 13.1 else [10.0])
