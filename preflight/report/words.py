"""The words all reports share: places, figures, sizes, severities, and strangers' text made safe to show.

Lengths in mm with at most one decimal under 10 mm and none above, since nobody measures a proof finer with a ruler; figures
held against a limit keep two decimals. Strangers' text loses control characters, marks that turn the reading direction, and
code points that no encoding can write.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from preflight.findings import Finding, PageReport, Report, Severity, Stage, Verdict
from preflight.units import TOLERANCE_MM, Box

Trims = Mapping[int, Sequence[float] | None]

#: Format characters that turn or hide text: bidirectional marks and isolates, line and paragraph ends, byte order mark.
_TURNING = frozenset("\u061c\u200e\u200f\u2028\u2029\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069\ufeff")
_REPLACEMENT = "\N{REPLACEMENT CHARACTER}"

VERDICT_WORDS = {
    Verdict.STOP: "no plates from this file yet",
    Verdict.UNCHECKED: "some questions have no answer yet",
    Verdict.ASK: "somebody decides before plates",
    Verdict.GO: "straight to plates",
}
SEVERITY_WORDS = {
    Severity.STOP: "stop",
    Severity.ASK: "ask",
    Severity.NOTE: "note",
}
SEVERITY_MEANS = {
    Severity.STOP: "no plates until it is mended",
    Severity.ASK: "somebody decides",
    Severity.NOTE: "worth knowing",
}
STAGE_WORDS = {
    Stage.INTAKE: "Intake",
    Stage.PLATES: "Plates",
    Stage.PRESS: "Press",
    Stage.BINDERY: "Bindery",
}
#: Keys in a finding's details under which a second picture may stand, and what it shows; then what the first one shows.
SECOND_PICTURES = {
    "picture_without_overprint": ("Without overprint, as most screens show it", "On the plates"),
    "picture_out_of_register": ("The same edge close up, out of register", "In register"),
}
SEVERITIES = (Severity.STOP, Severity.ASK, Severity.NOTE)
#: Units that are things one counts.
_COUNTED = ("pages", "modules")
_UNITS = {"percent": "%", "deg": "°", "degrees": "°", "mm2": "mm²"}
_TRIM_FROM = {
    "trim-box": "trim box",
    "art-box": "art box",
    "ticket": "ordered size, centred",
    "crop-box": "crop box, as there is no trim box",
    "image": "the picture's own size",
}


def plain(text: object, most: int = 0) -> str:
    """A stranger's text on one line, safe on a terminal and in a page; cut to ``most`` characters where given."""
    said = str(text)
    clean = said if said.isprintable() else "".join(_safe_character(character) for character in said)
    if most and len(clean) > most:
        return clean[: most - 1] + "…"
    return clean


def _safe_character(character: str) -> str:
    if " " <= character <= "~":
        return character
    if character in "\t\n\r\v\f":
        return " "
    if character in _TURNING or unicodedata.category(character) in ("Cc", "Cs"):
        return _REPLACEMENT
    code = ord(character)
    if 0xFDD0 <= code <= 0xFDEF or code & 0xFFFE == 0xFFFE:  # noncharacters: no HTML may hold them
        return _REPLACEMENT
    return character


def number(value: float, digits: int = 2) -> str:
    """A figure as a person writes it: no trailing zeros, no minus zero."""
    text = f"{value:.{digits}f}"
    if "." in text:
        text = text.rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def length(value_mm: float) -> str:
    """A length for a ruler: one decimal under 10 mm, none above."""
    return f"{number(value_mm, 1 if abs(value_mm) < 10 else 0)} mm"


def with_unit(value: float | None, unit: str | None, digits: int = 2) -> str:
    """A figure and its unit: ``71.9 ppi``, ``341 %``."""
    if value is None:
        return "unknown"
    figure = number(value, max(0, digits - 2) if abs(value) >= 1000 else digits)
    if not unit:
        return figure
    sign = _UNITS.get(unit, plain(unit))
    if value == 1.0 and unit in _COUNTED:
        sign = unit.removesuffix("s")
    return f"{figure}{'' if sign == '°' else ' '}{sign}"


