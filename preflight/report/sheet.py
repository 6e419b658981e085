"""The drawing of one page in the HTML report: its picture in millimetres, trim and bleed, and a numbered box for each finding.

Under it stand the press units that the page's plates hang in, in running order; each plate can be lifted off where its picture is
in the report.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from preflight.findings import PageReport
from preflight.report.docket import Place
from preflight.report.overlays import Outline, Reach, outlines_of, reaches_of
from preflight.report.words import number, size, trim_words
from preflight.units import Box

#: A page is shown about so many pixels wide; line widths and numbers are drawn to suit.
_SHOWN_PX = 420
_ROUND_MM = 2
#: The longer side of what is cut out of a page's picture, and how much ground it shows around a place.
_CUT_PX = 304
_AROUND_MM = 12.0
#: How far off the trim a knife may cut.
KNIFE_OFF_MM = 1.0
#: Distances are drawn for so many boxes of a page; of more nobody would tell the lines apart.
_MOST_MEASURED = 24


@dataclass(frozen=True)
class Mark:
    """One numbered box; ``tag`` is where its number stands, ``reaches`` how far it is from the trim."""

    place: Place
    box: Box
    tag: tuple[float, float]
    reaches: tuple[Reach, ...] = ()


@dataclass(frozen=True)
class Unit:
    """One press unit with its plate: turn in the run, ink, mean ink in percent, its colour, and its picture's address."""

    turn: int
    ink: str
    kind: str
    percent: float
    rgb: tuple[int, int, int] | None = None
    picture: str | None = None
    #: Nothing on it anywhere, so no plate is made.
    empty: bool = False


@dataclass(frozen=True)
class Sheet:
    """What the drawing of one page needs; lengths in mm of trim space, ``px`` one pixel as shown."""

    number: int
    page: PageReport
    picture: str | None
    picture_box: Box
    view: Box
    trim: Box | None
    bleed: Box | None
    px: float
    marks: tuple[Mark, ...]
    #: Findings that name the page and no place on it.
    loose: tuple[Place, ...]
    units: tuple[Unit, ...] = ()
    #: Whether plates can be lifted: every plate with ink on it has its picture here.
    lifts: bool = False
    outlines: tuple[Outline, ...] = field(default=())

    @property
    def found(self) -> list[Place]:
        """The findings of this page, each once, in their order."""
        places = {place.number: place for place in (*(mark.place for mark in self.marks), *self.loose)}
        return [places[number_] for number_ in sorted(places)]

    @property
    def facts(self) -> list[tuple[str, str]]:
        """What was measured, in words."""
        page = self.page
        rows = [("Trim", f"{size(page.trim_mm)}, from {trim_words(page)}" if page.trim_from else size(page.trim_mm))]
        if page.bleed_mm is not None and len(page.bleed_mm) == 4:
            sides = zip(("left", "top", "right", "bottom"), page.bleed_mm, strict=True)
            rows.append(("Past the trim", ", ".join(f"{side} {number(depth, 1)}" for side, depth in sides) + " mm"))
        if page.rotation:
            rows.append(("Turned", f"{page.rotation}°"))
        if page.max_total_coverage_percent is not None:
            rows.append(("Most ink", f"{number(page.max_total_coverage_percent, 1)} %"))
        if page.images is not None:
            rows.append(("Pictures", str(page.images)))
        if page.fonts:
            rows.append(("Fonts", ", ".join(page.fonts)))
        return rows


@dataclass(frozen=True)
class Cut:
    """What is shown of a page's picture for one finding: the window, the box in it, and the size in pixels."""

    window: Box
    box: Box
    wide: int
    high: int
    px: float


def cut_of(place: Box, picture: Box) -> Cut:
    """The place and at least 12 mm around it, within what the page's picture shows."""
    margin = max(_AROUND_MM, 0.1 * max(place.width, place.height))
    window = place.grow(margin).intersect(picture)
    if min(window.width, window.height) < 1.0:
        window = picture
    px = max(window.width / _CUT_PX, window.height / _CUT_PX)
    box = _to_be_seen(place, window, px, around=2 * px)
    return Cut(window, box, max(1, round(window.width / px)), max(1, round(window.height / px)), px)


