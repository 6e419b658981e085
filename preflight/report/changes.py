"""Shows what changed between two versions: on a terminal, and as one HTML page like the docket.

New findings first, since nobody expects them; then what is still there, what had no answer this time, and what is fixed.
"""

from __future__ import annotations

import io
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from rich.console import Console
from rich.text import Text

from preflight.findings import Finding, Severity
from preflight.report.compare import Comparison, Still
from preflight.report.html import Pictures, environment
from preflight.report.lines import unchecked_lines
from preflight.report.same_pages import PageFate, SizeChange
from preflight.report.terminal import COLUMNS, paragraph, print_entry
from preflight.report.words import (
    SEVERITIES,
    Trims,
    alike,
    alike_places,
    figures,
    moment,
    pages_words,
    place,
    plain,
    size,
)

#: In files of fewer pages all may have been changed.
FEW_PAGES = 4


def summary_words(comparison: Comparison) -> str:
    """The answer in one line: ``2 fixed, 1 still there, 0 new; pages 3, 7 changed; sizes changed on page 7``."""
    parts = [
        f"{len(comparison.fixed)} fixed",
        f"{len(comparison.still)} still there",
        f"{len(comparison.added)} new",
    ]
    if comparison.open:
        parts.append(f"{len(comparison.open)} not answered this time")
    if comparison.left_out:
        parts.append(f"{len(comparison.left_out)} gone with {'its' if len(comparison.left_out) == 1 else 'their'} page")
    pages = pages_changed(comparison)
    return "; ".join([", ".join(parts), *pages])


def pages_changed(comparison: Comparison) -> list[str]:
    """What became of the pages, one short sentence a kind of change."""
    fates = comparison.pages
    lines = []
    for fate in ("changed", "added"):
        numbers = [entry.new for entry in fates if entry.fate == fate and entry.new is not None]
        if numbers:
            lines.append(f"{pages_words(numbers)} {fate}")
    removed = [entry.old for entry in fates if entry.fate == "removed" and entry.old is not None]
    if removed:
        lines.append(f"former {pages_words(removed)} removed")
    moved = _moves(fates)
    if moved:
        shown = ", ".join(moved[:6])
        lines.append(f"pages moved: {shown}{f' and {len(moved) - 6} more' if len(moved) > 6 else ''}")
    if comparison.sizes:
        lines.append(f"sizes changed on {pages_words(change.page for change in comparison.sizes)}")
    return lines


def _moves(fates: Sequence[PageFate]) -> list[str]:
    """Which page is which now; pages that moved together are told together."""
    runs: list[tuple[int, int, int]] = []
    for old, new in sorted((entry.old or 0, entry.new or 0) for entry in fates if entry.fate == "moved"):
        if runs and (old, new) == (runs[-1][0] + runs[-1][2], runs[-1][1] + runs[-1][2]):
            runs[-1] = (*runs[-1][:2], runs[-1][2] + 1)
        else:
            runs.append((old, new, 1))
    return [
        f"{old} is now {new}" if count == 1 else f"{old} to {old + count - 1} are now {new} to {new + count - 1}"
        for old, new, count in runs
    ]


def size_words(change: SizeChange) -> str:
    """What a page's trim and bleed were and are."""
    parts = []
    if change.old_trim_mm != change.new_trim_mm:
        parts.append(f"trim {size(change.new_trim_mm)}, was {size(change.old_trim_mm)}")
    if change.old_bleed_mm != change.new_bleed_mm:
        now, was = (
            "unknown" if sides is None else ", ".join(f"{side:g}" for side in sides) + " mm"
            for sides in (change.new_bleed_mm, change.old_bleed_mm)
        )
        parts.append(f"past the trim {now}, was {was}")
    return f"page {change.page}: {'; '.join(parts)}"


def still_words(entry: Still) -> str:
    """How a finding that is still there stands to what it was."""
    now = figures(entry.new)
    if entry.change == "same":
        return now
    was = figures(entry.old).partition(",")[0] if entry.old.measured is not None else f"{entry.old.count} times"
    if entry.old.id != entry.new.id:
        was = f"{entry.old.id}, {was}" if was else entry.old.id
    elif entry.old.measured == entry.new.measured:
        was, now = f"{entry.old.count} times", f"{entry.new.count} times"
    return f"{now}; {entry.change}, was {was}" if now else f"{entry.change}, was {was}"


def caveats(comparison: Comparison) -> list[str]:
    """What makes two reports hard to hold against each other."""
    lines = []
    if comparison.same_file:
        lines.append("Both reports are about the very same file.")
    known = [entry for entry in comparison.pages if entry.fate in ("same", "moved")]
    if not known and min(comparison.old.pages or 0, comparison.new.pages or 0) >= FEW_PAGES:
        lines.append("No page looks like one of the former file: these may not be two versions of one job.")
    if not comparison.same_rules:
        lines.append("The rules changed between the two reports: what is fixed or new may be so by the rules alone.")
    if not comparison.same_ticket:
        lines.append("The ticket changed between the two reports: what is fixed or new may be so by the order alone.")
    return lines