def figures(finding: Finding) -> str:
    """Measured against limit, ``71.9 ppi, limit 150 ppi``, in as many digits as it takes to tell them apart.

    Empty where a finding has no figure.
    """
    if finding.measured is None:
        return ""
    if finding.limit is None:
        return with_unit(finding.measured, finding.unit)
    for digits in (2, 3):
        measured, limit = (with_unit(side, finding.unit, digits) for side in (finding.measured, finding.limit))
        if measured != limit:
            break
    return f"{measured}, limit {limit}"


def size(sides_mm: Sequence[float] | None) -> str:
    """A trim size, ``148 x 210 mm``."""
    if sides_mm is None or len(sides_mm) != 2:
        return "size unknown"
    return f"{number(sides_mm[0], 1)} x {number(sides_mm[1], 1)} mm"


def bytes_words(amount: int | None) -> str:
    """A file's size as people say it."""
    if amount is None:
        return "size unknown"
    if amount < 1000:
        return f"{amount} bytes"
    value = float(amount)
    for unit in ("kB", "MB"):
        value /= 1000
        if value < 999.5:
            return f"{value:.1f} {unit}" if value < 10 else f"{value:.0f} {unit}"
    return f"{value / 1000:.1f} GB"


def money(amount: float, currency: object) -> str:
    """An amount in the shop's currency, ``EUR 1,240`` or ``EUR 9.50``."""
    figure = f"{amount:,.0f}" if amount >= 100 or amount == int(amount) else f"{amount:,.2f}"
    return f"{plain(currency)} {figure}" if currency else figure


def count_of(amount: int, one: str, many: str | None = None) -> str:
    """``1 page``, ``3 pages``."""
    return f"{amount} {one if amount == 1 else many or one + 's'}"


def page_list(pages: Iterable[int]) -> str:
    """Page numbers with runs drawn together: ``1 to 3, 7``."""
    runs: list[list[int]] = []
    for page in sorted(set(pages)):
        if runs and page == runs[-1][-1] + 1:
            runs[-1].append(page)
        else:
            runs.append([page])
    parts = []
    for run in runs:
        parts += [f"{run[0]} to {run[-1]}"] if len(run) > 2 else [str(page) for page in run]
    return ", ".join(parts)


def pages_words(pages: Iterable[int]) -> str:
    """``page 3``; ``pages 1 to 3, 7``."""
    several = sorted(set(pages))
    return f"page{'s' if len(several) > 1 else ''} {page_list(several)}"


def place(finding: Finding, trim_mm: Sequence[float] | None = None) -> str:
    """Where a finding lies, for somebody with a ruler: ``page 3, 12 mm from left trim, 30 mm from top``."""
    pages = finding.details.get("pages")
    if finding.page is None:
        return pages_words(pages) if pages else "the whole file"
    if pages and len(pages) > 1:
        return pages_words(pages)
    spot = spot_on_page(finding, trim_mm)
    return f"page {finding.page}, {spot}" if spot else f"page {finding.page}"


def spot_on_page(finding: Finding, trim_mm: Sequence[float] | None = None) -> str:
    """The place on the page without its number; empty where it is the page as a whole."""
    edge = finding.details.get("edge")
    if isinstance(edge, str) and edge:
        return f"{plain(edge)} edge"
    if finding.box_mm is not None:
        return box_words(Box(*finding.box_mm), trim_mm)
    pixels = finding.details.get("box_px")
    if isinstance(pixels, (list, tuple)) and len(pixels) == 4:
        return f"{number(pixels[0], 0)} pixels from left, {number(pixels[1], 0)} from top"
    return ""


def box_words(box: Box, trim_mm: Sequence[float] | None = None) -> str:
    """A box in trim space in words, measured from the left and the top trim."""
    width, height = (trim_mm[0], trim_mm[1]) if trim_mm is not None and len(trim_mm) == 2 else (None, None)
    slack = TOLERANCE_MM
    if width is not None and height is not None and box.contains(Box(0, 0, width, height), slack=1.0):
        return "the whole page"
    across = _along(box.x0, box.x1, width, ("left trim", "right trim"), slack)
    down = _along(box.y0, box.y1, height, ("top", "bottom"), slack)
    return f"{across}, {down}"


