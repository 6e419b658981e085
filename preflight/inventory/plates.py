"""Measures the plates of a page: ink by plate, the most ink on a small square, ink along the trim, and a print to know it by.

Coverage is the mean over whole pixels, in percent of solid: a plate half covered by 50 % has 25. The grid is 6 pixels a
millimetre, laid on the trim (``render``); cells of 0.5 mm are 3 x 3 pixels. Finishing plates (die, varnish, foil, an opaque
white named among the finishing) are measured and listed but count neither in total ink nor as ink at the trim: they are no ink
on this press, or dry before it. A spot that no object uses has no plate.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt

from preflight.errors import ToolFault
from preflight.inventory.edges import LEAST_INK, edge_inks
from preflight.inventory.estimates import any_converted, rests_on_converted
from preflight.inventory.fingerprint import page_fingerprint
from preflight.inventory.ink_windows import Squares, best_window, cell_sums, squares_over, window_areas, window_side
from preflight.inventory.model import PROCESS_INKS, CellGrid, EdgeInk, InkArea, Painted, Plate, Plates
from preflight.inventory.press import press_condition
from preflight.inventory.preview import Preview, preview_rgb
from preflight.inventory.render import PlatePixels, render_plates
from preflight.ticket import Job
from preflight.units import CELL_PX, PIXELS_PER_MM, TOLERANCE_INK_PERCENT, Box, PageFrame

__all__ = ["PlatePixels", "Preview", "measure_plates", "preview_rgb", "render_plates"]

#: Past the ordered bleed, still looked at for ink.
LOOK_FURTHER_MM = 1.0
#: Sheets larger than this many pixels are measured at fewer a millimetre (an edge is then placed less sharply).
MOST_PIXELS = 50_000_000
_RESOLUTIONS = (PIXELS_PER_MM, 4, 2, 1)


def measure_plates(
    artwork: Any,
    page: Any,
    frame: PageFrame,
    zone_mm: Box | None,
    trim_mm: tuple[float, float] | None,
    media_mm: Box | None,
    job: Job,
    painted: tuple[Painted, ...] = (),
) -> tuple[Plates, PlatePixels]:
    """Renders and measures one page. Where the size is unknown (``trim_mm`` None) nothing that needs millimetres is measured."""
    press = press_condition(artwork.document, job.press.profile)
    media = media_mm or frame.media_mm
    zone = zone_mm or media
    if zone.width <= 0.0 or zone.height <= 0.0:
        raise ToolFault("the trim lies outside the page")
    region = zone
    if trim_mm is not None:
        region = zone.union(Box(0.0, 0.0, *trim_mm).grow(job.bleed_mm + LOOK_FURTHER_MM).intersect(media))
    pixels_per_mm = resolution_for(region.area)
    pixels = _marked_only(render_plates(artwork.document, page, frame, region, pixels_per_mm, press=press))
    return _Measuring(pixels, zone, trim_mm, job, painted).plates(), pixels


def resolution_for(area_mm2: float) -> float:
    """Pixels a millimetre that so large a region is measured at."""
    return next((step for step in _RESOLUTIONS if area_mm2 * step * step <= MOST_PIXELS), _RESOLUTIONS[-1])


def _marked_only(pixels: PlatePixels) -> PlatePixels:
    """Without the spots that mark nothing: declared in the file, used nowhere here."""
    kept = [index for index, plane in enumerate(pixels.planes) if index < len(PROCESS_INKS) or plane.any()]
    return PlatePixels(
        tuple(pixels.inks[index] for index in kept),
        tuple(pixels.planes[index] for index in kept),
        pixels.origin_mm,
        pixels.pixels_per_mm,
        pixels.press,
        tuple(pixels.looks[index - len(PROCESS_INKS)] for index in kept[len(PROCESS_INKS) :]),
        pixels.faults,
    )


class _Measuring:
    """The measures of one page, which share its zone, its cells and its sum of printing inks."""

    def __init__(
        self,
        pixels: PlatePixels,
        zone_mm: Box,
        trim_mm: tuple[float, float] | None,
        job: Job,
        painted: tuple[Painted, ...],
    ) -> None:
        self.pixels = pixels
        self.zone_mm = zone_mm
        self.trim_mm = Box(0.0, 0.0, *trim_mm) if trim_mm is not None else None
        self.job = job
        self.painted = painted
        self.kinds = tuple(_kind(ink, job) for ink in pixels.inks)
        self.printing = [index for index, kind in enumerate(self.kinds) if kind != "finishing"]
        self.top, self.bottom, self.left, self.right = pixels.pixel_box(zone_mm)
        self.zone = tuple(plane[self.top : self.bottom, self.left : self.right] for plane in pixels.planes)
        #: Trim inside the zone, in pixels; the whole zone where the size is unknown.
        ends = pixels.pixel_box(self.trim_mm or zone_mm)
        self.trim = (ends[0] - self.top, ends[1] - self.top, ends[2] - self.left, ends[3] - self.left)
        self.marked = [bool(plane.any()) for plane in self.zone]
        self.cells = [
            cell_sums(plane) if marked else None for plane, marked in zip(self.zone, self.marked, strict=True)
        ]
        shape = (-(-self.zone[0].shape[0] // CELL_PX), -(-self.zone[0].shape[1] // CELL_PX))
        self.total_cells = np.zeros(shape, dtype=np.uint32)
        for index in self.printing:
            if self.cells[index] is not None:
                self.total_cells += self.cells[index]
        self.converted = pixels.press.profile_from == "built-in" and any_converted(painted)

    def plates(self) -> Plates:
        top, bottom, left, right = self.trim
        in_trim = [plane[top:bottom, left:right] for plane in self.zone]
        window_mm2, highest, areas = self._ink()
        edges: tuple[EdgeInk, ...] = ()
        if self.trim_mm is not None:
            edges = edge_inks(
                self.pixels,
                self.printing,
                self.trim_mm,
                self.job.bleed_mm + LOOK_FURTHER_MM,
                self.job.bleed_mm,
                self.painted,
            )
        extent = (top / CELL_PX, bottom / CELL_PX, left / CELL_PX, right / CELL_PX)
        return Plates(
            plates=tuple(self._plate(index) for index in range(len(self.zone))),
            zone_mm=self.zone_mm,
            max_total_percent=highest,
            window_mm2=window_mm2,
            ink_areas=areas,
            edges=edges,
            cells=self._grid(),
            fingerprint=page_fingerprint(self.total_cells.astype(np.float32) / (2.55 * CELL_PX**2), extent),
            profile_from=self.pixels.press.profile_from,
            profile_name=self.pixels.press.profile_name,
            blank_trim=not any(
                marked and bool((plane >= LEAST_INK).any()) for plane, marked in zip(in_trim, self.marked, strict=True)
            ),
            estimated=self.converted,
        )

    def _ink(self) -> tuple[float, float | None, tuple[InkArea, ...]]:
        """The measuring square in mm2, the most ink on one, and the areas over each limit; None where it cannot be laid."""
        limits = self.job.limits.get("total-ink")
        if limits is None or self.trim_mm is None:
            return 0.0, None, ()
        total = self._total()
        side = window_side(limits.window_mm2, self.pixels.pixels_per_mm)
        best = best_window(total, self.total_cells, side)
        limit_above = [
            limit
            for limit in (limits.high_above_percent, limits.near_above_percent)
            if best is not None and best.mean_percent > limit + TOLERANCE_INK_PERCENT
        ]
        areas: list[InkArea] = []
        if limit_above:
            squares = squares_over(total, self.total_cells, side, min(limit_above) + TOLERANCE_INK_PERCENT)
            for limit in limit_above:
                areas += self._areas(squares, limit)
        return limits.window_mm2, best.mean_percent if best else None, tuple(areas)

    def _total(self) -> npt.NDArray[np.uint16]:
        marked = [self.zone[index] for index in self.printing if self.marked[index]]
        if len(marked) < 2:
            return (marked[0] if marked else self.zone[0]).astype(np.uint16)
        total: npt.NDArray[np.uint16] = np.add(marked[0], marked[1], dtype=np.uint16)
        for plane in marked[2:]:
            total += plane
        return total

    def _areas(self, squares: Squares, limit: float) -> list[InkArea]:
        areas = []
        for area in window_areas(squares, limit + TOLERANCE_INK_PERCENT):
            worst, side = area.worst, squares.side
            rows, columns = slice(worst.top, worst.top + side), slice(worst.left, worst.left + side)
            means = {
                self.pixels.inks[index]: float(self.zone[index][rows, columns].mean()) / 2.55 for index in self.printing
            }
            worst_mm = self._mm(rows.start, rows.stop, columns.start, columns.stop)
            areas.append(
                InkArea(
                    above_percent=limit,
                    worst_percent=worst.mean_percent,
                    area_mm2=area.pixels / self.pixels.pixels_per_mm**2,
                    box_mm=self._mm(area.top, area.bottom, area.left, area.right),
                    worst_mm=worst_mm,
                    estimated=self.converted and rests_on_converted(worst_mm, limit, self.painted),
                    inks_percent={ink: round(mean, 1) for ink, mean in means.items() if mean >= 0.05},
                )
            )
        return areas

    def _mm(self, top: int, bottom: int, left: int, right: int) -> Box:
        """Pixels of the zone as a box in trim space."""
        return self.pixels.mm_of(top + self.top, bottom + self.top, left + self.left, right + self.left)

    def _plate(self, index: int) -> Plate:
        ink, kind = self.pixels.inks[index], self.kinds[index]
        cells, plane = self.cells[index], self.zone[index]
        if cells is None:
            return Plate(ink, kind, 0.0, 0.0, 0.0, 0.0, None)
        top, bottom, left, right = self.trim
        whole = int(cells.sum(dtype=np.int64))
        # The rim is small: cheaper to take it off than to add the trim up again.
        rim = (plane[:top], plane[bottom:], plane[top:bottom, :left], plane[top:bottom, right:])
        inside = whole - sum(int(part.sum(dtype=np.int64)) for part in rim)
        box = self._box_of(cells, plane)
        return Plate(
            ink=ink,
            kind=kind,
            coverage_percent=_mean_percent(inside, (bottom - top) * (right - left)),
            zone_coverage_percent=_mean_percent(whole, plane.size),
            highest_cell_percent=int(cells.max()) / (2.55 * CELL_PX**2),
            marked_mm2=int(np.count_nonzero(plane)) / self.pixels.pixels_per_mm**2,
            box_mm=box,
        )

    def _box_of(self, cells: npt.NDArray[np.uint16], plane: npt.NDArray[np.uint8]) -> Box:
        """The box of what is marked: found in cells, then set to pixels."""
        rows, columns = np.flatnonzero(cells.any(axis=1)), np.flatnonzero(cells.any(axis=0))
        top, bottom = int(rows[0]) * CELL_PX, (int(rows[-1]) + 1) * CELL_PX
        left, right = int(columns[0]) * CELL_PX, (int(columns[-1]) + 1) * CELL_PX
        bottom, right = min(bottom, plane.shape[0]), min(right, plane.shape[1])
        while not plane[top].any():
            top += 1
        while not plane[bottom - 1].any():
            bottom -= 1
        while not plane[:, left].any():
            left += 1
        while not plane[:, right - 1].any():
            right -= 1
        return self._mm(top, bottom, left, right)

    def _grid(self) -> CellGrid:
        rows, columns = self.total_cells.shape
        data = np.zeros((len(self.zone), rows, columns), dtype=np.uint8)
        for index, cells in enumerate(self.cells):
            if cells is not None:
                np.floor_divide(cells, CELL_PX**2, out=data[index], casting="unsafe")
        corner = self._mm(0, 0, 0, 0)
        return CellGrid(
            planes=len(self.zone),
            rows=rows,
            columns=columns,
            origin_mm=(corner.x0, corner.y0),
            cell_mm=CELL_PX / self.pixels.pixels_per_mm,
            data=data.tobytes(),
        )


def _kind(ink: str, job: Job) -> str:
    if ink in PROCESS_INKS:
        return "process"
    return "finishing" if job.is_finishing(ink) else "spot"


def _mean_percent(sum_of_bytes: int, pixels: int) -> float:
    return sum_of_bytes / (2.55 * pixels) if pixels else 0.0
