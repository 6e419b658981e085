"""What is wholly hidden by later matter, and in which inks the ground under fine things is printed.

Hidden (``covered``) is a thing whose whole visible box lies under later matter that is opaque, Normal and does not overprint:
one area, or several rectangles together. In doubt a thing is visible. The ground is asked on a lattice of points 0.25 mm apart
(coarser on very large pages), in painting order, so a neighbour or a colour that was covered in between is no ground. Trim
space, millimetres; edges may miss by 0.01 mm.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from preflight.inventory.model import PROCESS_INKS, Colour
from preflight.inventory.paint_marks import Mark
from preflight.inventory.regions import SLACK_MM, Lattice, Region
from preflight.units import Box

STEP_MM = 0.25
MOST_POINTS = 1_500_000
#: Areas smaller than this both ways are no ground for anything.
LEAST_GROUND_MM = 0.3
#: A tint weaker than this is paper for what lies on it.
LEAST_TINT_PERCENT = 1.0
#: Lines and shapes up to this thickness, and all text, are asked for their ground.
FINE_BELOW_PT = 1.5
#: The largest covers are tried on all things at once.
LARGEST = 64
#: Where along a straight line, or a text, it is asked what lies under it; its ends touch other things.
_ALONG = (0.05, 0.2, 0.35, 0.5, 0.65, 0.8, 0.95)
NOTHING = Box(0.0, 0.0, -1.0, -1.0)
MOST_REMAINS = 64
#: So many things on a page are looked at one by one (a second's worth); in doubt the rest is visible.
MOST_LOOKS = 3000
FIELD_MM = 5.0
MOST_FIELDS = 64
#: Of more covers over one thing only the largest are put together.
MOST_COVERS = 64
#: So many things in spot inks are asked for their ground because of their ink.
MOST_SPOTS = 2000


def look_under_and_over(marks: list[Mark], zone: Box) -> None:
    """Sets ``covered`` of every mark, and ``ground`` of fine ones and of those in spot inks that do not overprint."""
    covers = [index for index, mark in enumerate(marks) if _hides(mark)]
    asked = [index for index, mark in enumerate(marks) if _is_asked(mark)]
    spots = [index for index, mark in enumerate(marks) if _is_erasing_spot(mark)]
    if spots:
        asked = sorted({*asked, *spots[:MOST_SPOTS]})
    if not covers and not asked:
        return
    lattice = Lattice.over(zone, STEP_MM, MOST_POINTS)
    last = _walk(marks, set(covers), asked, lattice)
    if covers:
        _find_covered(marks, covers, last, lattice)


def _hides(mark: Mark) -> bool:
    """Whether it is a cover. One in a group that is not plain hides only what is in that group (``_reaches``)."""
    return (
        mark.is_solid
        and mark.visible is not None
        and mark.clips is not None
        and not mark.overprint
        and mark.is_opaque
        and not (mark.colour is not None and mark.colour.family == "none")
        and "soft-mask" not in mark.inside
    )


def _is_asked(mark: Mark) -> bool:
    if mark.visible is None or "soft-mask" in mark.inside or not mark.asks_ground:
        return False
    if mark.kind in ("text", "text-stroke"):
        return True
    if mark.stroke is not None:
        return mark.stroke.width_pt < FINE_BELOW_PT
    if mark.shape is not None:
        return mark.shape.thickness_pt is not None and mark.shape.thickness_pt < FINE_BELOW_PT
    return False


def is_spot(colour: Colour | None) -> bool:
    """Whether a colour names an ink that is none of the process inks."""
    return (
        colour is not None
        and colour.family in ("separation", "device-n")
        and any(ink not in (*PROCESS_INKS, "All", "None") for ink in colour.inks)
    )


def _is_erasing_spot(mark: Mark) -> bool:
    """Whether it is in a spot ink and knocks out what lies under it, so that this matters whatever its size."""
    if mark.visible is None or mark.overprint or "soft-mask" in mark.inside or not mark.asks_ground:
        return False
    return mark.kind not in ("group", "mask") and is_spot(mark.colour)


# --- in painting order -----------------------------------------------------------------------------------------------


class _Names:
    """Ink names as bits of one number; what is past the last bit shares it."""

    def __init__(self) -> None:
        self.names: list[str] = []

    def bits(self, inks: tuple[str, ...]) -> int:
        result = 0
        for ink in inks:
            if ink not in self.names:
                self.names.append(ink)
            result |= 1 << min(31, self.names.index(ink))
        return result

    def inks(self, bits: int) -> tuple[str, ...]:
        return tuple(ink for index, ink in enumerate(self.names) if bits >> min(31, index) & 1)


def _walk(marks: list[Mark], covers: set[int], asked: list[int], lattice: Lattice) -> NDArray[np.int32]:
    """Paints areas on the lattice one after the other; answers each fine thing before what comes after it is painted.

    Returns, for each point, the last cover over it (-1: none).
    """
    last = np.full((lattice.rows, lattice.columns), -1, dtype=np.int32)
    ground = np.zeros((lattice.rows, lattice.columns), dtype=np.uint32)
    names = _Names()
    waiting = iter([*asked, len(marks)])
    next_asked = next(waiting)
    until = asked[-1] if asked else -1
    for index, mark in enumerate(marks):
        if index == next_asked:
            mark.ground = names.inks(_bits_under(mark, ground, lattice)) if names.names else ()
            next_asked = next(waiting)
        is_cover = index in covers
        if mark.visible is None or not (is_cover or (index < until and _is_ground(mark))):
            continue
        rows, columns, inside = _points_of(mark, lattice)
        if rows.stop <= rows.start or columns.stop <= columns.start:
            continue
        bits = names.bits(inks_of(mark))
        if is_cover and not mark.scope:
            if inside is None:
                last[rows, columns] = index
                ground[rows, columns] = bits
            else:
                last[rows, columns][inside] = index
                ground[rows, columns][inside] = bits
        else:
            if is_cover:
                window = last[rows, columns]
                window[slice(None) if inside is None else inside] = index
            if bits:
                window_ink = ground[rows, columns]
                if inside is None:
                    window_ink |= np.uint32(bits)
                else:
                    window_ink[inside] |= np.uint32(bits)
    return last


def _is_ground(mark: Mark) -> bool:
    if mark.kind in ("text", "text-stroke", "group", "mask") or "soft-mask" in mark.inside or mark.alpha <= 0.02:
        return False
    if mark.stroke is not None and mark.area is None:
        return False
    return mark.visible is not None and max(mark.visible.width, mark.visible.height) >= LEAST_GROUND_MM


def _points_of(mark: Mark, lattice: Lattice) -> tuple[slice, slice, NDArray[np.bool_] | None]:
    """The lattice points a mark's visible part holds; its box where its area is not known exactly."""
    rows, columns = lattice.slices(mark.visible or NOTHING)
    inside: NDArray[np.bool_] | None = None
    regions = [*([mark.area] if mark.area is not None else []), *(mark.clips or ())]
    for region in regions:
        if region.is_rectangle or rows.stop <= rows.start or columns.stop <= columns.start:
            continue  # the visible box is cut to rectangles already
        own = _window(region, lattice, rows, columns)
        inside = own if inside is None else inside & own
    return rows, columns, inside


