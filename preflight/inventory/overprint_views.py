"""Two views of one place on a page, with overprint and without: where they differ, by how much, and which thing is the cause.

Works on the pixels of both views (``render``), printing inks alone. A place is given to a thing by the thing's box, the smallest first, and
only as far as both views differ there, so a box around empty paper takes nothing. Differences in look are ΔE (CIE 1976).
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import numpy.typing as npt

from preflight.errors import ToolFault
from preflight.inventory.cover import is_white
from preflight.inventory.ink_windows import cell_sums, has_square, label_areas
from preflight.inventory.looks import delta_e
from preflight.inventory.model import PROCESS_INKS, OverprintChange, Painted
from preflight.inventory.render import Plane, PlatePixels
from preflight.ticket import Job
from preflight.units import CELL_PX, Box, is_below

Mask = npt.NDArray[np.bool_]
Window = tuple[slice, slice]

#: Ink weaker than this (of 255) is paper.
PAPER = 5
#: Bytes by which two drawings of the same thing may differ.
_SAME = 2
#: Families whose numbers are inks as they stand; any other colour may put down every process ink.
_DIRECT = ("gray", "cmyk", "separation", "device-n")
#: More pixels than this are compared at every second, third ... of them.
_MOST_COMPARED = 3_000_000
#: More places of a kind are not told one by one: the page as a whole is another then.
_MOST_TOLD = 500
_WEAKEST_NAMED_PERCENT = 1.0
#: The widest overlap that is a trap, and how much of one may lie otherwise (corners, the edge between pixels).
_TRAP_MM = 0.5
_TRAP_RAGGED = 0.05
#: Pixels of a narrow change that are looked at.
_MOST_LOOKED_AT = 20_000


@dataclass(frozen=True)
class Thing:
    """A painted thing, and what of it shows inside the zone."""

    painted: Painted
    box: Box

    @property
    def is_white(self) -> bool:
        """Whether it is painted as paper, in numbers (a picture's pixels are not known)."""
        colour = self.painted.colour
        return self.painted.kind not in ("image", "shading") and colour is not None and is_white(colour)

    def is_fine_black(self, line_below_pt: float) -> bool:
        """Type or a thin line in black alone, which overprints on purpose: ``black.knocks-out`` asks for it."""
        if self.own_inks != ("Black",):
            return False
        stroke, shape = self.painted.stroke, self.painted.shape
        if self.painted.kind == "stroke" and stroke is not None:
            return not stroke.rims_fill and is_below(stroke.width_pt, line_below_pt, "pt")
        if self.painted.kind == "fill" and shape is not None and shape.thickness_pt is not None:
            is_line = shape.direction is not None or shape.is_rectangle or shape.is_frame
            return is_line and is_below(shape.thickness_pt, line_below_pt, "pt")
        return self.painted.text is not None

    @property
    def own_inks(self) -> tuple[str, ...] | None:
        """The inks it puts down; None where they are not known by its numbers."""
        colour = self.painted.colour
        if self.painted.kind in ("image", "shading") or colour is None or colour.family not in _DIRECT:
            return None
        tints = colour.tints_percent()
        return None if tints is None or "All" in tints else tuple(tints)


def pixels_of(box: Box, pixels: PlatePixels) -> Window:
    """Rows and columns of all pixels a box touches, at least one of each."""
    x, y = pixels.origin_mm
    rows, columns = pixels.planes[0].shape
    step = pixels.pixels_per_mm
    top = min(rows - 1, max(0, math.floor((box.y0 - y) * step + 1e-6)))
    left = min(columns - 1, max(0, math.floor((box.x0 - x) * step + 1e-6)))
    bottom = min(rows, max(top + 1, math.ceil((box.y1 - y) * step - 1e-6)))
    right = min(columns, max(left + 1, math.ceil((box.x1 - x) * step - 1e-6)))
    return slice(top, bottom), slice(left, right)


@dataclass(frozen=True)
class Views:
    """Both views of one region, and where they differ."""

    #: The region's place, its inks and the spots' looks; its planes are the plates'.
    plates: PlatePixels
    off: tuple[Plane, ...]
    differs: Mask
    delta: npt.NDArray[np.float32]


def views_of(plates: PlatePixels, off: PlatePixels, job: Job) -> Views | None:
    """Both views over the pixels of the knocked-out one; None where they are the same."""
    top, bottom, left, right = plates.pixel_box(off.box_mm)
    shape = (bottom - top, right - left)
    if off.planes[0].shape != shape:
        raise ToolFault(f"the knocked-out view is {off.planes[0].shape} pixels, the plates {shape}")
    on = {ink: plane[top:bottom, left:right] for ink, plane in zip(plates.inks, plates.planes, strict=True)}
    inks, ones, others, looks = [], [], [], []
    differs = np.zeros(shape, dtype=bool)
    for index, ink in enumerate(off.inks):
        if job.is_finishing(ink):
            continue
        one, other = on.get(ink), off.planes[index]
        if one is None:  # a spot that marks nothing on the plates
            one = np.zeros(shape, dtype=np.uint8)
        # Unsigned, so the larger of the two must come first.
        differs |= np.maximum(one, other) - np.minimum(one, other) > _SAME
        inks.append(ink)
        ones.append(one)
        others.append(other)
        if index >= len(PROCESS_INKS):
            looks.append(off.looks[index - len(PROCESS_INKS)])
    if not differs.any():
        return None
    region = PlatePixels(
        tuple(inks), tuple(ones), off.origin_mm, off.pixels_per_mm, off.press, tuple(looks), off.faults
    )
    return Views(region, tuple(others), differs, _delta(region, others, differs))


def _delta(region: PlatePixels, others: list[Plane], differs: Mask) -> npt.NDArray[np.float32]:
    """How differently each pixel looks in the two views."""
    step = max(1, math.ceil(math.sqrt(int(np.count_nonzero(differs)) / _MOST_COMPARED)))
    asked = differs[::step, ::step]
    some = np.zeros(asked.shape, dtype=np.float32)
    some[asked] = delta_e(
        [plane[::step, ::step][asked] for plane in region.planes],
        [plane[::step, ::step][asked] for plane in others],
        region.looks,
    )
    if step == 1:
        return some
    whole = np.repeat(np.repeat(some, step, axis=0), step, axis=1)[: differs.shape[0], : differs.shape[1]]
    return np.where(differs, whole, np.float32(0.0))


@dataclass(frozen=True)
class _Where:
    """Some pixels, and whether there are any."""

    mask: Mask
    any: bool


@dataclass
class BothViews:
    """Answers about both views; ``alone`` are the things that are left alone."""

    views: Views
    things: list[Thing]
    alone: list[Thing]
    limits: Any
    taken: Mask = field(init=False)
    _without: dict[tuple[str, ...], _Where] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.taken = np.zeros(self.views.differs.shape, dtype=bool)
        self.things = sorted(self.things, key=lambda thing: thing.box.area)
        self.alone = [thing for thing in self.alone if thing.box.meets(self.views.plates.box_mm)]

    # --- things that vanish -------------------------------------------------------------------------------------------

    def vanished(self) -> Iterator[OverprintChange]:
        """Things that would show in the knocked-out view and do not on the plates, the smallest box first.

        White shows wherever the view is paper and the plates are not. A coloured thing has vanished where it would stand out,
        and nobody can tell the plates from what they would be without its inks.
        """
        white = self._white_in_view()
        least = self.limits.vanishes_above_mm2 * self.views.plates.pixels_per_mm**2
        told = asked = 0
        for thing in self.things:
            if not thing.is_white:
                if asked >= _MOST_TOLD or not thing.own_inks or not self._as_without(thing.own_inks).any:
                    continue
                asked += 1
            rows, columns = self._window(thing)
            differs = self.views.differs[rows, columns] & ~self.taken[rows, columns]
            if not differs.any():
                continue
            if thing.is_white:
                lost = differs & (self.views.delta[rows, columns] > self.limits.vanishes_above_delta_e)
                lost &= white[rows, columns] if thing.painted.alpha >= 1.0 else self._lighter(rows, columns)
            else:
                lost = self._cannot_be_told(thing.own_inks or (), rows, columns, differs)
            if np.count_nonzero(lost) > least:
                self.taken[rows, columns] |= lost
                told += 1
                if told <= _MOST_TOLD:
                    yield self._change("vanishes", lost, rows.start, columns.start, thing)

    def _white_in_view(self) -> Mask:
        white = np.ones(self.views.differs.shape, dtype=bool)
        for plane in self.views.off:
            white &= plane <= PAPER
        return white

    def _lighter(self, rows: slice, columns: slice) -> Mask:
        """Where no ink is stronger in the knocked-out view."""
        lighter = np.ones((rows.stop - rows.start, columns.stop - columns.start), dtype=bool)
        for plane, other in zip(self.views.plates.planes, self.views.off, strict=True):
            lighter &= other[rows, columns] <= np.minimum(plane[rows, columns], 255 - _SAME) + _SAME
        return lighter

    def _cannot_be_told(self, own: tuple[str, ...], rows: slice, columns: slice, differs: Mask) -> Mask:
        """Pixels of a thing in these inks that look like their ground.

        The ground's own share of the thing's inks is not known where the thing lies: none of them and as much as around it are
        both tried.
        """
        lost: Mask = differs & self._as_without(own).mask[rows, columns]
        if not lost.any():
            return lost
        region = self.views.plates
        near = self._around(rows, columns)
        outside = ~self.views.differs[near]
        most = [int(plane[near][outside].max(initial=0)) for plane in region.planes]
        lost[lost] = self._unlike(own, most, (rows, columns), lost) <= self.limits.vanishes_above_delta_e
        return lost

    def _as_without(self, own: tuple[str, ...]) -> _Where:
        """Where the views differ and the plates look no different without some inks; worked out once for all things in them."""
        known = self._without.get(own)
        if known is None:
            mask = self.views.delta > self.limits.changes_above_delta_e
            nothing = [0] * len(self.views.plates.planes)
            unlike = self._unlike(own, nothing, (slice(None), slice(None)), mask)
            mask[mask] = unlike <= self.limits.vanishes_above_delta_e
            known = self._without[own] = _Where(mask, bool(mask.any()))
        return known

    def _unlike(self, own: tuple[str, ...], levels: list[int], window: Window, asked: Mask) -> npt.NDArray[np.float32]:
        """How much the plates differ from what they are with these inks at other levels, for the pixels asked."""
        region = self.views.plates
        shown = [plane[window][asked] for plane in region.planes]
        ground = [
            np.full_like(plane, level) if ink in own else plane
            for ink, plane, level in zip(region.inks, shown, levels, strict=True)
        ]
        return delta_e(shown, ground, region.looks)

    def _around(self, rows: slice, columns: slice) -> Window:
        margin = math.ceil(self.views.plates.pixels_per_mm)
        return (
            slice(max(0, rows.start - margin), rows.stop + margin),
            slice(max(0, columns.start - margin), columns.stop + margin),
        )

    # --- areas that change --------------------------------------------------------------------------------------------

    def changed(self) -> Iterator[OverprintChange]:
        """Connected areas (cells of 3 x 3 pixels that touch) of more than the rules' size that look different."""
        region = self.views.plates
        mask = (self.views.delta > self.limits.changes_above_delta_e) & ~self.taken & self._concerned()
        if not mask.any():
            return
        labels, extents = label_areas(cell_sums(mask.view(np.uint8)) > 0)
        least = self.limits.changes_above_mm2 * region.pixels_per_mm**2
        told = 0
        for index, (top, bottom, left, right) in enumerate(extents):
            rows = slice(top * CELL_PX, min(bottom * CELL_PX, mask.shape[0]))
            columns = slice(left * CELL_PX, min(right * CELL_PX, mask.shape[1]))
            if (rows.stop - rows.start) * (columns.stop - columns.start) <= least:
                continue
            own = np.repeat(np.repeat(labels[top:bottom, left:right] == index + 1, CELL_PX, axis=0), CELL_PX, axis=1)
            area = mask[rows, columns] & own[: rows.stop - rows.start, : columns.stop - columns.start]
            if (
                np.count_nonzero(area) > least
                and told < _MOST_TOLD
                and not self._is_trap(area, rows.start, columns.start)
            ):
                told += 1
                yield self._change("changes", area, rows.start, columns.start, self._at_work(area, rows, columns))

    def _is_trap(self, area: Mask, top: int, left: int) -> bool:
        """Whether an area is the rim by which something overlaps its ground on purpose, so that no paper shows beside it.

        That is narrow, and as far as it goes the thing itself lies beside it, in the colour that the rim would have knocked out.
        """
        views, reach = self.views, round(_TRAP_MM * self.views.plates.pixels_per_mm)
        if has_square(area, 2 * reach + 1):
            return False
        ys, xs = np.nonzero(area)
        step = len(ys) // _MOST_LOOKED_AT + 1
        ys, xs = ys[::step] + top, xs[::step] + left
        meant = [plane[ys, xs].astype(np.int16) for plane in views.off]
        alike = np.zeros(len(ys), dtype=bool)
        for down in range(-reach, reach + 1):
            for along in range(-reach, reach + 1):
                beside = (
                    np.clip(ys + down, 0, views.differs.shape[0] - 1),
                    np.clip(xs + along, 0, views.differs.shape[1] - 1),
                )
                same = ~views.differs[beside]
                for plane, colour in zip(views.plates.planes, meant, strict=True):
                    same &= np.abs(plane[beside] - colour) <= _SAME
                alike |= same
        return bool(np.count_nonzero(~alike) <= _TRAP_RAGGED * len(alike))

    def _concerned(self) -> Mask:
        """Where a thing is at work that is not left alone: black type in a box of one that is not black does not count."""
        result = self._boxes(self.things)
        alone = self._boxes(self.alone)
        if alone.any():
            alone &= ~self._boxes([thing for thing in self.things if thing.own_inks in (None, ("Black",))])
            for ink, plane in zip(self.views.plates.inks, self.views.off, strict=True):
                alone &= plane > 0 if ink == "Black" else plane <= PAPER
            result &= ~alone
        return result

    def _boxes(self, things: list[Thing]) -> Mask:
        """All pixels in the things' boxes: each box counts up where it starts and down where it ends."""
        rows, columns = self.views.differs.shape
        steps = np.zeros((rows + 1, columns + 1), dtype=np.int32)
        if things:
            top, bottom, left, right = self._windows(things)
            for row, column, step in ((top, left, 1), (bottom, left, -1), (top, right, -1), (bottom, right, 1)):
                np.add.at(steps, (row, column), step)
        inside: Mask = steps.cumsum(axis=0).cumsum(axis=1)[:rows, :columns] > 0
        return inside

    def _at_work(self, area: Mask, rows: slice, columns: slice) -> Thing:
        """The thing whose box holds most of an area; of those that hold about as much, the smallest."""
        sums = np.zeros((area.shape[0] + 1, area.shape[1] + 1), dtype=np.int64)
        sums[1:, 1:] = area.cumsum(axis=0).cumsum(axis=1)
        top, bottom, left, right = self._windows(self.things)
        top, bottom = (np.clip(edge - rows.start, 0, area.shape[0]) for edge in (top, bottom))
        left, right = (np.clip(edge - columns.start, 0, area.shape[1]) for edge in (left, right))
        held = sums[bottom, right] - sums[top, right] - sums[bottom, left] + sums[top, left]
        return self.things[int(np.flatnonzero(held >= 0.95 * held.max())[0])]

    def _windows(self, things: list[Thing]) -> npt.NDArray[np.intp]:
        """Top, bottom, left and right of the things' boxes in pixels."""
        windows = [self._window(thing) for thing in things]
        edges = [(rows.start, rows.stop, columns.start, columns.stop) for rows, columns in windows]
        return np.array(edges, dtype=np.intp).T

    # --- in common ------------------------------------------------------------------------------------------------------

    def _window(self, thing: Thing) -> Window:
        return pixels_of(thing.box, self.views.plates)

    def _change(self, effect: str, mask: Mask, top: int, left: int, thing: Thing) -> OverprintChange:
        """A change over the pixels of a mask that starts at a row and a column of the region."""
        region = self.views.plates
        marked_rows, marked_columns = np.flatnonzero(mask.any(axis=1)), np.flatnonzero(mask.any(axis=0))
        window = slice(top, top + mask.shape[0]), slice(left, left + mask.shape[1])
        own = thing.own_inks
        return OverprintChange(
            box_mm=region.mm_of(
                top + int(marked_rows[0]),
                top + int(marked_rows[-1]) + 1,
                left + int(marked_columns[0]),
                left + int(marked_columns[-1]) + 1,
            ),
            area_mm2=int(np.count_nonzero(mask)) / region.pixels_per_mm**2,
            delta_e=float(self.views.delta[window][mask].mean()),
            effect=effect,
            object_order=thing.painted.order,
            inks=own if own is not None else (thing.painted.colour.inks if thing.painted.colour else ()),
            meant_percent=_means(region.inks, self.views.off, window, mask),
            plates_percent=_means(region.inks, region.planes, window, mask),
        )


def _means(inks: tuple[str, ...], planes: tuple[Plane, ...], window: Window, mask: Mask) -> dict[str, float]:
    means = {ink: float(plane[window][mask].mean()) / 2.55 for ink, plane in zip(inks, planes, strict=True)}
    return {ink: round(mean, 1) for ink, mean in means.items() if mean >= _WEAKEST_NAMED_PERCENT}
