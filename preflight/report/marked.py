"""A copy of the artwork with a numbered mark at each finding, to send along or to look at in any PDF viewer.

Marks are standard square annotations, and notes where a finding has no place (ISO 32000-2, 12.5.6.4 and 12.5.6.8), each with
an appearance of its own, so that every viewer draws them alike. Numbers are those of the HTML report. The marks show on a screen and are
not flagged to print: should the copy ever reach the plates by mistake, it prints as the artwork does. The original is only read.
"""

from __future__ import annotations

import io
import re
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from pikepdf import Array, Dictionary, Name, Pdf, Stream, String

from preflight.errors import ToolFault
from preflight.findings import PageReport, Report
from preflight.inventory.boxes import BoxesUncertain, read_boxes, settle_geometry
from preflight.inventory.opening import Artwork, open_artwork
from preflight.report.docket import Place, numbered
from preflight.report.files import write_whole
from preflight.report.words import plain
from preflight.ticket import Job, Press, Ticket
from preflight.units import Box, Matrix, PageFrame

#: A number's height on the page, as a share of its longer side, and its bounds.
_TAG_SHARE, _LEAST_TAG_MM, _MOST_TAG_MM = 0.016, 2.5, 25.0
#: Of a finding with more places than this the first are framed.
_MOST_FRAMES = 200
#: Of a picture, all its pixels together.
_MOST_PICTURE_BYTES = 150_000_000
_DARK, _LIGHT = "0.08 0.08 0.09", "1 1 1"
_COLOUR = (0.61, 0.08, 0.31)


def mark_copy(source: Path, report: Report, target: Path, job: Job | None = None) -> int:
    """Writes the marked copy of ``source`` and returns how many marks it holds; findings on lost pages have none.

    The copy of a picture is a PDF that holds it at the size of its order, so ``job`` has to be the one it was checked for. Raises
    ``ToolFault`` where there is nothing to mark (a dead file, a picture too large to send) or where ``target`` is the artwork itself.
    """
    if target.exists() and target.samefile(source):
        raise ToolFault(f"{plain(target)}: is the artwork itself, which is never written to")
    is_picture = report.file.kind != "pdf"
    with open_artwork(source, job=job if is_picture and job is not None else _no_order(None)) as artwork:
        if artwork.pdf is None:
            raise ToolFault(f"{plain(source.name)}: there are no pages to mark")
        if is_picture and _pixel_bytes(artwork) > _MOST_PICTURE_BYTES:
            raise ToolFault(f"{plain(source.name)}: too large a picture for a marked copy")
        pages = {page.number: page for page in report.pages}
        marks = 0
        loose: dict[int, int] = {}
        tags: dict[int, list[Box]] = {}
        for place in numbered(report):
            number = place.finding.page or 1
            if not 1 <= number <= len(artwork.pages) or artwork.pages[number - 1].dictionary is None:
                continue
            frame = _frame(artwork, number, pages.get(number))
            if frame is None:
                continue
            if place.finding.box_mm is None:
                annotation = _note(artwork.pdf, frame, place, loose.get(number, 0), report.made_at)
                loose[number] = loose.get(number, 0) + 1
            else:
                annotation = _square(artwork.pdf, frame, place, report.made_at, tags.setdefault(number, []))
            _add(artwork, number, annotation)
            marks += 1
        file = io.BytesIO()
        encrypted = artwork.pdf.is_encrypted
        artwork.pdf.save(file, encryption=encrypted, deterministic_id=not encrypted)
    write_whole(target, file.getvalue())
    return marks


def _pixel_bytes(artwork: Artwork) -> int:
    """What the pictures of all pages take, as they lie in the file that holds them."""
    pages = [page.dictionary for page in artwork.pages if page.dictionary is not None]
    pictures = [thing for page in pages for thing in page.get("/Resources", {}).get("/XObject", {}).values()]
    return sum(int(picture.get("/Length", 0)) for picture in pictures)


def _no_order(trim_mm: tuple[float, float] | None) -> Job:
    """A job that orders nothing, or only the size that the report took the trim from."""
    return Job(Ticket(trim_mm=trim_mm, bleed_mm=0.0), Press(screen_lpi=0.0), {}, {})


