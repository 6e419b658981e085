"""Pictures of one page, of its plates and of each finding on it, made by the child that still has the plates.

The composite is taken from the plates themselves, so a picture shows what will print: overprint, spot inks and all. Findings about
the whole file are only known when all pages are through; theirs are cut from the pages' pictures.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from preflight.checking import Answer
from preflight.findings import Found, Report, Severity
from preflight.inventory.model import PlatePicture
from preflight.ticket import Job
from preflight.units import Box

if TYPE_CHECKING:
    from preflight.inventory.plates import PlatePixels, Preview
    from preflight.inventory.reading import PageReading

#: Pictures of findings on one page, worst first; the others are told in words and by their box on the page picture.
MOST_PICTURES = 12
_ORDER = (Severity.STOP, Severity.ASK, Severity.NOTE)


@dataclass(frozen=True)
class Illustrated:
    """What was drawn of a page: its picture's name, what it shows in trim space, its plates; and the answers with their pictures."""

    page: tuple[str | None, Box | None, tuple[PlatePicture, ...]]
    answers: list[tuple[str, Answer]]


def illustrate(reading: PageReading, answers: list[tuple[str, Answer]], job: Job, folder: Path) -> Illustrated:
    """Writes the page's picture, those of its plates, and one for each of the worst findings.

    Names are relative to ``folder``; each finding with a picture carries it as ``details["picture"]``, and the second one of those
    that have two under the key of ``beside``. Too much ink carries its outline.
    """
    from preflight.inventory.preview import composite, made_smaller
    from preflight.report.pictures import page_picture, page_scale, picture_box_mm

    pixels = reading.pixels
    if pixels is None:
        return Illustrated((None, None, ()), answers)
    number = reading.page.number
    small = made_smaller(pixels, scale=page_scale(*pixels.planes[0].shape))
    seen = composite(small)
    name = f"page-{number:04}.jpg"
    (folder / name).write_bytes(page_picture(seen.rgb))
    plates = _write_plates(reading, small, number, folder)

    def rank(item: tuple[str, Answer]) -> int:
        found = item[1]
        if not isinstance(found, Found):
            return len(_ORDER)
        severity = job.severity_of(item[0], found.kind, mild=found.mild)
        return _ORDER.index(severity) if severity in _ORDER else len(_ORDER)

    pictured: list[tuple[str, Answer]] = []
    made = 0
    for check, said in sorted(answers, key=rank):
        answer = _outlined(reading, check, said)
        if isinstance(answer, Found) and answer.box_mm is not None and made < MOST_PICTURES:
            made += 1
            details = _picture_finding(reading, check, answer, seen, f"page-{number:04}-{made:02}-{check}", folder)
            pictured.append((check, replace(answer, details={**answer.details, **details})))
        else:
            pictured.append((check, answer))
    return Illustrated((name, picture_box_mm(*seen), plates), pictured)


def _write_plates(reading: PageReading, small: PlatePixels, number: int, folder: Path) -> tuple[PlatePicture, ...]:
    """A small gray picture of each plate that has anything on it; marks outside the bleed alone make no plate."""
    from preflight.inventory.preview import solid_looks
    from preflight.report.pictures import plate_picture

    measured = reading.page.plates
    unused = {plate.ink for plate in measured.plates if plate.marked_mm2 <= 0.0} if measured else set()
    plates = []
    for turn, (ink, plane, look) in enumerate(zip(small.inks, small.planes, solid_looks(small), strict=False), start=1):
        name = f"page-{number:04}-plate-{turn:02}.jpg" if ink not in unused and plane.any() else None
        if name is not None:
            (folder / name).write_bytes(plate_picture(plane))
        plates.append(PlatePicture(ink, name, look))
    return tuple(plates)


def _picture_finding(
    reading: PageReading, check: str, found: Found, seen: Preview, stem: str, folder: Path
) -> dict[str, Any]:
    """Writes the picture of a finding, and its second one where it has one; returns what goes into its details."""
    from preflight.report.beside import second_picture
    from preflight.report.pictures import finding_picture

    if found.box_mm is None or reading.pixels is None:
        return {}
    crop = f"{stem}-{found.kind}.jpg"
    near = _composite_for(found.box_mm, reading.pixels, seen)
    boxes = found.details.get("boxes_mm", ())
    rings = [ring for patch in found.details.get("patches", ()) for ring in patch["rings_mm"]]
    (folder / crop).write_bytes(finding_picture(*near, found.box_mm, reading.page.trim_mm, boxes, rings))
    details: dict[str, Any] = {"picture": crop}
    beside = second_picture(reading, check, found, near)
    if beside is not None:
        key, data = beside
        details[key] = f"{stem}-{key.removeprefix('picture_').replace('_', '-')}.jpg"
        (folder / details[key]).write_bytes(data)
    return details


def _outlined(reading: PageReading, check: str, answer: Answer) -> Answer:
    """Too much ink with the outline of its patches; every other answer as it is."""
    plates = reading.page.plates
    if check != "total-ink" or plates is None or not isinstance(answer, Found):
        return answer
    if answer.box_mm is None or answer.limit is None:
        return answer
    from preflight.report.ink_contours import ink_patches

    patches = [patch.as_detail() for patch in ink_patches(plates, answer.box_mm, answer.limit)]
    return replace(answer, details={**answer.details, "patches": patches})


def _composite_for(place: Box, pixels: PlatePixels, seen: Preview) -> Preview:
    """The page's own composite for a large place; for a small one a sharper one of its surroundings."""
    from preflight.inventory.plates import preview_rgb
    from preflight.report.pictures import FINDING_LONG_PX, picture_box_mm, window_mm

    window = window_mm(place, picture_box_mm(*seen))
    if max(window.width, window.height) * seen.pixels_per_mm >= FINDING_LONG_PX:
        return seen
    return preview_rgb(pixels, window)


def picture_file_findings(report: Report, folder: Path) -> Report:
    """The report with a picture for each finding of the whole file that has a place on a page, cut from that page's picture."""
    pages = {page.number: page for page in report.pages if page.picture and page.picture_mm}
    findings = list(report.findings)
    for turn, finding in enumerate(findings):
        page = pages.get(finding.page or 0)
        if page is None or finding.box_mm is None or "picture" in finding.details:
            continue
        drawn = sum("picture" in other.details and other.page == finding.page for other in findings)
        if drawn >= MOST_PICTURES:
            continue
        name = f"page-{page.number:04}-{drawn + 1:02}-{finding.id.replace('.', '-')}-file.jpg"
        if _cut_from_page(page, finding.box_mm, finding.details.get("boxes_mm", ()), folder, name):
            findings[turn] = replace(finding, details={**finding.details, "picture": name})
    return replace(report, findings=findings)


def _cut_from_page(page: Any, box_mm: list[float], boxes_mm: Any, folder: Path, name: str) -> bool:
    from preflight.report.pictures import finding_picture, rgb_of

    shown = Box(*page.picture_mm)
    try:
        rgb = rgb_of(folder / page.picture)
        pixels_per_mm = rgb.shape[1] / shown.width
        (folder / name).write_bytes(
            finding_picture(rgb, (shown.x0, shown.y0), pixels_per_mm, box_mm, page.trim_mm, boxes_mm)
        )
    except (OSError, ValueError, ZeroDivisionError):  # a picture less is no answer less
        return False
    return True
