"""What is in force while a page is painted: clips, groups, masks, layers; and what has been noted so far.

Boxes in trim space, millimetres. A pattern's cell and a glyph are watched on sheets of their own and set down afterwards: a cell
from its first to its last repeat inside the area it fills.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field

from preflight.inventory.paint_images import Picture
from preflight.inventory.paint_marks import Mark, visible_in
from preflight.inventory.paint_paths import Numbers, Point
from preflight.inventory.regions import Region
from preflight.units import Box

EVERYWHERE = Box(-1e9, -1e9, 1e9, 1e9)


@dataclass(slots=True)
class Clip:
    """A clip in force: its box within all outer ones, and the areas that are no rectangle (None: not known exactly)."""

    box: Box
    regions: tuple[Region, ...] | None
    #: Whether a soft mask goes with it, which ends with it.
    masked: bool = False
    #: The picture whose pixels are the clip.
    picture: Picture | None = None
    #: Text, a stencil or a line that lets a pattern through: a painted thing itself once something shows.
    waiting: list[Mark] = field(default_factory=list)
    painted: bool = False
    #: The path it was made of, to know a line drawn along it: only the inner half of that one shows.
    outline: tuple[tuple[Point, ...], ...] = ()


@dataclass(slots=True)
class Nest:
    """A group, mask, pattern or annotation in force. ``id`` is given to what is not plain (Normal, full strength)."""

    name: str = ""
    alpha: float = 1.0
    blend: str = "Normal"
    id: int | None = None


@dataclass(slots=True)
class Sheet:
    """What is painted on: the page, one cell of a pattern, or one glyph."""

    clips: list[Clip]
    marks: list[Mark] = field(default_factory=list)
    step: tuple[float, float] = (0.0, 0.0)
    matrix: Numbers = (1.0, 0.0, 0.0, 1.0, 0.0, 0.0)
    area: Box = EVERYWHERE


class Sheets:
    """The sheets under way, the page first, with everything that is in force."""

    def __init__(self, clip: Box) -> None:
        self.stack = [Sheet([Clip(clip, ())])]
        self.nests: list[Nest] = []
        self.layers: list[str] = []
        self.layers_used: dict[str, None] = {}
        self._ids = 0
        self._inside: tuple[str, ...] = ()
        self._scope: tuple[int, ...] = ()
        self._alpha = 1.0
        self._blend = "Normal"

    @property
    def page(self) -> Sheet:
        return self.stack[0]

    @property
    def sheet(self) -> Sheet:
        return self.stack[-1]

    @property
    def alpha_in_force(self) -> float:
        """The strength of everything painted from now on, by the groups it is in."""
        return self._alpha

    @property
    def clip(self) -> Clip:
        return self.stack[-1].clips[-1]

    def is_far(self, box: Box) -> bool:
        """Whether a thing lies outside all clips, so that measuring it more closely tells nothing."""
        clip = self.stack[-1].clips[-1].box
        return box.x0 > clip.x1 or box.x1 < clip.x0 or box.y0 > clip.y1 or box.y1 < clip.y0

    # --- nesting ---

    def settle(self) -> None:
        """Works out once, after a change, what everything painted from now on carries."""
        nests = self.nests
        self._inside = tuple([nest.name for nest in nests if nest.name])
        self._scope = tuple([nest.id for nest in nests if nest.id is not None])
        self._alpha = math.prod([nest.alpha for nest in nests])
        self._blend = next((nest.blend for nest in nests if nest.blend != "Normal"), "Normal")

    def enter(self, name: str, *, alpha: float = 1.0, blend: str = "Normal", apart: bool = False) -> None:
        """Begins a group or the like; ``apart`` if what is painted in it can hide nothing outside."""
        own = apart or alpha < 1.0 or blend != "Normal"
        self._ids += own
        self.nests.append(Nest(name, alpha, blend, self._ids if own else None))
        self.settle()

    def leave(self) -> None:
        if self.nests:
            self.nests.pop()
        self.settle()

    # --- clips ---

    def push_clip(self, box: Box, region: Region | None) -> Clip:
        """Narrows what shows; ``region`` None if the clip's shape is not known exactly."""
        outer = self.clip
        regions = outer.regions
        if region is None:
            regions = None
        elif not region.is_rectangle and regions is not None:
            regions = (*regions, region)
        clip = Clip(outer.box.intersect(box), regions)
        self.sheet.clips.append(clip)
        return clip

    def pop_clip(self) -> Clip | None:
        clips = self.sheet.clips
        if len(clips) < 2:
            return None
        clip = clips.pop()
        if clip.painted:
            clips[-1].painted = True
        return clip

    # --- noting ---

    def note(self, mark: Mark) -> None:
        """Notes a thing on the sheet being painted, cut by the clips in force."""
        clip = self.clip
        mark.visible = visible_in(mark.box, clip.box) if mark.leaves_mark else None
        mark.clips = clip.regions
        mark.is_opaque = mark.alpha >= 1.0 and mark.blend == "Normal"
        self._carry(mark)
        self._keep(mark)

    def set_down(self, mark: Mark, *, inherits: bool, within: tuple[str, ...] = ()) -> None:
        """Notes a thing that was watched on a sheet of its own; ``inherits`` if it was watched without what is in force."""
        mark.visible = visible_in(mark.visible, self.clip.box) if mark.visible is not None else None
        mark.area, mark.clips, mark.is_solid = None, None, False
        if inherits:
            mark.inside = (*within, *mark.inside)
            self._carry(mark)
        self._keep(mark)

    def _carry(self, mark: Mark) -> None:
        mark.inside = (*self._inside, *mark.inside) if mark.inside else self._inside
        mark.scope = (*self._scope, *mark.scope) if mark.scope else self._scope
        mark.layers = (*self.layers, *mark.layers) if self.layers else mark.layers
        mark.alpha *= self._alpha
        if mark.blend == "Normal":
            mark.blend = self._blend

    def _keep(self, mark: Mark) -> None:
        self.stack[-1].marks.append(mark)
        if mark.visible is None:
            return
        if mark.kind not in ("group", "mask"):
            self.clip.painted = True
        if len(self.stack) == 1:
            self._shown(mark)

    def _shown(self, mark: Mark) -> None:
        """Takes note of layers that show on the page."""
        for layer in mark.layers:
            self.layers_used[layer] = None

    # --- patterns ---

    def begin_cell(self, sheet: Sheet) -> None:
        self.stack.append(sheet)
        self.enter("pattern")

    def end_cell(self) -> None:
        """Sets down what the cell holds, wherever its repeats show."""
        sheet = self.stack.pop()
        self.leave()
        for mark in sheet.marks:
            if mark.visible is not None:
                mark.visible = repeated(mark.visible, sheet)
            self.set_down(mark, inherits=False)


