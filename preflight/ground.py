"""What lies under a painted thing on the page, what of it the thing erases, and in which inks the thing itself prints.

Two witnesses must agree that an ink lies under a thing: something painted earlier whose box holds a good part of it, and
the plates, which show that ink there. So neither a bounding box around empty space, nor a neighbour, nor a colour that was covered
in between counts. Boxes are in trim space; ink is in percent, measured on cells of 0.5 mm, so what shines between letters
reads a little lighter than the ground itself. What overprint keeps follows ISO 32000-2, Table 146.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from functools import cached_property
from math import ceil, floor
from typing import TYPE_CHECKING, Any

from preflight.inventory.model import PROCESS_INKS, Colour, Page, Painted
from preflight.press_colour import lab_of
from preflight.ticket import Job
from preflight.units import Box, pt_from_mm

if TYPE_CHECKING:
    import numpy as np

REGISTRATION = "All"
#: A ground holds at least this part of the thing's box, and is no thinner than this itself.
LEAST_SHARE = 0.2
LEAST_GROUND_MM = 1.0
#: Beside thin things the plates are looked at this far out, within the ground's own box: a line may fill its cells.
BESIDE_MM = 0.5
#: The plates of a converted colour: an ink weaker than this part of the strongest is a neighbour's, or noise.
WEAK_PART = 0.1
#: A colour of one ink by its numbers is only taken for several by an ink as strong as this part of the strongest.
CONVERTED_PART = 0.3
#: Lighter than this (CIE L*), a colour of three lights prints nothing.
WHITE_LIGHTNESS = 99.0

#: Families whose numbers are inks as they stand; every other one passes through a conversion.
_DIRECT = ("gray", "cmyk", "separation", "device-n")


def leaves_ink(thing: Painted) -> bool:
    """Whether a thing puts something on the plates itself: visible, no mask, not inside a soft mask, no empty text."""
    return thing.is_visible and _is_painted(thing) and (thing.text is None or thing.text.inked_glyphs > 0)


def printing_things(page: Page, job: Job) -> list[Painted]:
    """What leaves ink on a page, in order of painting; not what is in finishing inks alone.

    Glyphs of Type 3 fonts are told as text; what they are drawn with is left out.
    """
    finishing: dict[tuple[str, ...], bool] = {}
    result = []
    for thing in page.painted:
        if not leaves_ink(thing) or (thing.text is None and "type3" in thing.inside):
            continue
        tints = thing.colour.tints_percent() if thing.colour else None
        if tints:
            inks = tuple(tints)
            if inks not in finishing:
                finishing[inks] = all(job.is_finishing(ink) for ink in inks)
            if finishing[inks]:
                continue
        result.append(thing)
    return result


def _is_painted(thing: Painted) -> bool:
    """Whether a thing is paint on the page itself, be it covered later or not."""
    if thing.kind in ("group", "mask") or "soft-mask" in thing.inside:
        return False
    return thing.visible_mm is not None and thing.alpha > 0.0


def is_white(colour: Colour | None) -> bool:
    """Whether a colour puts no ink on paper. An unknown colour is not white."""
    if colour is None or colour.family == "none":
        return False
    tints = colour.tints_percent()
    if tints is not None:
        return not tints
    lab = lab_of(colour)
    return lab is not None and lab[0] >= WHITE_LIGHTNESS


def named_inks(colour: Colour | None, from_percent: float) -> dict[str, float] | None:
    """The inks of a colour by its own numbers, weaker ones left out; None where that takes a conversion."""
    tints = colour.tints_percent() if colour else None
    if tints is None:
        return None
    if REGISTRATION in tints:
        tints = dict.fromkeys(PROCESS_INKS, tints[REGISTRATION]) | tints
        del tints[REGISTRATION]
    return {ink: tint for ink, tint in tints.items() if tint >= from_percent}


def erased(thing: Painted, ground: dict[str, float], own: dict[str, float]) -> tuple[dict[str, float], str]:
    """Which inks of the ground a thing erases, and why: a cause for the details; nothing and "" where all is kept.

    Causes: ``no-overprint``; ``overprint-mode-0`` (CMYK whose zeros erase); ``gray-erases`` and ``converted-erases`` (set to
    overprint, but only CMYK given directly keeps what its zeros lie on); ``named-at-zero`` (an ink named by the colour, at 0).
    """
    if thing.blend not in ("Normal", "Compatible") or thing.alpha < 1.0 or thing.colour is None:
        return {}, ""
    others = {ink: tint for ink, tint in ground.items() if ink not in own}
    if not thing.overprint:
        return others, "no-overprint" if others else ""
    family = thing.colour.family
    direct = thing.kind not in ("image", "shading")
    if family in ("separation", "device-n"):
        gone = {ink: tint for ink, tint in others.items() if ink in thing.colour.inks}
        return gone, "named-at-zero" if gone else ""
    if family == "cmyk" and direct and thing.overprint_mode == 1:
        return {}, ""
    gone = {ink: tint for ink, tint in others.items() if ink in PROCESS_INKS}
    cause = "overprint-mode-0" if family == "cmyk" and direct else "converted-erases"
    if family in ("gray", "cal-gray", "icc-gray"):
        cause = "gray-erases"
    return gone, cause if gone else ""


@dataclass
class Ground:
    """Answers for one page. Made once and asked for each thing in question; ink under ``from_percent`` does not count."""

    page: Page
    from_percent: float
    _sums: dict[int, list[list[int]]] = field(default_factory=dict, repr=False)
    _answers: dict[int, dict[str, float]] = field(default_factory=dict, repr=False)

    def under(self, thing: Painted) -> dict[str, float]:
        """The inks that lie under a thing, in percent as measured; empty on paper."""
        if thing.order not in self._answers:
            self._answers[thing.order] = self._under(thing, thing.visible_mm) if thing.visible_mm else {}
        return self._answers[thing.order]

    def _under(self, thing: Painted, box: Box) -> dict[str, float]:
        if thing.ground_inks == ():
            return {}
        wide = _widened(box)
        if not self._may_hold_others(wide, named_inks(thing.colour, 0.0) or {}):
            return {}
        found: dict[str, float] = {}
        for place, inks in self._witnesses(thing, box):
            for ink, by_number in inks.items():
                seen = self.percent(ink, wide.intersect(place))
                percent = by_number if seen is None else seen
                if percent >= self.from_percent:
                    found[ink] = max(percent, found.get(ink, 0.0))
        return found

    def _witnesses(self, thing: Painted, box: Box) -> Iterator[tuple[Box, dict[str, float]]]:
        """What was painted earlier: where, and which inks it may have put there.

        The reader of the page has looked under fine things along their own shape, and says so; else boxes tell.
        """
        if thing.ground_inks is not None:
            yield _widened(box), dict.fromkeys(thing.ground_inks, 100.0)
            return
        for lower in self._candidates(thing, box):
            lower_box = lower.visible_mm or lower.box_mm
            named = named_inks(lower.colour, 0.0) or {}
            yield lower_box, {ink: named.get(ink, 100.0) * lower.alpha for ink in self._possible(lower)}
            if hides(lower) and lower_box.contains(box):
                return

    def inks_of(self, thing: Painted, from_percent: float) -> dict[str, float]:
        """The inks a thing prints in: by its own numbers, else (where they are converted) as the plates show them.

        A converted colour over other matter cannot be told from it: the process inks are then taken as they are named, all
        four for RGB, Lab and patterns.
        """
        colour = thing.colour
        named = named_inks(colour, from_percent)
        if is_white(colour) or (colour is not None and colour.family == "none"):
            return {}
        if named is not None and colour is not None and colour.family in _DIRECT:
            return named
        shown = {} if self.under(thing) else self._strongest(thing, named)
        if shown:
            return shown
        return named if named is not None else dict.fromkeys(PROCESS_INKS, from_percent)

    def percent(self, ink: str, box: Box) -> float | None:
        """The mean of an ink inside a box on the plates; None where the plates are not known; 0 for an ink without plate."""
        if self._cells is None or self.page.plates is None:
            return None
        names = [plate.ink for plate in self.page.plates.plates]
        return self._mean(names.index(ink), box) if ink in names else 0.0

    def has_solid_alone(self, ink: str, box: Box, from_percent: float, side_mm: float) -> bool | None:
        """Whether the plates show a square of this side in an ink alone somewhere in a box, no other process ink with it.

        None where the plates are not known. Spot inks beside it do not matter.
        """
        grid = self.page.plates.cells if self.page.plates else None
        if self._cells is None or grid is None or self.page.plates is None:
            return None
        inks = [plate.ink for plate in self.page.plates.plates]
        if ink not in inks:
            return False
        x0, y0 = grid.origin_mm
        columns = slice(
            max(0, ceil((box.x0 - x0) / grid.cell_mm - 0.01)), max(0, floor((box.x1 - x0) / grid.cell_mm + 0.01))
        )
        rows = slice(
            max(0, ceil((box.y0 - y0) / grid.cell_mm - 0.01)), max(0, floor((box.y1 - y0) / grid.cell_mm + 0.01))
        )
        alone = self._cells[inks.index(ink), rows, columns] >= int(from_percent * 2.55)
        for plane, other in enumerate(inks):
            if other != ink and other in PROCESS_INKS:
                alone = alone & (self._cells[plane, rows, columns] < self.from_percent * 2.55)
        from preflight.inventory.ink_windows import has_square

        # A square that starts inside a cell holds one whole cell less each way.
        return has_square(alone, max(1, floor(side_mm / grid.cell_mm) - 1))

    def _strongest(self, thing: Painted, named: dict[str, float] | None) -> dict[str, float]:
        if thing.visible_mm is None or self.page.plates is None:
            return {}
        shown = {plate.ink: self.percent(plate.ink, thing.visible_mm) or 0.0 for plate in self.page.plates.plates}
        most = max(shown.values(), default=0.0)
        part = CONVERTED_PART if named is not None and len(named) <= 1 else WEAK_PART
        return {ink: value for ink, value in shown.items() if most > 0.0 and value >= part * most}

    def _may_hold_others(self, box: Box, own: dict[str, float]) -> bool:
        """A quick look that spares the rest on paper: any ink there but a thing's own. True where the plates are not known.

        A thing's own ink under it does not matter to any question asked, unless the thing has several.
        """
        if self._cells is None or self.page.plates is None:
            return True
        planes = enumerate(plate.ink for plate in self.page.plates.plates)
        return any(self._mean(plane, box) > 0.0 for plane, ink in planes if ink not in own)

    # --- what was painted earlier ---

    def _candidates(self, thing: Painted, box: Box) -> list[Painted]:
        """Things painted before, latest first, whose boxes hold a good part of this one's."""
        things, edges = self._grounds
        if not things:
            return []
        import numpy as np

        # A level or upright line has an area of nothing: it is given a little.
        wide = Box(box.x0 - 0.01, box.y0 - 0.01, box.x1 + 0.01, box.y1 + 0.01)
        width = np.minimum(edges[2], wide.x1) - np.maximum(edges[0], wide.x0)
        height = np.minimum(edges[3], wide.y1) - np.maximum(edges[1], wide.y0)
        shared = np.clip(width, 0.0, None) * np.clip(height, 0.0, None)
        picked = np.flatnonzero(shared >= LEAST_SHARE * wide.area)
        return [things[index] for index in picked[::-1] if things[index].order < thing.order]

    @cached_property
    def _grounds(self) -> tuple[list[Painted], np.ndarray[Any, Any]]:
        import numpy as np

        things = [thing for thing in self.page.painted if _is_ground(thing)]
        things.sort(key=lambda thing: thing.order)
        boxes = [thing.visible_mm or thing.box_mm for thing in things]
        return things, np.array(boxes, dtype=np.float64).reshape(len(boxes), 4).T

    def _possible(self, lower: Painted) -> tuple[str, ...]:
        """The inks that a thing below may print in; pictures and shadings may use every ink of their colour space."""
        named = None if lower.kind in ("image", "shading") else named_inks(lower.colour, 0.0)
        if named is not None and lower.colour is not None and lower.colour.family in _DIRECT:
            return tuple(named)
        if is_white(lower.colour) and lower.kind not in ("image", "shading"):
            return ()
        inks = lower.colour.inks if lower.colour else ()
        return tuple(dict.fromkeys((*inks, *PROCESS_INKS)))

    # --- the plates ---

    @cached_property
    def _cells(self) -> np.ndarray[Any, Any] | None:
        plates = self.page.plates
        if plates is None or plates.cells is None or not plates.cells.data:
            return None
        import numpy as np

        grid = plates.cells
        return np.frombuffer(grid.data, dtype=np.uint8).reshape(grid.planes, grid.rows, grid.columns)

    def _mean(self, plane: int, box: Box) -> float:
        """Mean ink inside a box, cells counted by the part of them that lies in it."""
        grid = self.page.plates.cells if self.page.plates else None
        if self._cells is None or grid is None or plane >= grid.planes:
            return 0.0
        x0, y0 = grid.origin_mm
        left, right = (min(max((x - x0) / grid.cell_mm, 0.0), grid.columns) for x in (box.x0, box.x1))
        top, bottom = (min(max((y - y0) / grid.cell_mm, 0.0), grid.rows) for y in (box.y0, box.y1))
        if right <= left or bottom <= top:
            return 0.0
        table = self._table(plane)
        total = _at(table, bottom, right) - _at(table, top, right) - _at(table, bottom, left) + _at(table, top, left)
        return total / ((right - left) * (bottom - top)) * 100.0 / 255.0

    def _table(self, plane: int) -> list[list[int]]:
        """Running sums of a plane's cells, so that any box costs four look-ups; plain lists, which answer those quickest."""
        if plane not in self._sums and self._cells is not None:
            import numpy as np

            rows, columns = self._cells.shape[1:]
            table = np.zeros((rows + 1, columns + 1), dtype=np.int64)
            table[1:, 1:] = self._cells[plane].cumsum(axis=0, dtype=np.int64).cumsum(axis=1)
            self._sums[plane] = table.tolist()
        return self._sums[plane]


