"""Places and figures of the letter: where something is, for somebody with a ruler, and what the sentences are filled with.

Figures come from the findings as measured (millimetres, points, percent, ppi) and are said in the language and units of the reader.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

from preflight.findings import Finding, Report
from preflight.report.letter_language import FIXED_SPACE, Language
from preflight.report.letter_language import marked as _
from preflight.units import Box

#: So many places on one page are told one by one.
MOST_SPOTS = 3
#: What starts closer to an edge starts at it.
_AT_EDGE_MM = 0.5
_EDGES = {"left": _("left edge"), "top": _("top edge"), "right": _("right edge"), "bottom": _("bottom edge")}
_COUNTS = ("multiple", "blanks", "above", "below", "panel")


def pages_of(findings: Iterable[Finding]) -> list[int]:
    """All pages that findings name."""
    pages: set[int] = set()
    for finding in findings:
        listed = finding.details.get("pages")
        pages |= {page for page in listed if _is_count(page)} if isinstance(listed, list) else set()
        pages |= {finding.page} if finding.page is not None else set()
    return sorted(pages)


def where(findings: Sequence[Finding], report: Report, language: Language) -> str:
    """The place of findings that are told as one: pages, and the spots where they are few and on one page."""
    pages = pages_of(findings)
    if not pages:
        return language.say(_("the whole file"))
    if len(pages) > 1:
        whole = report.file.pages is not None and len(pages) >= report.file.pages
        return language.say(_("all pages")) if whole else language.pages(pages)
    # A picture of one frame has no pages to a customer.
    is_picture = report.file.kind != "pdf" and report.file.pages == 1
    page = language.say(_("the picture")) if is_picture else language.pages(pages)
    trim = next((entry.trim_mm for entry in report.pages if entry.number == pages[0]), None)
    spots = list(dict.fromkeys(_spot(finding, trim, language) for finding in findings))
    amount = sum(max(1, finding.count) for finding in findings)
    if "" in spots or len(spots) > MOST_SPOTS:
        several = amount > 1 and "" not in spots
        return f"{page} ({language.count('{number} place', '{number} places', amount)})" if several else page
    if len(spots) == 1:
        return f"{page}, {spots[0]}"
    more = spots[0]
    for spot in spots[1:]:
        more = language.say(_("{place}; {other}"), place=more, other=spot)
    return f"{language.say(_('{label}:'), label=page)} {more}"


def _spot(finding: Finding, trim_mm: Sequence[float] | None, language: Language) -> str:
    """The place on its page; empty for the page as a whole."""
    edge = finding.details.get("edge")
    if finding.id.startswith("bleed.") and edge in _EDGES:
        return language.say(_EDGES[str(edge)])
    if finding.box_mm is None or len(finding.box_mm) != 4 or isinstance(finding.details.get("boxes_mm"), list):
        return ""
    box = Box(*finding.box_mm)
    if trim_mm is None and box.x0 <= 0.0 and box.y0 <= 0.0:
        return ""  # a picture as a whole: its size is not known
    if trim_mm is not None and len(trim_mm) == 2:
        page = Box(0.0, 0.0, trim_mm[0], trim_mm[1])
        if box.contains(page, slack=1.0):
            return ""
        if box.x1 <= 0.0 or box.y1 <= 0.0 or box.x0 >= page.x1 or box.y0 >= page.y1:
            return language.say(_("just outside the edge"))
    return _from_edges(max(0.0, box.x0), max(0.0, box.y0), language)


def _from_edges(left_mm: float, top_mm: float, language: Language) -> str:
    left, top = (language.length(side, 1 if side < 9.95 else 0) for side in (left_mm, top_mm))
    if left_mm < _AT_EDGE_MM and top_mm < _AT_EDGE_MM:
        return language.say(_("from the top left corner on"))
    if left_mm < _AT_EDGE_MM:
        return language.say(_("at the left edge, {top} from the top edge"), top=top)
    if top_mm < _AT_EDGE_MM:
        return language.say(_("at the top edge, {left} from the left edge"), left=left)
    return language.say(_("{left} from the left edge and {top} from the top edge"), left=left, top=top)


def values_of(findings: Sequence[Finding], report: Report, language: Language) -> dict[str, str]:
    """What the sentences may be filled with; what the report does not tell is not there."""
    worst = worst_of(findings)
    values: dict[str, str] = {}
    if worst.measured is not None:
        values["measured"] = language.figure(worst.measured, worst.unit)
        if worst.limit is not None:
            values["measured"], values["limit"] = language.pair(worst.measured, worst.limit, worst.unit)
    if worst.unit == "pages" and worst.measured is not None and worst.limit is not None:
        values["supplied"], values["wished"] = (language.number(side, 0) for side in (worst.measured, worst.limit))
    details = worst.details
    for name in _COUNTS:
        if _is_count(details.get(name)):
            values[name] = language.number(details[name], 0)
    _add_sizes(values, worst, report, language)
    names = [name for finding in findings for name in _names(finding)]
    if names:
        values["names"] = language.names(names)
        if len(set(names)) > 1:
            values["several_names"] = values["names"]
    wanted = _wanted_mm(worst, report)
    if wanted is not None:
        values["wanted"] = language.length(wanted)
    return values


def worst_of(findings: Sequence[Finding]) -> Finding:
    """The finding farthest from its limit, in shares of it; the first where none has figures."""

    def excess(finding: Finding) -> float:
        if finding.measured is None or finding.limit is None:
            return -1.0
        return abs(finding.measured - finding.limit) / max(abs(finding.limit), 1e-9)

    return max(findings, key=excess)


def _add_sizes(values: dict[str, str], worst: Finding, report: Report, language: Language) -> None:
    details = worst.details
    trim = next((page.trim_mm for page in report.pages if page.number == worst.page), None)
    placed = _sides(details.get("placed_mm"))
    sizes = {
        "size": _sides(details.get("trim_mm")) or _sides(trim),
        "ordered": _sides(details.get("ordered_mm")),
        "usual": _sides(details.get("usual_mm")),
        "placed": placed,
    }
    if placed and worst.unit == "ppi" and worst.measured is not None and worst.limit:
        sizes["enough"] = [side * worst.measured / worst.limit for side in placed]
    borne = details.get("sizes")
    if isinstance(borne, list) and len(borne) >= 2 and all(isinstance(size, dict) for size in borne):
        # What a picture of unknown size will bear, the better first.
        sizes["enough"], sizes["most"] = (_sides(size.get("size_mm")) for size in (borne[0], borne[-1]))
    for name, sides in sizes.items():
        if sides:
            # Of a picture nobody measures tenths of a millimetre.
            whole = name in ("placed", "enough", "most") and min(sides) >= 10.0
            values[name] = language.size([round(side) for side in sides] if whole else sides)


def _wanted_mm(finding: Finding, report: Report) -> float | None:
    """The bleed that is needed: what the finding says, else the rules."""
    words = finding.details.get("words")
    wanted: Any = words.get("wanted") if isinstance(words, dict) else None
    if wanted is None:
        wanted = report.rules.values.get("bleed.ordered_mm", {}).get("value")
    try:
        length = float(wanted)
    except (TypeError, ValueError):
        return None
    return length if 0.0 < length < 1000.0 else None


def _names(finding: Finding) -> list[str]:
    """The strangers' names a finding is about: typefaces, inks, a layer."""
    details = finding.details
    for key in ("text",) if finding.id.startswith("barcode.") else ("font", "ink", "inks", "layer", "subject"):
        named = details.get(key)
        if isinstance(named, str) and named.strip():
            return [named]
        if isinstance(named, list) and named and all(isinstance(name, str) for name in named):
            return [str(name) for name in named]
    return []


def _sides(value: object) -> list[float] | None:
    if not isinstance(value, list) or len(value) != 2:
        return None
    if not all(isinstance(side, (int, float)) and not isinstance(side, bool) and 0 < side < 1e6 for side in value):
        return None
    return [float(side) for side in value]


def _is_count(value: object) -> bool:
    return isinstance(value, int) and not isinstance(value, bool) and value > 0


def without_fixed_spaces(text: str) -> str:
    """A text for mail programs that know ordinary spaces only."""
    return text.replace(FIXED_SPACE, " ").replace("\N{NARROW NO-BREAK SPACE}", " ")
