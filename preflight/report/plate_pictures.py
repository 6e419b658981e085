"""The plates of a page as pictures: each ink in gray, all of them together, and where how much ink lies on the sheet.

Runs in the child that has the plates. Pictures are at the measuring resolution, 6 pixels a millimetre (fewer on sheets larger
than ``MOST_PIXELS``), and say so, so that they open at their true size; in a plate's picture black is full ink. The total-ink map has
steps of 20 % and white paper, ``total-ink-scale.png`` is its key. Ink zones are strips of equal width across the trim.
"""

from __future__ import annotations

import contextlib
from itertools import pairwise
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt
from PIL import Image, ImageDraw

from preflight.report.coverage import csv_bytes
from preflight.report.files import safe_stem, write_whole
from preflight.ticket import Job

if TYPE_CHECKING:
    from preflight.inventory.reading import PageReading
    from preflight.inventory.render import PlatePixels

Bytes = npt.NDArray[np.uint8]
MOST_PIXELS = 40_000_000
STEP_PERCENT = 20
TOTAL_NAME, COMPOSITE_NAME, SCALE_NAME, ZONES_NAME = (
    "total-ink.png",
    "composite.png",
    "total-ink-scale.png",
    "ink-zones.csv",
)
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
    pixels_per_mm = reading.pixels.pixels_per_mm if reading.page.trim_mm is not None else 0.0
    own = folder / f"page-{reading.page.number:04}"
    plates = reading.page.plates.plates if reading.page.plates else ()
    write_plates(reading.pixels, {plate.ink: plate.kind for plate in plates}, own, pixels_per_mm)
    write_composite(preview_rgb(reading.pixels).rgb, own, pixels_per_mm)
    zones = ink_by_zone(reading.pixels, reading.page.trim_mm, job.press.ink_key_zones)
    if zones:
        rows = [["ink", *(f"zone {number}" for number in range(1, job.press.ink_key_zones + 1))]]
        write_whole(own / ZONES_NAME, csv_bytes(rows + [[ink, *map(str, values)] for ink, values in zones]))


def write_plates(pixels: PlatePixels, kinds: dict[str, str], folder: Path, pixels_per_mm: float = 0.0) -> list[str]:
    """Writes the pictures of one page into ``folder``; returns their names. ``kinds``: ink to process, spot or finishing.

    ``pixels_per_mm`` is 0 where nobody knows the size. Raises ``OSError`` where the disk does not take them.
    """
    folder.mkdir(parents=True, exist_ok=True)
    names: list[str] = []
    total = np.zeros(pixels.planes[0].shape, dtype=np.uint16)
    for number, (ink, plane) in enumerate(zip(pixels.inks, pixels.planes, strict=True), start=1):
        if kinds.get(ink) != "finishing":
            total += plane
        names.append(_save(255 - _bounded(plane), folder / f"{number:02}-{safe_stem(ink)}.png", pixels_per_mm, plane))
    names.append(_save(_map(_bounded(total)), folder / TOTAL_NAME, pixels_per_mm, total))
    return names


def write_composite(rgb: Bytes, folder: Path, pixels_per_mm: float = 0.0) -> str:
    """Writes all plates together, as the press would lay them down; returns the picture's name."""
    return _save(rgb, folder / COMPOSITE_NAME, pixels_per_mm, rgb)


def write_scale(folder: Path) -> str:
    """Writes the key of the total-ink map: each step of ink with its colour. Raises ``OSError``."""
    levels = range(0, 401, STEP_PERCENT)
    image = Image.new("RGB", (44 * len(levels), 60), "white")
    pen = ImageDraw.Draw(image)
    for turn, (percent, colour) in enumerate(zip(levels, _table(), strict=True)):
        pen.rectangle((44 * turn, 0, 44 * turn + 43, 39), fill=tuple(int(part) for part in colour), outline="black")
        pen.text((44 * turn + 22, 50), f"{percent} %", fill="black", anchor="mm")
    return _save(np.asarray(image), folder / SCALE_NAME)


def clear_plates(folder: Path) -> None:
    """Removes the pictures and tables of a former run, so that none of another file stays among them; nothing else."""
    (folder / ZONES_NAME).unlink(missing_ok=True)
    for page in folder.glob("page-[0-9]*"):
        for path in [
            *page.glob("[0-9][0-9]-*.png"),
            *(page / name for name in (TOTAL_NAME, COMPOSITE_NAME, ZONES_NAME)),
        ]:
            path.unlink(missing_ok=True)
        with contextlib.suppress(OSError):  # somebody keeps something of their own in it
            page.rmdir()


def _bounded(plane: npt.NDArray[Any]) -> npt.NDArray[Any]:
    step = 1
    while plane.size / step**2 > MOST_PIXELS:
        step += 1
    return plane[::step, ::step]


def _map(total: npt.NDArray[np.uint16]) -> Bytes:
    percent = np.minimum(total.astype(np.uint32) * 100 // 255, 400)
    coloured: Bytes = _table()[(percent + STEP_PERCENT - 1) // STEP_PERCENT]
    return coloured


def _table() -> Bytes:
    """The colour of each step of ink."""
    levels = np.arange(0, 401, STEP_PERCENT)
    stops = [percent for percent, _ in _RAMP]
    channels = [np.interp(levels, stops, [colour[channel] for _, colour in _RAMP]) for channel in range(3)]
    return np.stack(channels, axis=1).astype(np.uint8)


def _save(picture: Bytes, path: Path, pixels_per_mm: float = 0.0, whole: npt.NDArray[Any] | None = None) -> str:
    """Saves a picture that may be coarser than the ``whole`` it was taken from; returns its name."""
    ppi = 25.4 * pixels_per_mm * (picture.shape[1] / whole.shape[1] if whole is not None else 1.0)
    part = path.with_name(f".{path.name}.part")
    about = {"dpi": (ppi, ppi)} if ppi else {}
    Image.fromarray(np.ascontiguousarray(picture)).save(part, format="PNG", compress_level=3, **about)
    part.replace(path)
    return path.name


def ink_by_zone(pixels: PlatePixels, trim_mm: tuple[float, float] | None, zones: int) -> list[tuple[str, list[float]]]:
    """Mean ink of each plate in ``zones`` strips of equal width across the trim, left to right, percent.

    Of a picture whose size nobody knows, across the whole of it.
    """
    if zones <= 0:
        return []
    if trim_mm is None:
        rows, columns = pixels.planes[0].shape
        trim_mm = columns / pixels.pixels_per_mm, rows / pixels.pixels_per_mm
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