def _frame(artwork: Artwork, number: int, page: PageReport | None) -> PageFrame | None:
    """How the page lies, by the same rules as when it was measured."""
    ordered = None
    if page is not None and page.trim_from == "ticket" and page.trim_mm is not None:
        ordered = (page.trim_mm[0], page.trim_mm[1])
    try:
        return settle_geometry(read_boxes(artwork, number), _no_order(ordered)).frame
    except BoxesUncertain:
        return None


@dataclass(frozen=True)
class _Pen:
    """Draws in millimetres as the page is seen (y down from the top left of the trim); writes PDF user space."""

    to_user: Matrix

    @classmethod
    def of(cls, frame: PageFrame) -> _Pen:
        return cls(frame.to_trim_mm.inverted())

    def box(self, box: Box) -> Box:
        return self.to_user.box(box)

    def framed(self, box: Box, width: float) -> str:
        """A dark line with a light one in it."""
        return "".join(self._line(box, width * wide, colour) for wide, colour in ((3.0, _DARK), (1.2, _LIGHT)))

    def _line(self, box: Box, width: float, colour: str) -> str:
        seen = self.box(box)
        thick = width * self.to_user.x_scale
        return (
            f"{colour} RG {thick:.4f} w 0 J 0 j [] 0 d "
            f"{seen.x0:.4f} {seen.y0:.4f} {seen.width:.4f} {seen.height:.4f} re S\n"
        )

    def tag(self, box: Box, text: str) -> str:
        """A dark label with a number that stands upright however the page is turned."""
        seen = self.box(box)
        ground = f"{_DARK} rg {seen.x0:.4f} {seen.y0:.4f} {seen.width:.4f} {seen.height:.4f} re f\n"
        size = 0.72 * box.height
        start = box.x0 + (box.width - 0.556 * size * len(text)) / 2.0  # a digit is 556 thousandths wide
        foot = box.y1 - 0.25 * box.height
        upright = Matrix(1.0, 0.0, 0.0, -1.0, start, foot).then(self.to_user)
        numbers = " ".join(f"{value:.5f}" for value in upright)
        return f"{ground}BT {_LIGHT} rg {numbers} Tm /F {size:.4f} Tf ({text}) Tj ET\n"


def _square(pdf: Pdf, frame: PageFrame, place: Place, made_at: str, tags: list[Box]) -> Any:
    """A square annotation around a finding's place, or around each of its places, with the number above it.

    ``tags`` are the labels that lie on the page already: of findings at one place the numbers stand side by side.
    """
    pen = _Pen.of(frame)
    tag_mm = _tag_mm(frame)
    line = 0.045 * tag_mm
    page = frame.media_mm
    boxes = [_kept_in(box, page, tag_mm) for box in _boxes(place)]
    whole = boxes[0]
    for box in boxes[1:]:
        whole = whole.union(box)
    label = str(place.number)
    wide = tag_mm * (0.45 * len(label) + 0.5)
    left = min(max(whole.x0, page.x0), page.x1 - wide)
    top = whole.y0 - tag_mm if whole.y0 - tag_mm >= page.y0 else whole.y0
    tag = Box(left, top, left + wide, top + tag_mm)
    for _ in tags:
        under = next((other for other in tags if not tag.intersect(other).is_empty), None)
        if under is None:
            break
        tag = tag.moved(under.x1 + 0.1 * tag_mm - tag.x0, 0.0)
        if tag.x1 > page.x1:  # the next row, from the left again
            tag = tag.moved(left - tag.x0, 1.1 * tag_mm)
    tags.append(tag)
    drawing = "".join(pen.framed(box, line) for box in boxes) + pen.tag(tag, label)
    seen = pen.box(whole.union(tag).grow(2.0 * line))
    square = pen.box(whole)
    inset = [square.x0 - seen.x0, square.y0 - seen.y0, seen.x1 - square.x1, seen.y1 - square.y1]
    entries = {"/RD": Array([round(max(0.0, side), 4) for side in inset])}
    return _annotation(pdf, "/Square", seen, drawing, place, made_at, entries)


