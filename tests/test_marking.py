"""The marked copy is made in a child process: whole, or not at all and with a reason."""

from __future__ import annotations

import json
import os
from dataclasses import replace
from pathlib import Path

import pikepdf
import pytest
from artwork import Book, rectangle
from click.testing import CliRunner
from report.sample import finding, report

from preflight.cli import main
from preflight.findings import FileReport, Report
from preflight.isolate import Limits
from preflight.marking import mark_in_child


def a_report(*, found: bool = True) -> Report:
    findings = [finding("resolution.low", box=[10, 5, 40, 20])] if found else []
    return replace(report(pages=1), findings=findings, file=FileReport("art.pdf", "00" * 32, 1, "pdf", 1))


@pytest.fixture
def source(tmp_path: Path) -> Path:
    book = Book()
    book.page(f"0 0 0 1 k {rectangle(10, 60, 30, 15)} f")
    return book.save(tmp_path / "art.pdf")


def test_a_copy_is_made(source: Path, tmp_path: Path) -> None:
    assert mark_in_child(source, a_report(), tmp_path / "marked.pdf") is None

    with pikepdf.open(tmp_path / "marked.pdf") as copy:
        assert len(copy.pages[0].Annots) == 1
    assert sorted(os.listdir(tmp_path)) == ["art.pdf", "marked.pdf"]


def test_where_nothing_was_found_there_is_no_copy_and_a_former_one_goes(source: Path, tmp_path: Path) -> None:
    (tmp_path / "marked.pdf").write_text("of the former run")

    assert mark_in_child(source, a_report(found=False), tmp_path / "marked.pdf") == "nothing was found"
    assert mark_in_child(source, replace(a_report(), pages=[]), tmp_path / "marked.pdf") == "there are no pages to mark"
    assert os.listdir(tmp_path) == ["art.pdf"]


@pytest.mark.parametrize("limits", [Limits(time_s=0.001), Limits(memory_mb=1)])
def test_a_copy_that_cannot_be_made_leaves_nothing_behind(source: Path, tmp_path: Path, limits: Limits) -> None:
    why = mark_in_child(source, a_report(), tmp_path / "marked.pdf", limits)

    assert why
    assert os.listdir(tmp_path) == ["art.pdf"]


def test_a_file_that_was_taken_away_meanwhile_is_told(tmp_path: Path) -> None:
    why = mark_in_child(tmp_path / "gone.pdf", a_report(), tmp_path / "marked.pdf")

    assert "cannot be read" in (why or "")


def test_the_set_of_reports_has_a_marked_copy_with_the_reports_numbers(source: Path, tmp_path: Path) -> None:
    book = Book()
    book.page(f"0 0 0 1 K 0.05 w {rectangle(20, 20, 30, 15)} S", bleed_mm=None, boxes={"TrimBox": None})
    faulty = book.save(tmp_path / "faulty.pdf")

    CliRunner().invoke(main, ["check", str(faulty), "--out", str(tmp_path / "out")])

    [folder] = (tmp_path / "out").iterdir()
    told = json.loads((folder / "report.json").read_text(encoding="utf-8"))
    with pikepdf.open(folder / "marked.pdf") as copy:
        said = [str(entry.Contents) for entry in copy.pages[0].Annots]
    assert len(said) == len(told["findings"]) > 0
    assert sorted(int(words.partition(".")[0]) for words in said) == list(range(1, len(said) + 1))