def _window(region: Region, lattice: Lattice, rows: slice, columns: slice) -> NDArray[np.bool_]:
    """A region's points, cut or padded to a window of the lattice."""
    own_rows, own_columns, kept = region.mask(lattice)
    result = np.zeros((rows.stop - rows.start, columns.stop - columns.start), dtype=bool)
    top, bottom = max(rows.start, own_rows.start), min(rows.stop, own_rows.stop)
    left, right = max(columns.start, own_columns.start), min(columns.stop, own_columns.stop)
    if top < bottom and left < right:
        result[top - rows.start : bottom - rows.start, left - columns.start : right - columns.start] = (
            True
            if kept is None
            else kept[
                top - own_rows.start : bottom - own_rows.start, left - own_columns.start : right - own_columns.start
            ]
        )
    return result


def _bits_under(mark: Mark, ground: NDArray[np.uint32], lattice: Lattice) -> int:
    """All inks at points of a thing: along a line, or across a text's box."""
    box = mark.visible or mark.box
    points = mark.points
    if not points and mark.text is None and mark.area is not None and is_spot(mark.colour):
        rows, columns, inside = _points_of(mark, lattice)
        held = ground[rows, columns] if inside is None else ground[rows, columns][inside]
        if held.size:
            return int(np.bitwise_or.reduce(held, axis=None))
    if len(points) == 2 and mark.stroke is not None:
        (x0, y0), (x1, y1) = points
        points = [(x0 + (x1 - x0) * share, y0 + (y1 - y0) * share) for share in _ALONG]
    points = [(x, y) for x, y in points if box.x0 <= x <= box.x1 and box.y0 <= y <= box.y1]
    if not points:
        points = list(_spread(box))
    bits = 0
    for x, y in points:
        bits |= int(ground[lattice.cell(x, y)])
    return bits


