"""The second picture beside a finding's own: the page without overprint, and an edge a tenth of a millimetre out of register."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest
from artwork import Book, rectangle
from PIL import Image
from whole import job_for, report_of

from preflight.findings import Finding
from preflight.flow import Examined, conclude, examine_page
from preflight.inventory.opening import open_artwork
from preflight.inventory.render import PlatePixels
from preflight.report.beside import CLOSE_MM, moved_plates
from preflight.report.files import write_reports
from preflight.report.html import html_report

CYAN = f"1 0 0 0 k {rectangle(10, 20, 70, 40)} f"
PATCH = rectangle(30, 30, 30, 20)


def reported(content: str, folder: Path) -> tuple[Any, Path]:
    """The report on a page, with its pictures."""
    book = Book()
    book.page(content, resources={"On": book.state(OP=True, op=True, OPM=1)})
    path, pictures, job = book.save(folder / "art.pdf"), folder / "drawn", job_for()
    pictures.mkdir()
    with open_artwork(path, name=path.name, job=job) as artwork:
        examined = Examined(path.name, artwork.facts)
        examined.results[1] = examine_page(artwork, 1, artwork.facts, job, pictures)
    return conclude(examined, job, 0.0), pictures


def only(report: Any, identifier: str) -> Finding:
    (finding,) = (finding for finding in report.findings if finding.id == identifier)
    return finding


def levels(path: Path) -> np.ndarray:
    return np.asarray(Image.open(path).convert("RGB")).astype(int)


def test_white_that_vanished_is_seen_beside_the_plates(tmp_path: Path) -> None:
    report, pictures = reported(f"{CYAN} /On gs 0 0 0 0 k {PATCH} f", tmp_path)
    details = only(report, "overprint.vanishes").details
    plates, without = (levels(pictures / details[key]) for key in ("picture", "picture_without_overprint"))
    assert plates.shape == without.shape
    middle = (slice(plates.shape[0] // 2 - 5, plates.shape[0] // 2 + 5), slice(plates.shape[1] // 2, None))
    assert without[middle][:, :10].min() > 245  # paper
    assert plates[middle][:, :10, 0].max() < 60  # cyan takes the red


def test_an_edge_out_of_register_shows_a_tenth_of_a_millimetre_of_paper(tmp_path: Path) -> None:
    content = f"1 0 0 0 k {rectangle(10, 20, 30, 40)} f 0 1 0 0 k {rectangle(40, 20, 30, 40)} f"
    report, pictures = reported(content, tmp_path)
    finding = only(report, "trap.gap")
    seen = levels(pictures / finding.details["picture_out_of_register"])
    pixels_per_mm = seen.shape[1] / CLOSE_MM[0]
    row = seen[seen.shape[0] // 2]
    paper = np.flatnonzero(row.min(axis=1) > 200)
    assert len(paper) / pixels_per_mm == pytest.approx(0.1, abs=0.035)
    assert paper[0] / pixels_per_mm == pytest.approx(CLOSE_MM[0] / 2, abs=0.1)
    assert row[0, 0] < 60 < 200 < row[-1, 0]  # cyan on the left, magenta on the right


@pytest.mark.parametrize(
    ("towards", "expected"),
    [([1, 0], [0, 0, 1, 2]), ([-1, 0], [1, 2, 3, 3])],
)
def test_plates_are_moved_by_whole_pixels(towards: list[int], expected: list[int]) -> None:
    plane = np.arange(4, dtype=np.uint8).reshape(1, 4).repeat(4, axis=0)
    plates = PlatePixels(("Cyan", "Magenta"), (plane, plane), (0.0, 0.0), 30.0, None)  # type: ignore[arg-type]
    moved = moved_plates(plates, {"Magenta"}, towards, 1 / 30)
    assert moved.planes[0].tolist() == plane.tolist()
    assert moved.planes[1][0].tolist() == expected
    upright = PlatePixels(("Cyan", "Magenta"), (plane.T, plane.T), (0.0, 0.0), 30.0, None)  # type: ignore[arg-type]
    assert moved_plates(upright, {"Magenta"}, towards[::-1], 1 / 30).planes[1][:, 0].tolist() == expected


def test_both_pictures_are_filed_and_shown(tmp_path: Path) -> None:
    report, pictures = reported(f"{CYAN} /On gs 0 0 0 0 k {PATCH} f", tmp_path)
    folder = write_reports(report, tmp_path / "out", pictures)
    listed = {path.name for path in (folder / "pictures").iterdir()}
    assert only(report, "overprint.vanishes").details["picture_without_overprint"] in listed
    page = (folder / "report.html").read_text(encoding="utf-8")
    assert "Without overprint, as most screens show it" in page
    assert "picture_without_overprint" not in page
    # Without pictures the page holds neither.
    assert "as most screens show it" not in html_report(report)


def test_findings_of_other_checks_have_one_picture(tmp_path: Path) -> None:
    report, _ = reported(f"0 0 0 1 k {rectangle(10, 20, 30, 20)} f", tmp_path)
    assert report.findings
    assert not [key for finding in report.findings for key in finding.details if key.startswith("picture_")]


def test_a_report_without_pictures_draws_nothing(tmp_path: Path) -> None:
    book = Book()
    book.page(f"{CYAN} /On gs 0 0 0 0 k {PATCH} f", resources={"On": book.state(OP=True, op=True, OPM=1)})
    report = report_of(book.save(tmp_path / "art.pdf"))
    assert not [key for finding in report.findings for key in finding.details if key.startswith("picture")]
