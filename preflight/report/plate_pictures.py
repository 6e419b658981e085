"""The plates of a page as pictures: each ink in gray, all of them together, and where how much ink lies on the sheet.

Runs in the child that has the plates. Pictures are at the measuring resolution, 6 pixels a millimetre (fewer on sheets larger
than ``MOST_PIXELS``); in a plate's picture black is full ink. The total-ink map has steps of 20 % and white paper.
"""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt
from PIL import Image

from preflight.report.coverage import csv_bytes
from preflight.report.files import safe_stem, write_whole
from preflight.ticket import Job

if TYPE_CHECKING:
    from preflight.inventory.reading import PageReading
    from preflight.inventory.render import PlatePixels

Bytes = npt.NDArray[np.uint8]
MOST_PIXELS = 40_000_000
STEP_PERCENT = 20
#: From pale paper over ochre and brown to ink blue: lightness falls all the way, so it reads without colour too.
_RAMP = (
    (0, (255, 255, 255)),
    (80, (244, 226, 178)),
    (160, (214, 158, 92)),
    (240, (150, 84, 66)),
    (320, (70, 40, 84)),
    (400, (10, 10, 30)),
)


def write_page_plates(reading: PageReading, job: Job, folder: Path) -> None:
    """Everything about one page's plates into ``folder/page-NNNN``. Raises ``OSError`` where the disk does not take it."""
    from preflight.inventory.plates import preview_rgb

    if reading.pixels is None:
        return
    own = folder / f"page-{reading.page.number:04}"
    plates = reading.page.plates.plates if reading.page.plates else ()
    write_plates(reading.pixels, {plate.ink: plate.kind for plate in plates}, own)
    write_composite(preview_rgb(reading.pixels).rgb, own)
    zones = ink_by_zone(reading.pixels, reading.page.trim_mm, job.press.ink_key_zones)
    if zones:
        rows = [["ink", *(f"zone {number}" for number in range(1, job.press.ink_key_zones + 1))]]
        write_whole(own / "ink-zones.csv", csv_bytes(rows + [[ink, *map(str, values)] for ink, values in zones]))


def write_plates(pixels: PlatePixels, kinds: dict[str, str], folder: Path) -> list[str]:
    """Writes the pictures of one page into ``folder``; returns their names. ``kinds``: ink to process, spot or finishing.

    Raises ``OSError`` where the disk does not take them.
    """
    folder.mkdir(parents=True, exist_ok=True)
    names: list[str] = []
    total = np.zeros(pixels.planes[0].shape, dtype=np.uint16)
    for number, (ink, plane) in enumerate(zip(pixels.inks, pixels.planes, strict=True), start=1):
        if kinds.get(ink) != "finishing":
            total += plane
        names.append(_save(255 - _bounded(plane), folder / f"{number:02}-{safe_stem(ink)}.png"))
    names.append(_save(_map(_bounded(total)), folder / "total-ink.png"))
    return names


def write_composite(rgb: Bytes, folder: Path) -> str:
    """Writes all plates together, as the press would lay them down; returns the picture's name."""
    return _save(rgb, folder / "composite.png")


def _bounded(plane: npt.NDArray[Any]) -> npt.NDArray[Any]:
    step = 1
    while plane.size / step**2 > MOST_PIXELS:
        step += 1
    return plane[::step, ::step]


def _map(total: npt.NDArray[np.uint16]) -> Bytes:
    percent = np.minimum(total.astype(np.uint32) * 100 // 255, 400)
    steps = (percent + STEP_PERCENT - 1) // STEP_PERCENT * STEP_PERCENT
    levels = np.arange(0, 401, STEP_PERCENT)
    stops = [percent for percent, _ in _RAMP]
    table = np.stack(
        [np.interp(levels, stops, [colour[channel] for _, colour in _RAMP]) for channel in range(3)], axis=1
    ).astype(np.uint8)
    coloured: Bytes = table[steps // STEP_PERCENT]
    return coloured


def _save(picture: Bytes, path: Path) -> str:
    part = path.with_name(f".{path.name}.part")
    Image.fromarray(np.ascontiguousarray(picture)).save(part, format="PNG", compress_level=3)
    part.replace(path)
    return path.name


def ink_by_zone(pixels: PlatePixels, trim_mm: tuple[float, float] | None, zones: int) -> list[tuple[str, list[float]]]:
    """Mean ink of each plate in ``zones`` strips of equal width across the trim, left to right, percent."""
    if zones <= 0 or trim_mm is None:
        return []
    left = round(-pixels.origin_mm[0] * pixels.pixels_per_mm)
    top = round(-pixels.origin_mm[1] * pixels.pixels_per_mm)
    width, height = (round(side * pixels.pixels_per_mm) for side in trim_mm)
    edges = [left + round(width * step / zones) for step in range(zones + 1)]
    rows = slice(max(0, top), top + height)
    result = []
    for ink, plane in zip(pixels.inks, pixels.planes, strict=True):
        columns = plane[rows].mean(axis=0)
        means = [columns[max(0, a) : max(0, b)] for a, b in pairwise(edges)]
        result.append((ink, [round(float(mean.mean()) / 2.55, 2) if mean.size else 0.0 for mean in means]))
    return result