def _note(pdf: Pdf, frame: PageFrame, place: Place, turn: int, made_at: str) -> Any:
    """A note for a finding without a place; several stand below one another at the top left of the trim."""
    pen = _Pen.of(frame)
    tag_mm = 1.4 * _tag_mm(frame)
    label = str(place.number)
    wide = tag_mm * (0.45 * len(label) + 0.5)
    rows = max(1, int(frame.trim_mm.height / (1.2 * tag_mm)) - 1)
    column, row = divmod(turn, rows)
    x, y = tag_mm * (0.5 + 2.0 * column), tag_mm * (0.5 + 1.2 * row)
    tag = Box(x, y, x + wide, y + tag_mm)
    drawing = pen.framed(tag, 0.04 * tag_mm) + pen.tag(tag, label)
    entries = {"/Name": Name.Comment, "/Open": False}
    return _annotation(pdf, "/Text", pen.box(tag.grow(0.1 * tag_mm)), drawing, place, made_at, entries)


def _annotation(
    pdf: Pdf, subtype: str, seen: Box, drawing: str, place: Place, made_at: str, entries: dict[str, Any]
) -> Any:
    rectangle = Array([round(value, 4) for value in seen])
    font = Dictionary(
        Type=Name.Font, Subtype=Name.Type1, BaseFont=Name("/Helvetica-Bold"), Encoding=Name.WinAnsiEncoding
    )
    appearance = Stream(
        pdf,
        drawing.encode("ascii"),
        {
            "/Type": Name.XObject,
            "/Subtype": Name.Form,
            "/BBox": rectangle,
            "/Resources": Dictionary(Font=Dictionary(F=font)),
        },
    )
    finding = place.finding
    date = "D:" + "".join(sign for sign in made_at if sign.isdigit())[:14] + "Z"
    return pdf.make_indirect(
        Dictionary(
            {
                "/Type": Name.Annot,
                "/Subtype": Name(subtype),
                "/Rect": rectangle,
                "/Contents": String(_words(place)),
                "/NM": String(f"{place.number}-{re.sub(r'[^a-zA-Z0-9~-]', '', finding.key)[:40]}"),
                "/T": String("preflight"),
                "/Subj": String(plain(finding.id)),
                "/M": String(date),
                "/CreationDate": String(date),
                # Seen on screen, not flagged to print.
                "/F": 0,
                "/C": Array(list(_COLOUR)),
                "/Border": Array([0, 0, 1]),
                "/AP": Dictionary(N=pdf.make_indirect(appearance)),
                **entries,
            }
        )
    )


def _words(place: Place) -> str:
    """What the note says: number and severity, what, where, and what to do."""
    finding = place.finding
    state = "accepted" if finding.waived else finding.severity.value
    lines = [
        f"{place.number}. {state}: {plain(finding.message)}",
        ", ".join(filter(None, (place.where, place.figures))),
    ]
    if finding.waived:
        waived = finding.waived
        lines.append(f"Accepted by {plain(waived.by)} on {plain(waived.on)}: {plain(waived.why)}")
    return "\n".join([*lines, plain(finding.remedy)])


def _tag_mm(frame: PageFrame) -> float:
    trim = frame.trim_mm
    return min(max(_TAG_SHARE * max(trim.width, trim.height), _LEAST_TAG_MM), _MOST_TAG_MM)


def _boxes(place: Place) -> list[Box]:
    several = place.finding.details.get("boxes_mm")
    if isinstance(several, (list, tuple)):
        boxes = [Box(*box) for box in several[:_MOST_FRAMES] if isinstance(box, (list, tuple)) and len(box) == 4]
        if boxes:
            return boxes
    return [Box(*(place.finding.box_mm or (0.0, 0.0, 0.0, 0.0)))]


def _kept_in(box: Box, page: Box, tag_mm: float) -> Box:
    """A frame just around a place, large enough to be seen and on the page."""
    spare = 0.1 * tag_mm
    least = 0.6 * tag_mm
    box = box.grow(spare)
    wide, high = max(0.0, least - box.width) / 2.0, max(0.0, least - box.height) / 2.0
    box = Box(box.x0 - wide, box.y0 - high, box.x1 + wide, box.y1 + high)
    inner = page.grow(-spare)
    x0 = min(max(box.x0, inner.x0), inner.x1 - least)
    y0 = min(max(box.y0, inner.y0), inner.y1 - least)
    return Box(x0, y0, max(min(box.x1, inner.x1), x0 + least), max(min(box.y1, inner.y1), y0 + least))


def _add(artwork: Artwork, number: int, annotation: Any) -> None:
    page = artwork.pages[number - 1].dictionary
    present = page.get("/Annots")
    if isinstance(present, Array):
        present.append(annotation)
    else:
        page["/Annots"] = Array([annotation])
