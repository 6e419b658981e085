"""The coverage table of a report: mean ink of each plate inside the trim, as a file and on the terminal."""

from __future__ import annotations

import csv
import io
from pathlib import Path

from preflight.findings import Report
from preflight.report.files import write_whole
from preflight.report.words import plain


def write_coverage(report: Report, folder: Path) -> Path:
    """The coverage table: mean ink of each plate inside the trim, page by page. Raises ``OSError``."""
    rows = [["page", "ink", "kind", "coverage_percent", "max_total_coverage_percent"]]
    for page in report.pages:
        highest = "" if page.max_total_coverage_percent is None else str(page.max_total_coverage_percent)
        rows += [
            [str(page.number), plate.ink, plate.kind, str(plate.coverage_percent), highest] for plate in page.plates
        ]
    folder.mkdir(parents=True, exist_ok=True)
    path = folder / "coverage.csv"
    write_whole(path, csv_bytes(rows))
    return path


def write_zones(report: Report, folder: Path) -> Path | None:
    """The ink zones of all pages as one table, from those beside each page's pictures; None where there are none."""
    rows: list[list[str]] = []
    for page in report.pages:
        path = folder / f"page-{page.number:04}" / "ink-zones.csv"
        if path.is_file():
            first, *others = csv.reader(io.StringIO(path.read_bytes().decode("utf-8", "replace")))
            rows = rows or [["page", *first]]
            rows += [[str(page.number), *row] for row in others]
    if not rows:
        return None
    target = folder / "ink-zones.csv"
    write_whole(target, _csv(rows))
    return target


def csv_bytes(rows: list[list[str]]) -> bytes:
    """Comma-separated text; a cell that a spreadsheet would run as a formula is made harmless."""
    return _csv(
        [["'" + cell if cell[:1] in ("=", "+", "-", "@", "\t", "\r") else cell for cell in row] for row in rows]
    )


def _csv(rows: list[list[str]]) -> bytes:
    text = io.StringIO()
    csv.writer(text, lineterminator="\r\n").writerows(rows)
    return text.getvalue().encode("utf-8", "backslashreplace")


def coverage_lines(report: Report) -> list[str]:
    """The table as lines of text for a terminal, inks by their names in the file made safe."""
    lines = [f"{'page':>4}  {'plate':28} {'kind':10} {'mean in trim':>12}"]
    for page in report.pages:
        for plate in page.plates:
            lines.append(
                f"{page.number:>4}  {plain(plate.ink, 28):28} {plate.kind:10} {plate.coverage_percent:>10.2f} %"
            )
        if page.max_total_coverage_percent is not None:
            lines.append(
                f"{page.number:>4}  {'highest total ink':28} {'':10} {page.max_total_coverage_percent:>10.1f} %"
            )
    return lines
