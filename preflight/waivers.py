"""Waivers of a ticket that hold for nothing in this file, and why: what somebody accepted once is never dropped in silence."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from preflight.findings import Finding, UnusedWaiver, Waived
from preflight.ticket import Job, Waive


def unused_waivers(findings: Sequence[Finding], job: Job) -> Iterator[UnusedWaiver]:
    """Each waiver of the ticket under which no finding was accepted."""
    for waive in job.order.waive:
        said = Waived(waive.by, waive.on.isoformat(), waive.why)
        there = [finding for finding in findings if finding.id == waive.id and finding.page == waive.page]
        if not any(finding.waived == said for finding in there):
            yield UnusedWaiver(waive.id, waive.page, said.by, said.on, _reason(waive, there))


def _reason(waive: Waive, there: Sequence[Finding]) -> str:
    if not there:
        return "nothing of the kind was found there"
    if all(finding.waived is not None for finding in there):
        return "another waiver holds for it"
    if waive.key is not None and not any(finding.key == waive.key for finding in there):
        return "what was found there is not what was accepted"
    return (
        "it was given for another file, and this finding is worse, or the waiver does not say what value was accepted"
    )
