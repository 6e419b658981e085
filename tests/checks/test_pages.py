"""Page counts against order and binding (trade arithmetic: four pages to a folded sheet, two to a leaf), and blank pages."""

from __future__ import annotations

from dataclasses import replace

import pytest
from by_hand import document_of, file_answers, ids, job_of, judged, not_judged, page_answers, page_of, summary

from preflight.checking import run_on_page
from preflight.findings import Unchecked
from preflight.inventory.model import CellGrid, Plates
from preflight.units import Box


def counted(count, **order):
    job = job_of(**order)
    document = document_of(pages=count)
    return judged("pages", file_answers("pages", [summary(1)], job, document), job)


def plates_of(*, blank: bool) -> Plates:
    return Plates(
        plates=(),
        zone_mm=Box(-3.0, -3.0, 103.0, 83.0),
        max_total_percent=0.0,
        window_mm2=15.0,
        ink_areas=(),
        edges=(),
        cells=CellGrid(0, 0, 0, (0.0, 0.0), 0.5),
        fingerprint="",
        profile_from="built-in",
        profile_name="",
        blank_trim=blank,
    )


def test_the_ordered_count_is_silent() -> None:
    assert counted(16, pages=16, binding="saddle-stitch") == []


@pytest.mark.parametrize(("count", "words"), [(15, "1 page too few"), (18, "2 pages too many")])
def test_another_count_than_ordered(count, words) -> None:
    (finding,) = (each for each in counted(count, pages=16) if each.id == "pages.wrong-count")
    assert ids([finding]) == ["pages.wrong-count stop"]
    assert (finding.measured, finding.limit, finding.page) == (count, 16.0, None)
    assert words in finding.message


def test_one_page_is_one() -> None:
    findings = counted(1, pages=4, binding="saddle-stitch")
    assert {finding.message.partition(":")[0] for finding in findings} == {
        "The file has 1 page, ordered are 4",
        "1 page",
    }
    assert "1 pages" not in " ".join(finding.message + finding.remedy for finding in findings)


def test_thirty_pages_cannot_be_stitched() -> None:
    """Worked example T20: 30 pages, saddle stitch: needs 32, two blanks; the count below is 28."""
    (finding,) = counted(30, binding="saddle-stitch")
    assert ids([finding]) == ["pages.binding-multiple stop"]
    assert (finding.measured, finding.limit) == (30.0, 32.0)
    assert (finding.details["blanks"], finding.details["below"]) == (2, 28)
    assert "2 blank pages" in finding.message
    assert "28" in finding.message


@pytest.mark.parametrize(
    ("count", "binding", "above"),
    [
        (4, "saddle-stitch", None),
        (32, "saddle-stitch", None),
        (33, "saddle-stitch", 36),
        (2, "saddle-stitch", 4),
        (50, "perfect", None),
        (51, "perfect", 52),
        (14, "wire", None),
        (15, "wire", 16),
        (15, "none", None),
        (15, "fold", None),
    ],
)
def test_each_binding_takes_its_multiple(count, binding, above) -> None:
    findings = counted(count, binding=binding)
    assert [finding.limit for finding in findings] == ([] if above is None else [above])


def test_a_file_may_have_the_wrong_count_and_one_that_cannot_be_bound() -> None:
    assert sorted(ids(counted(30, pages=32, binding="saddle-stitch"))) == [
        "pages.binding-multiple stop",
        "pages.wrong-count stop",
    ]


def test_the_page_count_of_a_cover_file_is_not_judged() -> None:
    """The ticket of a cover gives the pages of the book."""
    order = {"part": "cover", "pages": 127, "binding": "perfect"}
    assert counted(1, **order) == []
    assert not_judged(file_answers("pages", [summary()], job_of(**order))) != []


def test_without_a_ticket_it_is_said_once_each_what_was_not_judged() -> None:
    answers = file_answers("pages", [summary(1), summary(2)], job_of())
    assert judged("pages", answers, job_of()) == []
    assert len(not_judged(answers)) == 2


def test_a_dead_file_says_nothing_more() -> None:
    assert file_answers("pages", [], job_of(pages=4), replace(document_of(), pages=None)) == []


@pytest.mark.parametrize(
    ("blank", "order", "found"),
    [
        (True, {}, ["pages.blank ask"]),
        (False, {}, []),
        (True, {"blank_pages": (2,)}, []),
        (True, {"blank_pages": (1, 3)}, ["pages.blank ask"]),
    ],
    ids=["blank", "inked", "listed in the ticket", "others listed"],
)
def test_a_blank_page(blank, order, found) -> None:
    job = job_of(**order)
    page = page_of(number=2, plates=plates_of(blank=blank))
    findings = judged("pages", page_answers("pages", page, job), job)
    assert ids(findings) == found
    assert all(finding.page == 2 for finding in findings)


def test_a_page_whose_plates_are_unknown_is_not_called_blank_but_unchecked() -> None:
    page = page_of(unknown={"plates": "the engine gave up"})
    answers = [answer for check, answer in run_on_page(page, document_of(), job_of()) if check == "pages"]
    assert answers == [Unchecked("pages", 1, "the engine gave up")]
