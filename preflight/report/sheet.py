"""The drawing of one page in the HTML report: its picture in millimetres, trim and bleed, and a numbered box for each finding."""

from __future__ import annotations

from dataclasses import dataclass

from preflight.findings import PageReport
from preflight.report.docket import Place
from preflight.report.words import box_words, number, size, trim_words
from preflight.units import Box

#: A page is shown about so many pixels wide; line widths and numbers are drawn to suit.
_SHOWN_PX = 420
_ROUND_MM = 2


@dataclass(frozen=True)
class Mark:
    """One numbered box; ``tag`` is where its number stands."""

    place: Place
    box: Box
    tag: tuple[float, float]


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


def sheet_of(page: PageReport, places: list[Place], picture: str | None) -> Sheet:
    """The drawing of a page, which shows its paper where there is no picture."""
    trim = Box(0.0, 0.0, page.trim_mm[0], page.trim_mm[1]) if page.trim_mm and len(page.trim_mm) == 2 else None
    bleed = None
    if trim is not None and page.bleed_mm is not None and len(page.bleed_mm) == 4:
        left, top, right, bottom = page.bleed_mm
        bleed = Box(-left, -top, trim.x1 + right, trim.y1 + bottom)
    shown = Box(*page.picture_mm) if page.picture_mm and len(page.picture_mm) == 4 else None
    # A picture of unknown size keeps its own shape within this frame.
    frame = shown or trim or Box(0.0, 0.0, 100.0, 141.4)
    view = frame.union(trim) if trim is not None else frame
    px = max(view.width, 0.6 * view.height, 1e-3) / _SHOWN_PX
    view = view.grow(12 * px)
    marks, loose = [], []
    for place in places:
        box = place.finding.box_mm
        if box is None or place.finding.page != page.number or (trim is None and shown is None):
            loose.append(place)
            continue
        for single in _boxes(place):
            marks.append(_mark(place, single, view, px))
    return Sheet(page.number, page, picture, frame, view, trim, bleed, px, tuple(marks), tuple(loose))


def _boxes(place: Place) -> list[Box]:
    """A finding's single places where it stands for many, else its box."""
    several = place.finding.details.get("boxes_mm")
    if isinstance(several, (list, tuple)):
        boxes = [Box(*box) for box in several[:60] if isinstance(box, (list, tuple)) and len(box) == 4]
        if boxes:
            return boxes
    return [Box(*(place.finding.box_mm or (0.0, 0.0, 0.0, 0.0)))]


def _mark(place: Place, box: Box, view: Box, px: float) -> Mark:
    """A box large enough to be seen and inside what is shown, with its number at the top left corner."""
    least = 8 * px
    wide, high = max(0.0, least - box.width) / 2, max(0.0, least - box.height) / 2
    box = Box(box.x0 - wide, box.y0 - high, box.x1 + wide, box.y1 + high)
    inner = view.grow(-2 * px)
    x0, y0 = (
        min(max(low, start), end - least)
        for low, start, end in ((box.x0, inner.x0, inner.x1), (box.y0, inner.y0, inner.y1))
    )
    x1, y1 = max(x0 + least, min(box.x1, inner.x1)), max(y0 + least, min(box.y1, inner.y1))
    tag_x = min(x0, view.x1 - 26 * px)
    return Mark(
        place,
        Box(*(round(value, _ROUND_MM + 1) for value in (x0, y0, x1, y1))),
        (round(tag_x, 3), round(max(y0, view.y0 + 16 * px), 3)),
    )


def mark_words(mark: Mark) -> str:
    """What a screen reader says of a numbered box."""
    finding = mark.place.finding
    return f"Finding {mark.place.number}, {finding.severity.value}, {box_words(mark.box)}"
