"""Places, figures and sizes in words, and strangers' text made harmless."""

from __future__ import annotations

import unicodedata

import pytest
from hypothesis import given
from hypothesis import strategies as st
from report.sample import HOSTILE, finding, report

from preflight.findings import Severity
from preflight.report.words import (
    alike,
    alike_places,
    artwork_words,
    box_words,
    bytes_words,
    counts_words,
    figures,
    moment,
    page_list,
    place,
    plain,
    size,
    with_unit,
)
from preflight.units import Box

TRIM = (148.0, 210.0)


@pytest.mark.parametrize(
    ("box", "said"),
    [
        (Box(12, 30.5, 90.2, 77), "12 mm from left trim, 30 mm from top"),
        (Box(2.14, 9.96, 20, 20), "2.1 mm from left trim, 10 mm from top"),
        (Box(0, 0.03, 20, 20), "0 mm from left trim, 0 mm from top"),
        (Box(-3, 20, 40, 60), "across left trim, 20 mm from top"),
        (Box(-3, -3, 40, 60), "across left trim, across top"),
        (Box(-8, 20, -4.5, 60), "4.5 mm outside left trim, 20 mm from top"),
        (Box(150, 20, 160, 60), "2 mm outside right trim, 20 mm from top"),
        (Box(20, 213, 40, 220), "20 mm from left trim, 3 mm outside bottom"),
        (Box(-3, 20, 0, 60), "outside left trim, 20 mm from top"),
        (Box(-3, -3, 151, 213), "the whole page"),
    ],
)
def test_a_box_is_told_as_one_would_measure_it(box: Box, said: str) -> None:
    assert box_words(box, TRIM) == said


def test_a_place_names_its_page() -> None:
    assert place(finding("a.b", page=3, box=[12, 30, 20, 40])) == "page 3, 12 mm from left trim, 30 mm from top"
    assert place(finding("a.b", page=3)) == "page 3"
    assert place(finding("a.b", page=3, box=[-3, -3, 0, 213], details={"edge": "left"})) == "page 3, left edge"
    assert place(finding("a.b", page=2, details={"pages": [2, 4, 5, 6]})) == "pages 2, 4 to 6"
    assert place(finding("a.b", page=None)) == "the whole file"
    assert (
        place(finding("a.b", page=1, details={"box_px": [100, 250, 300, 400]}))
        == "page 1, 100 pixels from left, 250 from top"
    )


@pytest.mark.parametrize(
    ("measured", "limit", "unit", "said"),
    [
        (71.9, 150.0, "ppi", "71.9 ppi, limit 150 ppi"),
        (352.6, 330.0, "percent", "352.6 %, limit 330 %"),
        (0.1, 0.2, "pt", "0.1 pt, limit 0.2 pt"),
        (0.7, 0.5, "degrees", "0.7°, limit 0.5°"),
        (4.1, None, "percent", "4.1 %"),
        (None, 3.0, "mm", ""),
        (-0.001, 2.0, None, "0, limit 2"),
        (0.258, 0.264, "mm", "0.258 mm, limit 0.264 mm"),
        (0.25, 0.264, "mm", "0.25 mm, limit 0.26 mm"),
        (1200.4, 1200.0, "mm2", "1200.4 mm², limit 1200 mm²"),
        (2.0, 2.0, "mm", "2 mm, limit 2 mm"),
        (1.0, 2.0, "pages", "1 page, limit 2 pages"),
        (1.0, 4.0, "modules", "1 module, limit 4 modules"),
    ],
)
def test_measured_against_limit(measured: float | None, limit: float | None, unit: str | None, said: str) -> None:
    assert figures(finding("a.b", measured=measured, limit=limit, unit=unit)) == said


@pytest.mark.parametrize(
    ("pages", "said"),
    [([3], "3"), ([1, 2], "1, 2"), ([4, 2, 1, 3, 9], "1 to 4, 9"), ([5, 5, 7, 8], "5, 7, 8"), ([], "")],
)
def test_runs_of_pages_are_drawn_together(pages: list[int], said: str) -> None:
    assert page_list(pages) == said


@pytest.mark.parametrize(
    ("amount", "said"),
    [
        (None, "size unknown"),
        (0, "0 bytes"),
        (999, "999 bytes"),
        (4_812_331, "4.8 MB"),
        (12_345, "12 kB"),
        (3_200_000_000, "3.2 GB"),
    ],
)
def test_sizes_of_files(amount: int | None, said: str) -> None:
    assert bytes_words(amount) == said


def test_unknown_is_said_and_never_nothing() -> None:
    assert size(None) == "size unknown"
    assert with_unit(None, "mm") == "unknown"
    assert moment("not a time") == "not a time"


def test_the_sample_in_words() -> None:
    whole = report()

    assert counts_words(whole) == "6 stop, 4 ask, 2 notes, 1 waived, 3 not checked"
    assert artwork_words(whole) == "PDF, 16 pages, 2 trim sizes"
    assert moment(whole.made_at) == "25 Nov 2026, 09:30 UTC"


def test_findings_that_differ_in_figures_only_are_one_group_with_the_worst() -> None:
    groups = alike(report().findings)

    first = groups[0]
    assert [entry.page for entry in first.findings] == [3, 5, 9]
    assert first.worst.measured == 71.9
    assert alike_places(first) == "pages 3, 5, 9"
    # Other words, severity or waiver: another group.
    assert len(groups) == len(report().findings) - 2


def test_too_much_is_worst_where_it_is_highest() -> None:
    high = [
        finding("a.b", page=page, measured=value, limit=330.0, unit="percent")
        for page, value in ((1, 340.0), (2, 390.0))
    ]

    assert alike(high)[0].worst.page == 2


def test_severities_have_the_shops_words() -> None:
    assert {finding("a.b", severity=word).severity for word in ("stop", "ask", "note")} == set(Severity) - {
        Severity.OFF
    }


def test_hostile_text_becomes_harmless() -> None:
    said = plain(HOSTILE)

    assert "\x1b" not in said
    assert "\u202e" not in said
    said.encode("utf-8")
    assert "\n" not in said


def test_letters_of_all_scripts_stay() -> None:
    for name in ("Frühlingsführer", "春の案内", "מדריך האביב", "دليل الربيع", "каталог", "🌿 guide"):
        assert plain(name) == name


def test_long_text_is_cut_with_a_sign() -> None:
    assert plain("abcdef", 4) == "abc…"
    assert plain("abcd", 4) == "abcd"


@given(st.text(alphabet=st.characters(), max_size=40))
def test_any_text_can_be_printed_and_stored(text: str) -> None:
    """Also half characters, which no encoding can write: they are in the alphabet."""
    said = plain(text)

    said.encode("utf-8")
    assert not any(unicodedata.category(sign) in ("Cc", "Cs") for sign in said)
    assert plain(said) == said