def _along(start: float, end: float, side: float | None, names: tuple[str, str], slack: float) -> str:
    if end <= slack:
        return f"{length(max(0.0, -end))} outside {names[0]}" if end < -slack else f"outside {names[0]}"
    if side is not None and start >= side - slack:
        past = start - side
        return f"{length(past)} outside {names[1]}" if past > slack else f"outside {names[1]}"
    if start < -slack:
        return f"across {names[0]}"
    return f"{length(max(0.0, start))} from {names[0]}"


def trim_words(page: PageReport) -> str:
    """What the trim was taken from."""
    return _TRIM_FROM.get(page.trim_from, plain(page.trim_from))


def moment(made_at: str) -> str:
    """The time a report was made: ``25 Nov 2026, 09:30 UTC``."""
    try:
        when = datetime.fromisoformat(made_at)
    except ValueError:
        return plain(made_at)
    months = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
    return f"{when.day} {months[when.month - 1]} {when.year}, {when:%H:%M} UTC"


def counts_words(report: Report) -> str:
    """``2 stop, 1 ask, 4 notes, 1 waived, 1 not checked``; what is zero is left out."""
    counts = report.counts
    words = [f"{counts[name]} {name}" for name in ("stop", "ask") if counts.get(name)]
    if counts.get("note"):
        words.append(count_of(counts["note"], "note"))
    words += [
        f"{counts[name]} {said}"
        for name, said in (("waived", "waived"), ("unchecked", "not checked"))
        if counts.get(name)
    ]
    return ", ".join(words) or "nothing found against these rules"


def job_words(report: Report) -> str:
    """Job, title and customer as ordered; empty without a ticket."""
    if report.ticket is None:
        return ""
    parts = (report.ticket.job, report.ticket.title, report.ticket.customer)
    return ", ".join(plain(part) for part in parts if part)


def artwork_words(report: Report) -> str:
    """What the file is: kind, pages, and the trim where all pages share it."""
    kind = report.file.kind if report.file.kind != "unknown" else "kind unknown"
    parts = [kind.upper() if kind in ("pdf", "tiff", "jpeg", "png", "psd") else plain(kind)]
    if report.file.pages is not None:
        parts.append(count_of(report.file.pages, "page"))
    sizes = {tuple(page.trim_mm) for page in report.pages if page.trim_mm is not None}
    if len(sizes) == 1:
        parts.append(size(next(iter(sizes))))
    elif len(sizes) > 1:
        parts.append(f"{len(sizes)} trim sizes")
    return ", ".join(parts)


@dataclass(frozen=True)
class Alike:
    """Findings that say the same of several places; ``worst`` is the one farthest from its limit."""

    findings: tuple[Finding, ...]
    worst: Finding

    @property
    def count(self) -> int:
        return sum(finding.count for finding in self.findings)


def alike(findings: Iterable[Finding]) -> list[Alike]:
    """Findings put together where only figures and places differ, in their order of first appearance."""
    groups: dict[tuple[object, ...], list[Finding]] = {}
    for finding in findings:
        words = re.sub(r"\d+(?:[.,]\d+)*", "#", finding.message)
        key = (finding.id, finding.severity, finding.limit, finding.unit, finding.waived, words)
        groups.setdefault(key, []).append(finding)
    return [Alike(tuple(group), max(group, key=_excess)) for group in groups.values()]


def _excess(finding: Finding) -> float:
    """How far a value is from its limit, to tell the worst of several; nothing where there is no figure."""
    if finding.measured is None or finding.limit is None:
        return 0.0
    return abs(finding.measured - finding.limit)


def trims_of(report: Report) -> Trims:
    """The trim of each page by its number, for places in words."""
    return {page.number: page.trim_mm for page in report.pages}


def alike_places(group: Alike, trims: Trims | None = None, most: int = 3) -> str:
    """The places of a group: each in words where they are few, else the pages."""
    trims = trims or {}
    if len(group.findings) == 1:
        return place(group.worst, trims.get(group.worst.page or 0))
    pages = [finding.page for finding in group.findings if finding.page is not None]
    if not pages:
        return "the whole file"
    if len(set(pages)) == 1 and len(group.findings) <= most:
        spots = [spot_on_page(finding, trims.get(pages[0])) for finding in group.findings]
        return f"page {pages[0]}: " + "; ".join(spot for spot in spots if spot)
    return pages_words(pages)