def repeated(cell: Box, sheet: Sheet) -> Box | None:
    """Where the repeats of a thing in a pattern's cell show: from the first to the last one inside the filled area."""
    a, b, c, d, e, f = sheet.matrix
    det = a * d - b * c
    if det == 0.0:
        return cell
    corners = [(x - e, y - f) for x in (cell.x0, cell.x1) for y in (cell.y0, cell.y1)]
    own = [((d * x - c * y) / det, (a * y - b * x) / det) for x, y in corners]
    xs, ys = zip(*own, strict=True)
    x0, x1 = _spread(min(xs), max(xs), sheet.step[0], sheet.area.x0, sheet.area.x1)
    y0, y1 = _spread(min(ys), max(ys), sheet.step[1], sheet.area.y0, sheet.area.y1)
    if x1 < x0 or y1 < y0:
        return None
    shown = [(a * x + c * y + e, b * x + d * y + f) for x in (x0, x1) for y in (y0, y1)]
    xs, ys = zip(*shown, strict=True)
    return Box(min(xs), min(ys), max(xs), max(ys))


def _spread(low: float, high: float, step: float, first: float, last: float) -> tuple[float, float]:
    """From where to where something between ``low`` and ``high``, repeated each ``step``, shows between two ends."""
    if step <= 0.0:
        return max(low, first), min(high, last)
    # The first repeat that ends past the beginning, the last one that begins before the end.
    start = math.floor((first - high) / step + 1e-6) + 1
    stop = math.ceil((last - low) / step - 1e-6) - 1
    if stop < start:
        return 1.0, 0.0
    return max(first, low + start * step), min(last, high + stop * step)