def sheet_of(
    page: PageReport,
    places: list[Place],
    picture: str | None,
    plates: dict[str, str] | None = None,
    running_order: Sequence[str] = (),
) -> Sheet:
    """The drawing of a page, which shows its paper where there is no picture.

    ``plates`` are the addresses of the pictures of its plates by ink.
    """
    trim = Box(0.0, 0.0, page.trim_mm[0], page.trim_mm[1]) if page.trim_mm and len(page.trim_mm) == 2 else None
    bleed = None
    if trim is not None and page.bleed_mm is not None and len(page.bleed_mm) == 4:
        left, top, right, bottom = page.bleed_mm
        bleed = Box(-left, -top, trim.x1 + right, trim.y1 + bottom)
    shown = Box(*page.picture_mm) if page.picture_mm and len(page.picture_mm) == 4 else None
    # A picture of unknown size keeps its own shape within this frame.
    frame = shown or trim or Box(0.0, 0.0, 100.0, 141.4)
    view = frame.union(trim.grow(KNIFE_OFF_MM)) if trim is not None else frame
    px = max(view.width, 0.6 * view.height, 1e-3) / _SHOWN_PX
    view = view.grow(12 * px)
    marks: list[Mark] = []
    loose: list[Place] = []
    for place in places:
        box = place.finding.box_mm
        if box is None or place.finding.page != page.number or (trim is None and shown is None):
            loose.append(place)
            continue
        for single in _boxes(place):
            reaches = (
                reaches_of(single, trim, view, px, len(marks))
                if trim is not None and len(marks) < _MOST_MEASURED
                else ()
            )
            marks.append(_mark(place, single, view, px, reaches))
    units = _units(page, plates or {}, running_order)
    lifts = bool(picture) and any(unit.picture for unit in units) and all(unit.picture or unit.empty for unit in units)
    outlines = outlines_of(places, page.number, view, px) if shown is not None else ()
    return Sheet(
        page.number, page, picture, frame, view, trim, bleed, px, tuple(marks), tuple(loose), units, lifts, outlines
    )


def _units(page: PageReport, plates: dict[str, str], running_order: Sequence[str]) -> tuple[Unit, ...]:
    """The plates in running order: inks the rules name first, then the others as the file has them, finishing last."""
    turns = {ink: turn for turn, ink in enumerate(running_order)}
    looks = {plate.ink: plate.rgb for plate in page.plate_pictures}
    pictured = {plate.ink for plate in page.plate_pictures if plate.picture is not None}
    ordered = sorted(page.plates, key=lambda plate: (plate.kind == "finishing", turns.get(plate.ink, len(turns))))
    units = []
    for turn, plate in enumerate(ordered, start=1):
        rgb = looks.get(plate.ink, [])
        look = (rgb[0], rgb[1], rgb[2]) if len(rgb) == 3 else None
        empty = plate.ink in looks and plate.ink not in pictured
        units.append(Unit(turn, plate.ink, plate.kind, plate.coverage_percent, look, plates.get(plate.ink), empty))
    return tuple(units)


def _boxes(place: Place) -> list[Box]:
    """A finding's single places where it stands for many, else its box."""
    several = place.finding.details.get("boxes_mm")
    if isinstance(several, (list, tuple)):
        boxes = [Box(*box) for box in several[:60] if isinstance(box, (list, tuple)) and len(box) == 4]
        if boxes:
            return boxes
    return [Box(*(place.finding.box_mm or (0.0, 0.0, 0.0, 0.0)))]


def _mark(place: Place, box: Box, view: Box, px: float, reaches: tuple[Reach, ...] = ()) -> Mark:
    """A box large enough to be seen and inside what is shown, with its number at the top left corner."""
    box = _to_be_seen(box, view, px)
    tag_x = min(box.x0, view.x1 - 26 * px)
    return Mark(
        place,
        Box(*(round(value, _ROUND_MM + 1) for value in (box.x0, box.y0, box.x1, box.y1))),
        (round(tag_x, 3), round(max(box.y0, view.y0 + 16 * px), 3)),
        reaches,
    )


def _to_be_seen(box: Box, shown: Box, px: float, around: float = 0.0) -> Box:
    """A box with some ground ``around`` it, no smaller than can be seen, and inside what is shown."""
    least = 8 * px
    inner = shown.grow(-2 * px)
    wide, high = (around + max(0.0, least - side) / 2 for side in (box.width, box.height))
    x0 = min(max(box.x0 - wide, inner.x0), inner.x1 - least)
    y0 = min(max(box.y0 - high, inner.y0), inner.y1 - least)
    return Box(x0, y0, max(x0 + least, min(box.x1 + wide, inner.x1)), max(y0 + least, min(box.y1 + high, inner.y1)))
