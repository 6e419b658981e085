"""Crop and register marks that would print: inside the trim, or in the bleed, where a slightly moved cut shows them.

What it looks at
    Short thin lines and bars, and everything in the registration colour, inside the bleed area of each page: whether they are crop
    marks that point at the corners of the trim (or of a smaller page placed inside it), or register marks.
Why it matters on press
    The cut is never exact. A mark that starts 2 mm from the trim shows as a black tick on the edge of some copies, and marks
    inside the trim are printed for certain.
How it is measured
    A crop mark is a level or upright line no thicker and no longer than the rules say. Marks count where a level and an upright
    one form a corner without touching it, lie wholly outside the rectangle they point at, and do so at two corners of the trim
    or at all four of another rectangle, equally far from it. A register mark is a cross in a ring beside the middle of an edge, or any
    cross in all inks. Anything in the registration colour that lies outside the trim is a mark. Measured is the distance of the
    nearest mark from the trim (0 inside it), against the bleed ordered. Table rules, grids, frames and bleeding lines are not marks.
What to ask the customer for
    The same export with the offset of marks set to the bleed or more, or without marks.
Source
    ISO 32000-2, 14.11.2 and 14.11.3: marks lie outside the trim, printer's marks outside the bleed box; the figures are common
    practice.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from itertools import product
from typing import NamedTuple

from preflight.checking import Answer, Check, Kind
from preflight.findings import Found, Stage
from preflight.inks import REGISTRATION
from preflight.inventory.model import PROCESS_INKS, Colour, DocumentFacts, Page, Painted
from preflight.ticket import Job
from preflight.units import TOLERANCE_MM, Box

#: More short lines than this on a page are a drawing; marks around it are then looked for at the trim only.
MOST_LINES = 1500
#: From this tint in all four process inks a colour is one that registers, whatever it is called.
ALL_INKS_FROM_PERCENT = 90.0


@dataclass(frozen=True)
class MarksLimits:
    """What a mark looks like, in millimetres."""

    line_thickest_mm: float
    line_shortest_mm: float
    line_longest_mm: float
    gap_longest_mm: float
    aligned_within_mm: float
    ring_largest_mm: float


class Line(NamedTuple):
    """A short thin line: its box, where it lies across, and what shows of it in the bleed area."""

    box: Box
    shown: Box | None
    level: bool
    all_inks: bool

    @property
    def across(self) -> float:
        """The y of a level line, the x of an upright one."""
        return (self.box.y0 + self.box.y1) / 2.0 if self.level else (self.box.x0 + self.box.x1) / 2.0

    @property
    def span(self) -> tuple[float, float]:
        return (self.box.x0, self.box.x1) if self.level else (self.box.y0, self.box.y1)

    @property
    def middle(self) -> tuple[float, float]:
        return (self.box.x0 + self.box.x1) / 2.0, (self.box.y0 + self.box.y1) / 2.0

    @property
    def length(self) -> float:
        return self.span[1] - self.span[0]


@dataclass
class Candidates:
    """What might be a mark on one page."""

    level: list[Line] = field(default_factory=list)
    upright: list[Line] = field(default_factory=list)
    rings: list[Box] = field(default_factory=list)
    registration: list[tuple[Box, Box]] = field(default_factory=list)


class Corner(NamedTuple):
    """A corner that a level and an upright mark point at: which one (right?, bottom?), and how far they stay away."""

    x: float
    y: float
    right: bool
    bottom: bool
    #: From the level and from the upright mark to the corner.
    gaps: tuple[float, float]
    marks: tuple[Line, Line]


def check_page(page: Page, document: DocumentFacts, job: Job, limits: MarksLimits) -> Iterator[Answer]:
    """Looks for marks among the lines of one page."""
    if page.trim_mm is None or page.zone_mm is None or document.kind != "pdf":
        return
    trim = Box(0.0, 0.0, *page.trim_mm)
    candidates = _candidates(page, page.zone_mm, limits)
    marks: dict[str, list[Box]] = {
        "crop marks": [line.shown for line in _crop_marks(candidates, trim, limits) if line.shown is not None],
        "register marks": list(_register_marks(candidates, trim, limits)),
        "marks in the registration colour": [shown for box, shown in candidates.registration if not _enters(box, trim)],
    }
    told: set[Box] = set()
    for what, boxes in marks.items():
        fresh = [box for box in dict.fromkeys(boxes) if box not in told]
        told.update(fresh)
        for box in fresh:
            yield Found(
                "in-bleed",
                page.number,
                box,
                measured=_distance(box, trim),
                limit=job.bleed_mm,
                unit="mm",
                subject=what,
                source=what,
                details={"what": what, "boxes_mm": [each.rounded() for each in fresh[:20]]},
            )


def _candidates(page: Page, zone: Box, limits: MarksLimits) -> Candidates:
    found = Candidates()
    for thing in page.painted:
        if thing.covered or thing.alpha <= 0.0 or thing.colour is None or {"pattern", "soft-mask"} & set(thing.inside):
            continue
        registers = REGISTRATION in thing.colour.inks
        if not registers and thing.kind not in ("stroke", "fill"):
            continue
        for box in thing.parts_mm or (thing.box_mm,):
            if registers:
                shown = _shown(box, thing, zone)
                if shown is not None:
                    found.registration.append((box, shown))
            thin, long = sorted((box.width, box.height))
            if thin <= limits.line_thickest_mm and limits.line_shortest_mm <= long <= limits.line_longest_mm:
                line = _as_line(box, thing, zone)
                if line is not None:
                    (found.level if line.level else found.upright).append(line)
            elif thing.kind in ("stroke", "fill") and _is_ring(box, limits):
                found.rings.append(box)
    return found


def _shown(box: Box, thing: Painted, zone: Box) -> Box | None:
    if thing.visible_mm is None:
        return None
    if box.intersect(zone.grow(-TOLERANCE_MM)).is_empty:
        return None
    shown = box.intersect(thing.visible_mm).intersect(zone)
    return None if shown.is_empty else shown


def _as_line(box: Box, thing: Painted, zone: Box) -> Line | None:
    colour = thing.colour
    if colour is None:
        return None
    tints = colour.tints_percent()
    if tints is not None and not tints:
        return None  # white leaves no mark
    return Line(box, _shown(box, thing, zone), box.width >= box.height, _in_all_inks(colour, tints))


def _in_all_inks(colour: Colour, tints: dict[str, float] | None) -> bool:
    if REGISTRATION in colour.inks:
        return True
    return all((tints or {}).get(ink, 0.0) >= ALL_INKS_FROM_PERCENT for ink in PROCESS_INKS)


def _is_ring(box: Box, limits: MarksLimits) -> bool:
    return 1.0 <= box.width <= limits.ring_largest_mm and abs(box.width - box.height) <= 0.1 * box.width


# --- crop marks ------------------------------------------------------------------------------------------------------


def _crop_marks(found: Candidates, trim: Box, limits: MarksLimits) -> list[Line]:
    """The lines that point at corners of the trim, or at all four of another rectangle."""
    slack = limits.aligned_within_mm
    at_trim = Candidates(
        [line for line in found.level if _near(line.across, (trim.y0, trim.y1), slack)],
        [line for line in found.upright if _near(line.across, (trim.x0, trim.x1), slack)],
    )
    corners = [
        corner
        for corner in _corners(at_trim, -TOLERANCE_MM, limits)
        if abs(corner.x - (trim.x1 if corner.right else trim.x0)) <= slack
        and abs(corner.y - (trim.y1 if corner.bottom else trim.y0)) <= slack
    ]
    if len({(corner.right, corner.bottom) for corner in corners}) >= 2:
        return _lines_of(corners)
    if max(len(found.level), len(found.upright)) > MOST_LINES:
        return []
    return _lines_of(_rectangle(list(_corners(found, slack, limits)), slack))


def _near(value: float, edges: Iterable[float], slack: float) -> bool:
    return any(abs(value - edge) <= slack for edge in edges)


def _lines_of(corners: Iterable[Corner]) -> list[Line]:
    return list(dict.fromkeys(line for corner in corners for line in corner.marks))


def _corners(found: Candidates, least_gap: float, limits: MarksLimits) -> Iterator[Corner]:
    """Every corner that a level and an upright line form without touching it, both lying outside it."""
    if not found.level or not found.upright:
        return
    import numpy as np

    across = np.array([line.across for line in found.upright])
    low, high = np.array([line.span for line in found.upright]).T
    for line in found.level:
        y, (start, stop) = line.across, line.span
        for right, bottom in product((False, True), repeat=2):
            beside = start - across if right else across - stop
            over = low - y if bottom else y - high
            fits = (np.minimum(beside, over) >= -TOLERANCE_MM) & (np.maximum(beside, over) <= limits.gap_longest_mm)
            if not fits.any():
                continue
            # The nearest line is the partner: the ticks of a chart have one that touches, crop marks do not.
            nearest = int(np.argmin(np.where(fits, beside, np.inf)))
            gaps = float(beside[nearest]), float(over[nearest])
            if min(gaps) >= least_gap:
                yield Corner(float(across[nearest]), y, right, bottom, gaps, (line, found.upright[nearest]))


def _rectangle(corners: list[Corner], slack: float) -> list[Corner]:
    """Four corners of one rectangle of at least 20 mm, with marks of like length that stay equally far away."""
    by_kind = {
        (right, bottom): [corner for corner in corners if (corner.right, corner.bottom) == (right, bottom)]
        for right, bottom in product((False, True), repeat=2)
    }
    if max(map(len, by_kind.values()), default=0) > MOST_LINES:
        return []
    for first in by_kind[False, False]:
        for last in by_kind[True, True]:
            if last.x - first.x < 20.0 or last.y - first.y < 20.0 or not _alike((first, last)):
                continue
            others = [
                next((each for each in by_kind[kind] if abs(each.x - x) <= slack and abs(each.y - y) <= slack), None)
                for kind, x, y in (((True, False), last.x, first.y), ((False, True), first.x, last.y))
            ]
            four = [first, last, *(each for each in others if each is not None)]
            if len(four) == 4 and _alike(four):
                return four
    return []


def _alike(corners: Iterable[Corner]) -> bool:
    gaps = [gap for corner in corners for gap in corner.gaps]
    lengths = [line.length for corner in corners for line in corner.marks]
    return max(gaps) - min(gaps) <= 1.0 and max(lengths) <= 1.5 * min(lengths)


# --- register marks --------------------------------------------------------------------------------------------------


def _register_marks(found: Candidates, trim: Box, limits: MarksLimits) -> Iterator[Box]:
    """Crosses in all inks anywhere; crosses in a ring beside the middle of an edge."""
    slack = limits.aligned_within_mm
    level, upright = (
        [line for line in lines if line.all_inks or _beside_a_middle(*line.middle, trim)]
        for lines in (found.level, found.upright)
    )
    if not level or not upright or max(len(level), len(upright)) > MOST_LINES:
        return
    import numpy as np

    middles = np.array([(*line.middle, line.length) for line in upright])
    for line in level:
        x, y = line.middle
        fits = (np.abs(middles[:, 0] - x) <= slack) & (np.abs(middles[:, 1] - y) <= slack)
        fits &= np.abs(middles[:, 2] - line.length) <= 0.2 * line.length
        for index in np.flatnonzero(fits):
            other = upright[index]
            shown = line.shown or other.shown
            if shown is None:
                continue
            both = shown.union(other.shown or shown)
            in_all = line.all_inks and other.all_inks
            if in_all or (_beside_a_middle(x, y, trim) and any(_is_centre(ring, x, y, slack) for ring in found.rings)):
                yield both


def _beside_a_middle(x: float, y: float, trim: Box) -> bool:
    outside = not (trim.x0 <= x <= trim.x1 and trim.y0 <= y <= trim.y1)
    return outside and (abs(x - trim.width / 2.0) <= 5.0 or abs(y - trim.height / 2.0) <= 5.0)


def _is_centre(ring: Box, x: float, y: float, slack: float) -> bool:
    return abs((ring.x0 + ring.x1) / 2.0 - x) <= slack and abs((ring.y0 + ring.y1) / 2.0 - y) <= slack


# --- places ----------------------------------------------------------------------------------------------------------


def _enters(box: Box, trim: Box) -> bool:
    return not box.intersect(trim.grow(-TOLERANCE_MM)).is_empty


def _distance(box: Box, trim: Box) -> float:
    """From the trim outward to a box; 0 where it reaches inside."""
    aside = max(trim.x0 - box.x1, box.x0 - trim.x1, 0.0)
    over = max(trim.y0 - box.y1, box.y0 - trim.y1, 0.0)
    return math.hypot(aside, over)


CHECK = Check(
    name="marks",
    limits=MarksLimits,
    needs=frozenset({"paint"}),
    on_page=check_page,
    kinds={
        "in-bleed": Kind(
            Stage.BINDERY,
            "There are {subject} {measured} mm from the trim, inside the bleed of {limit} mm.",
            "The marks for cutting and register stand too close to your page, or on it, and may show on the finished piece. Please export "
            "again with the offset of the marks set to the bleed or more, or without marks.",
        ),
    },
)
