"""Ink along the four edges of the trim, and how far past it that ink runs: what is left when the knife cuts a little off.

Looked at pixel by pixel on the plates (finishing plates apart), outward from the trim line. Ink is 2 % and more of any printing
plate. Ink that ends up to two pixels (0.33 mm) inside the trim still reaches it: nobody means such a gap. A gap of one pixel is
bridged. Where an upright picture without a mask runs on past the trim, its white parts are ink too: its snow is no missing bleed.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np
import numpy.typing as npt

from preflight.inventory.ink_windows import runs_in_rows
from preflight.inventory.model import EDGES, Edge, EdgeInk, Painted
from preflight.inventory.render import PlatePixels
from preflight.units import TOLERANCE_INK_PERCENT, Box

Mask = npt.NDArray[np.bool_]

#: Bytes of a plate that count as ink: 2 % and more, rounded as the engine rounds.
LEAST_INK = round(TOLERANCE_INK_PERCENT * 2.55)
#: Pixels inside the trim that are looked at.
_INSIDE = 2


def edge_inks(
    pixels: PlatePixels,
    printing: Sequence[int],
    trim_mm: Box,
    looked_mm: float,
    bleed_mm: float,
    painted: Iterable[Painted] = (),
) -> tuple[EdgeInk, ...]:
    """The four edges of the trim, looked at up to ``looked_mm`` outward, as far as there are pixels.

    ``printing``: the planes that count. ``bleed_mm``: the ordered bleed, within which ``inked_mm`` is counted.
    """
    top, bottom, left, right = pixels.pixel_box(trim_mm)
    if bottom - top <= 2 * _INSIDE or right - left <= 2 * _INSIDE:
        return ()
    looked = max(1, round(looked_mm * pixels.pixels_per_mm))
    grounds = [pixels.pixel_box(box) for box in _picture_boxes(painted, trim_mm)]
    rows, columns = pixels.planes[0].shape
    result = []
    for edge in EDGES:
        # The strip of pixels, then turned so that rows run outward from inside the trim and columns along the edge.
        if edge == "left":
            area = (top, bottom, max(0, left - looked), left + _INSIDE)
        elif edge == "right":
            area = (top, bottom, right - _INSIDE, min(columns, right + looked))
        elif edge == "top":
            area = (max(0, top - looked), top + _INSIDE, left, right)
        else:
            area = (bottom - _INSIDE, min(rows, bottom + looked), left, right)
        ink = _outward(_ink(pixels, printing, area), edge)
        shown = _outward(_filled(grounds, area), edge)
        result.append(_profile(edge, ink, ink | shown, pixels.pixels_per_mm, bleed_mm))
    return tuple(result)


def _ink(pixels: PlatePixels, printing: Sequence[int], area: tuple[int, int, int, int]) -> Mask:
    top, bottom, left, right = area
    ink = np.zeros((bottom - top, right - left), dtype=bool)
    for index in printing:
        ink |= pixels.planes[index][top:bottom, left:right] >= LEAST_INK
    return ink


def _filled(boxes: Iterable[tuple[int, int, int, int]], area: tuple[int, int, int, int]) -> Mask:
    top, bottom, left, right = area
    filled = np.zeros((bottom - top, right - left), dtype=bool)
    for y0, y1, x0, x1 in boxes:
        filled[max(0, y0 - top) : max(0, y1 - top), max(0, x0 - left) : max(0, x1 - left)] = True
    return filled


def _outward(mask: Mask, edge: Edge) -> Mask:
    turned = mask if edge in ("top", "bottom") else mask.T
    return turned[::-1] if edge in ("top", "left") else turned


def _profile(edge: Edge, ink: Mask, ground: Mask, pixels_per_mm: float, bleed_mm: float) -> EdgeInk:
    step_mm = 1.0 / pixels_per_mm
    at_trim: Mask = np.asarray(ink[:_INSIDE].any(axis=0))
    outside = ground[_INSIDE:]
    looked = outside.shape[0]
    if not looked:
        nothing = (0.0,) * at_trim.size
        return EdgeInk(edge, step_mm, 0.0, tuple(at_trim.tolist()), nothing, nothing, nothing)
    # One missing pixel between inked ones is bridged; the first one lies between the trim and the second.
    bridged = outside.copy()
    bridged[:-1] |= outside[1:] & np.vstack((at_trim[np.newaxis], outside[:-2]))
    depth = np.where(at_trim, np.where(bridged.all(axis=0), looked, bridged.argmin(axis=0)), 0)
    wanted = max(1, round(bleed_mm * pixels_per_mm))
    inked = np.where(at_trim, outside[:wanted].sum(axis=0), 0)
    reach = _reach(at_trim, bridged, depth, wanted)
    return EdgeInk(
        edge,
        step_mm,
        looked * step_mm,
        tuple(at_trim.tolist()),
        tuple((depth * step_mm).tolist()),
        tuple((reach * step_mm).tolist()),
        tuple((inked * step_mm).tolist()),
    )


def _reach(at_trim: Mask, outside: Mask, depth: npt.NDArray[np.int64], wanted: int) -> npt.NDArray[np.int64]:
    """How far out the ink goes that is joined to each position, sideways steps included, by the run of ink at the trim."""
    runs = [(start, end) for _, start, end in runs_in_rows(at_trim[np.newaxis])]
    reach = depth.copy()
    for start, end in runs:
        reach[start:end] = depth[start:end].max()
    if not (at_trim & (reach < min(wanted, outside.shape[0]))).any():
        return reach
    # Each row's runs join those they touch (corners included) in the row before; a run of the trim may go out in several ways.
    parents = list(range(len(runs)))
    deepest = [int(depth[start:end].max()) for start, end in runs]

    def root(number: int) -> int:
        while parents[number] != number:
            parents[number] = parents[parents[number]]
            number = parents[number]
        return number

    before = [(start, end, number) for number, (start, end) in enumerate(runs)]
    current: list[tuple[int, int, int]] = []
    last = place = 0
    for row, start, end in runs_in_rows(outside):
        if row != last:
            before, current, place = (current if row == last + 1 else []), [], 0
            last = row
        while place < len(before) and before[place][1] < start:
            place += 1
        at, owner = place, -1
        while at < len(before) and before[at][0] <= end:
            other = root(before[at][2])
            owner = other if owner < 0 else root(owner)
            if other != owner:
                parents[other] = owner
                deepest[owner] = max(deepest[owner], deepest[other])
            at += 1
        if owner >= 0:
            deepest[root(owner)] = max(deepest[root(owner)], row + 1)
            current.append((start, end, owner))
    for number, (start, end) in enumerate(runs):
        reach[start:end] = deepest[root(number)]
    return reach


def _picture_boxes(painted: Iterable[Painted], trim_mm: Box) -> list[Box]:
    """Boxes of pictures that fill them wholly, as far as can be told: upright, without a mask, and seen."""
    boxes = []
    for thing in painted:
        image, box = thing.image, thing.visible_mm
        if thing.kind != "image" or image is None or box is None or not thing.is_visible or image.mask_px is not None:
            continue
        upright = abs(image.placed_mm[0] - thing.box_mm.width) + abs(image.placed_mm[1] - thing.box_mm.height)
        turned = abs(image.placed_mm[1] - thing.box_mm.width) + abs(image.placed_mm[0] - thing.box_mm.height)
        if min(upright, turned) < 0.1 and thing.alpha >= 1.0 and not trim_mm.contains(box):
            boxes.append(box)
    return boxes