def _spread(box: Box) -> Iterator[tuple[float, float]]:
    for down in (0.25, 0.5, 0.75):
        for along in _ALONG:
            yield box.x0 + along * box.width, box.y0 + down * box.height


def inks_of(mark: Mark) -> tuple[str, ...]:
    """The inks a mark may print in: by its tints, or all of its colour space for pictures and shadings."""
    colour = mark.colour
    if colour is None:
        return PROCESS_INKS
    if colour.family == "none" or is_white(colour):
        return ()
    tints = colour.tints_percent()
    if tints is not None:
        names = tuple(ink for ink, tint in tints.items() if tint >= LEAST_TINT_PERCENT)
    else:
        names = colour.inks or PROCESS_INKS
    return PROCESS_INKS if "All" in names else names


def is_white(colour: Colour) -> bool:
    """Whether a colour given by numbers is paper."""
    tints = colour.tints_percent()
    if tints is not None:
        return all(tint < LEAST_TINT_PERCENT for tint in tints.values())
    if colour.family in ("rgb", "icc-rgb", "cal-rgb"):
        return bool(colour.values) and min(colour.values) >= 0.995
    return colour.family in ("lab", "icc-lab") and bool(colour.values) and colour.values[0] >= 99.5


# --- covered ---------------------------------------------------------------------------------------------------------


def _find_covered(marks: list[Mark], covers: list[int], last: NDArray[np.int32], lattice: Lattice) -> None:
    """First the points of the lattice tell who may be covered at all; then the areas themselves are asked."""
    final = covers[-1]
    suspects = []
    for index, mark in enumerate(marks[:final]):
        box = mark.visible
        if box is None:
            continue
        rows, columns = lattice.slices(box)
        if rows.stop > rows.start and columns.stop > columns.start:
            if last[rows, columns].min() > index:
                suspects.append(index)
        elif last[lattice.cell((box.x0 + box.x1) / 2, (box.y0 + box.y1) / 2)] > index:
            suspects.append(index)
    if not suspects:
        return
    boxes = np.array([marks[index].visible for index in suspects])
    order = np.array(suspects)
    left = np.ones(len(suspects), dtype=bool)
    areas = {index: marks[index].visible or NOTHING for index in covers}
    plain = sorted((index for index in covers if _is_plain(marks[index])), key=lambda index: -areas[index].area)
    for index in plain[:LARGEST]:
        area = areas[index]
        held = (boxes[:, 0] >= area.x0 - SLACK_MM) & (boxes[:, 2] <= area.x1 + SLACK_MM)
        held &= (boxes[:, 1] >= area.y0 - SLACK_MM) & (boxes[:, 3] <= area.y1 + SLACK_MM)
        for position in np.flatnonzero(held & left & (order < index)):
            marks[order[position]].covered = True
            left[position] = False
    nearby = _Nearby(covers, [areas[index] for index in covers])
    for position in np.flatnonzero(left)[:MOST_LOOKS]:
        index, box = int(order[position]), Box(*boxes[position].tolist())
        over = [marks[other] for other in nearby.over(box, index) if _reaches(marks[other], marks[index])]
        marks[index].covered = _is_under(box, over)


