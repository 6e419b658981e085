"""What every report says in lines of its own, the same reason once: what was not checked, not judged, or accepted.

Loads no terminal library: pages and summaries say them too.
"""

from __future__ import annotations

from collections.abc import Sequence

from preflight.findings import NotJudged, Report, Unchecked
from preflight.report.words import alike, alike_places, pages_words, plain, trims_of


def unchecked_lines(unchecked: Sequence[Unchecked]) -> list[str]:
    """What was not checked, the same reason said once for all its pages, and for all checks on the same pages."""
    places: dict[tuple[str, str], list[int]] = {}
    for gap in unchecked:
        places.setdefault((gap.check, gap.why), []).extend([] if gap.page is None else [gap.page])
    checks: dict[tuple[str, tuple[int, ...]], list[str]] = {}
    for (check, why), pages in places.items():
        name = {"all": "every check", "file": "the file"}.get(check, plain(check))
        checks.setdefault((why, tuple(pages)), []).append(name)
    return [
        f"{', '.join(names)}{f' on {pages_words(pages)}' if pages else ''}: {plain(why)}"
        for (why, pages), names in checks.items()
    ]


def not_judged_line(not_judged: Sequence[NotJudged]) -> str:
    """What was not ordered and so not judged, in one sentence, reasons said once."""
    checks: dict[str, list[str]] = {}
    for item in not_judged:
        names = checks.setdefault(plain(item.why), [])
        if plain(item.check) not in names:
            names.append(plain(item.check))
    return "Not judged: " + "; ".join(f"{', '.join(names)} ({why})" for why, names in checks.items()) + "."


def waived_lines(report: Report) -> list[str]:
    """What a person accepted: which finding, where, who, when and why."""
    trims = trims_of(report)
    return [
        f"{plain(group.worst.id)}  {alike_places(group, trims)}; by {plain(waived.by)} on {plain(waived.on)}: {plain(waived.why)}"
        for group in alike(finding for finding in report.findings if finding.waived is not None)
        if (waived := group.worst.waived) is not None
    ]


def unused_waiver_lines(report: Report) -> list[str]:
    """Waivers of the ticket that hold for nothing here."""
    return [
        f"A waiver does not hold here: {plain(waiver.id)}{f' on page {waiver.page}' if waiver.page else ''}, "
        f"by {plain(waiver.by)} on {plain(waiver.on)}: {plain(waiver.why)}."
        for waiver in report.unused_waivers
    ]