def render_comparison(comparison: Comparison) -> str:
    """The comparison as text of 80 columns, without colour."""
    file = io.StringIO()
    console = Console(file=file, width=COLUMNS, color_system=None, force_terminal=False, highlight=False, emoji=False)
    print_comparison(comparison, console)
    return file.getvalue()


def print_comparison(comparison: Comparison, console: Console) -> None:
    """The comparison for somebody at a screen."""
    paragraph(console, Text(summary_words(comparison), style="bold"))
    for word, version in (("was", comparison.old), ("now", comparison.new)):
        line = f"{word} {version.verdict.value.upper():9} {plain(version.name)}, {moment(version.made_at)}"
        paragraph(console, line, hang=14)
    for line in caveats(comparison):
        paragraph(console, line)
    if comparison.unchecked:
        _section(console, "NOT CHECKED IN THE NEW VERSION", unchecked_lines(comparison.unchecked))
    before, now = comparison.old.trims_mm, comparison.new.trims_mm
    _findings(console, "NEW", _told(comparison.added, now))
    _findings(console, "STILL THERE", _told_still(comparison.still, now))
    _findings(console, "NOT ANSWERED THIS TIME", _told(comparison.open, before))
    _findings(console, "GONE WITH ITS PAGE", _told(comparison.left_out, before), message=False)
    _findings(console, "FIXED", _told(comparison.fixed, before), message=False)
    if comparison.sizes:
        _section(console, "SIZES", [size_words(change) for change in comparison.sizes])
    console.print()


def _heading(console: Console, word: str) -> None:
    console.print()
    console.print(Text(word, style="bold"))


def _section(console: Console, word: str, lines: Sequence[str]) -> None:
    _heading(console, word)
    for line in lines:
        paragraph(console, line, indent=2, hang=2)


def waived_words(finding: Finding) -> str:
    """Who accepted a finding, when and why; empty where nobody did."""
    waived = finding.waived
    return f"accepted by {plain(waived.by)} on {plain(waived.on)}: {plain(waived.why)}" if waived else ""


def _findings(console: Console, word: str, told: Sequence[Told], *, message: bool = True) -> None:
    if told:
        _heading(console, word)
    for entry in told:
        finding = entry.finding
        state = "waived" if finding.waived else finding.severity.value
        times = f" x{entry.count}" if entry.count > 1 else ""
        print_entry(
            console,
            Text(f"{state:6} {plain(finding.id)}{times}  {entry.places}"),
            entry.said,
            finding.message if message else "",
        )
        if finding.waived:
            paragraph(console, waived_words(finding), indent=4)


@dataclass(frozen=True)
class Told:
    """One entry of a comparison: findings that say the same, told by the worst of them."""

    finding: Finding
    said: str
    places: str
    count: int


def _told(findings: Sequence[Finding], trims: Trims) -> list[Told]:
    return [
        Told(
            group.worst,
            f"worst {said}" if len(group.findings) > 1 and figures(group.worst) != figures(group.findings[0]) else said,
            alike_places(group, trims),
            len(group.findings),
        )
        for group in alike(sorted(findings, key=_worst_first))
        for said in [figures(group.worst)]
    ]


def _told_still(entries: Sequence[Still], trims: Trims) -> list[Told]:
    """What got better or worse one by one, what stayed put together."""
    stayed = _told([entry.new for entry in entries if entry.change == "same"], trims)
    changed = [
        Told(entry.new, still_words(entry), place(entry.new, trims.get(entry.new.page or 0)), 1)
        for entry in entries
        if entry.change != "same"
    ]
    return sorted([*changed, *stayed], key=lambda told: _worst_first(told.finding))


def _worst_first(finding: Finding) -> tuple[object, ...]:
    order = SEVERITIES.index(finding.severity) if finding.severity is not Severity.OFF else len(SEVERITIES)
    return finding.waived is not None, order, finding.id, finding.page or 0


def comparison_html(comparison: Comparison, pictures: Path | None = None) -> str:
    """The comparison as one self-contained HTML page; ``pictures`` are those of the new version's report."""
    embedded = Pictures(pictures)
    before, now = comparison.old.trims_mm, comparison.new.trims_mm
    sections = [
        ("New", "not in the former version", _told(comparison.added, now)),
        ("Still there", "told before", _told_still(comparison.still, now)),
        ("Not answered this time", "nobody can say whether it is gone", _told(comparison.open, before)),
        ("Gone with its page", "the page is not in the new version", _told(comparison.left_out, before)),
        ("Fixed", "thank you", _told(comparison.fixed, before)),
    ]
    embedded.take(told.finding.details.get("picture") for _, _, entries in sections[:2] for told in entries)
    return (
        environment()
        .get_template("compare.html.j2")
        .render(
            comparison=comparison,
            headline=summary_words(comparison).partition(";")[0],
            pages=pages_changed(comparison),
            sizes=[size_words(change) for change in comparison.sizes],
            caveats=caveats(comparison),
            unchecked=unchecked_lines(comparison.unchecked),
            sections=[section for section in sections if section[2]],
            embedded=embedded,
            waived=waived_words,
        )
    )
