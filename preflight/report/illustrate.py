"""Pictures of one page and of each finding on it, made by the child that still has the plates.

The composite is taken from the plates themselves, so a picture shows what will print: overprint, spot inks and all.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from preflight.checking import Answer
from preflight.findings import Found, Severity
from preflight.ticket import Job
from preflight.units import Box

if TYPE_CHECKING:
    from preflight.inventory.plates import PlatePixels, Preview
    from preflight.inventory.reading import PageReading

#: Pictures of findings on one page, worst first; the others are told in words and by their box on the page picture.
MOST_PICTURES = 12


def illustrate(
    reading: PageReading, answers: list[tuple[str, Answer]], job: Job, folder: Path
) -> tuple[str | None, Box | None, list[tuple[str, Answer]]]:
    """Writes the page's picture and one for each of the worst findings.

    Returns the page picture's name, what it shows in trim space, and the answers.
    Names are relative to ``folder``; each finding with a picture carries it as ``details["picture"]``, and the second one of those
    that have two under the key of ``beside``.
    """
    from preflight.inventory.plates import preview_rgb
    from preflight.report.beside import second_picture
    from preflight.report.pictures import finding_picture, page_picture, page_scale, picture_box_mm

    pixels = reading.pixels
    if pixels is None:
        return None, None, answers
    seen = preview_rgb(pixels, scale=page_scale(*pixels.planes[0].shape))
    number = reading.page.number
    name = f"page-{number:04}.jpg"
    (folder / name).write_bytes(page_picture(*seen, reading.page.trim_mm))
    order = (Severity.STOP, Severity.ASK, Severity.NOTE)

    def rank(item: tuple[str, Answer]) -> int:
        found = item[1]
        if not isinstance(found, Found):
            return len(order)
        severity = job.severity_of(item[0], found.kind, mild=found.mild)
        return order.index(severity) if severity in order else len(order)

    pictured: list[tuple[str, Answer]] = []
    made = 0
    for check, answer in sorted(answers, key=rank):
        if isinstance(answer, Found) and answer.box_mm is not None and made < MOST_PICTURES:
            made += 1
            boxes = answer.details.get("boxes_mm", ())
            crop = f"page-{number:04}-{made:02}-{check}-{answer.kind}.jpg"
            near = _composite_for(answer.box_mm, pixels, seen)
            (folder / crop).write_bytes(finding_picture(*near, answer.box_mm, reading.page.trim_mm, boxes))
            details = {**answer.details, "picture": crop}
            beside = second_picture(reading, check, answer, near)
            if beside is not None:
                key, data = beside
                details[key] = (
                    f"page-{number:04}-{made:02}-{check}-{key.removeprefix('picture_').replace('_', '-')}.jpg"
                )
                (folder / details[key]).write_bytes(data)
            pictured.append((check, replace(answer, details=details)))
        else:
            pictured.append((check, answer))
    return name, picture_box_mm(*seen), pictured


def _composite_for(place: Box, pixels: PlatePixels, seen: Preview) -> Preview:
    """The page's own composite for a large place; for a small one a sharper one of its surroundings."""
    from preflight.inventory.plates import preview_rgb
    from preflight.report.pictures import FINDING_LONG_PX, picture_box_mm, window_mm

    window = window_mm(place, picture_box_mm(*seen))
    if max(window.width, window.height) * seen.pixels_per_mm >= FINDING_LONG_PX:
        return seen
    return preview_rgb(pixels, window)