def _at(table: list[list[int]], row: float, column: float) -> float:
    """A running sum between its cells, each of which is even."""
    y, x = min(int(row), len(table) - 2), min(int(column), len(table[0]) - 2)
    down, along = row - y, column - x
    upper, lower = table[y], table[y + 1]
    top = upper[x] + (upper[x + 1] - upper[x]) * along
    return top + (lower[x] + (lower[x + 1] - lower[x]) * along - top) * down


def _widened(box: Box) -> Box:
    """A box with room beside its thin sides, where a line fills its cells."""
    across = BESIDE_MM if box.width < LEAST_GROUND_MM else 0.0
    along = BESIDE_MM if box.height < LEAST_GROUND_MM else 0.0
    return Box(box.x0 - across, box.y0 - along, box.x1 + across, box.y1 + along)


def _is_ground(thing: Painted) -> bool:
    """Whether a thing is large enough to be something else's ground."""
    if not _is_painted(thing) or thing.kind in ("text", "text-stroke") or thing.visible_mm is None:
        return False
    if thing.stroke is not None:
        return thing.stroke.width_pt >= pt_from_mm(LEAST_GROUND_MM)
    return min(thing.visible_mm.width, thing.visible_mm.height) >= LEAST_GROUND_MM


def hides(thing: Painted) -> bool:
    """Whether nothing shows through a thing: opaque, Normal, not overprinting, and filling its box."""
    if (
        thing.alpha < 1.0
        or thing.blend not in ("Normal", "Compatible")
        or thing.overprint
        or "soft-mask" in thing.inside
    ):
        return False
    if thing.kind == "image" and thing.image is not None and thing.image.mask_px is None:
        # A turned picture does not fill its box.
        sides = zip(sorted(thing.image.placed_mm), sorted((thing.box_mm.width, thing.box_mm.height)), strict=True)
        return all(abs(placed - side) < LEAST_GROUND_MM for placed, side in sides)
    return thing.kind == "fill" and thing.shape is not None and thing.shape.is_rectangle