class _Nearby:
    """Finds covers over a place without looking at all of them one by one, and the largest of very many."""

    def __init__(self, order: list[int], boxes: list[Box]) -> None:
        self._order = np.array(order)
        self._boxes = np.array(boxes)
        self._large: list[int] = []
        self._fields: dict[tuple[int, int], list[int]] = defaultdict(list)
        for position, box in enumerate(boxes):
            fields = _fields_of(box, MOST_FIELDS)
            if fields is None:
                self._large.append(position)
            else:
                for field in fields:
                    self._fields[field].append(position)

    def over(self, box: Box, index: int) -> list[int]:
        """Covers painted after a thing that meet its box, the largest parts first."""
        fields = _fields_of(box, 4)
        if fields is None:
            which = np.arange(len(self._order))
        else:
            which = np.array([*self._large, *{at for field in fields for at in self._fields.get(field, ())}], dtype=int)
        boxes = self._boxes[which]
        width = np.minimum(boxes[:, 2], box.x1) - np.maximum(boxes[:, 0], box.x0) + SLACK_MM
        height = np.minimum(boxes[:, 3], box.y1) - np.maximum(boxes[:, 1], box.y0) + SLACK_MM
        meets = np.flatnonzero((self._order[which] > index) & (width > 0.0) & (height > 0.0))
        largest = meets[np.argsort(-(width * height)[meets])[:MOST_COVERS]]
        return self._order[which[largest]].tolist()  # type: ignore[no-any-return]


def _fields_of(box: Box, most: int) -> list[tuple[int, int]] | None:
    """The fields of a net that a box touches; None for more than ``most``."""
    x0, x1 = int((box.x0 - SLACK_MM) // FIELD_MM), int((box.x1 + SLACK_MM) // FIELD_MM)
    y0, y1 = int((box.y0 - SLACK_MM) // FIELD_MM), int((box.y1 + SLACK_MM) // FIELD_MM)
    if (x1 - x0 + 1) * (y1 - y0 + 1) > most:
        return None
    return [(x, y) for x in range(x0, x1 + 1) for y in range(y0, y1 + 1)]


def _is_plain(mark: Mark) -> bool:
    """A rectangle, cut by rectangles only, that hides whatever lies under it."""
    return not mark.scope and mark.area is not None and mark.area.is_rectangle and not mark.clips


def _reaches(cover: Mark, mark: Mark) -> bool:
    """Whether a cover hides a thing at all: not from inside a group that is not plain."""
    return cover.scope == mark.scope[: len(cover.scope)]


def _is_under(box: Box, covers: list[Mark]) -> bool:
    """Whether areas cover a box together: rectangles joined to each other; what they leave, each by a single other area."""
    plain = [cover for cover in covers if cover.area is not None and cover.area.is_rectangle and not cover.clips]
    rest = _left_over(box, [cover.visible or NOTHING for cover in plain])
    if not rest:
        return True
    others = [cover for cover in covers if cover.area is not None and (cover.clips or not cover.area.is_rectangle)]
    return len(rest) <= MOST_REMAINS and all(any(_holds(cover, piece) for cover in others) for piece in rest)


def _left_over(box: Box, rectangles: list[Box]) -> list[Box]:
    """What rectangles leave of a box, as fields between all their edges (one field past the limit is enough to know)."""
    edges = np.array(rectangles).reshape(-1, 4) + np.array([-SLACK_MM, -SLACK_MM, SLACK_MM, SLACK_MM])
    xs = np.unique(np.clip([box.x0, box.x1, *edges[:, 0], *edges[:, 2]], box.x0, box.x1))
    ys = np.unique(np.clip([box.y0, box.y1, *edges[:, 1], *edges[:, 3]], box.y0, box.y1))
    xs, ys = (np.array([ends[0], ends[0]]) if len(ends) == 1 else ends for ends in (xs, ys))  # a line without width
    left, right = np.searchsorted(xs, edges[:, 0]), np.searchsorted(xs, edges[:, 2], side="right") - 1
    top, bottom = np.searchsorted(ys, edges[:, 1]), np.searchsorted(ys, edges[:, 3], side="right") - 1
    open_fields = np.ones((len(ys) - 1, len(xs) - 1), dtype=bool)
    for x0, y0, x1, y1 in zip(left.tolist(), top.tolist(), right.tolist(), bottom.tolist(), strict=True):
        open_fields[y0:y1, x0:x1] = False
    rows, columns = np.nonzero(open_fields)
    return [
        Box(float(xs[column]), float(ys[row]), float(xs[column + 1]), float(ys[row + 1]))
        for row, column in zip(rows[: MOST_REMAINS + 1].tolist(), columns.tolist(), strict=False)
    ]


def _holds(cover: Mark, box: Box) -> bool:
    if cover.area is None or cover.clips is None or not (cover.visible or NOTHING).contains(box, SLACK_MM):
        return False
    return cover.area.holds(box) and all(clip.holds(box) for clip in cover.clips)
