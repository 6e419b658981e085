"""One artwork of a run over a folder: checked, its reports filed, and what the ledger keeps of it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

from preflight.batch.folder import Candidate
from preflight.batch.ledger import SCRATCH, Result, scratch_in, sha256_of
from preflight.findings import Report, Verdict
from preflight.isolate import Limits, check_file
from preflight.marking import mark_in_child
from preflight.report.files import MARKED_NAME, write_reports
from preflight.report.lines import waived_lines
from preflight.ticket import Job

#: What is said of a file whose content is not, at the end, the one it was taken up under.
REPLACED = "the file was replaced or taken away while it was being read"


@dataclass(frozen=True)
class Work:
    """One piece of work: an artwork under the key of its content, rules and ticket."""

    candidate: Candidate
    key: str
    sha256: str
    job: Job


def check_one(
    work: Work, out: Path, limits: Limits, cancelled: Callable[[], bool] | None = None, *, marked: bool = False
) -> Result | None:
    """Checks one artwork and files its reports; None where it was cancelled. Never raises for what the file contains."""
    source = work.candidate.path
    try:
        with scratch_in(out / SCRATCH) as pictures:
            report = check_file(
                source, work.job, limits=limits, name=source.name, pictures=pictures, cancelled=cancelled
            )
            if cancelled is not None and cancelled():
                return None
            result = file_report(work, report, out, pictures, limits, marked=marked)
            return replace(result, time_limit_s=limits.time_s, memory_limit_mb=limits.memory_mb)
    except OSError as fault:
        return failed(work.candidate, work.key, f"there is no room to work in: {fault.strerror or fault}")


def file_report(work: Work, report: Report, out: Path, pictures: Path, limits: Limits, *, marked: bool) -> Result:
    """Files one report below ``out/reports`` with its pictures, whose folder may be gone then; returns what the ledger keeps of it.

    ``marked``: with a marked copy.
    """
    if (report.file.sha256 or _content_now(work, limits)) != work.sha256:
        return failed(work.candidate, work.key, REPLACED)
    try:
        # Under the key: one content with two tickets has two reports.
        folder = write_reports(report, out / "reports" / work.key[:8], pictures, work.candidate.path, taken=True)
    except OSError as fault:
        return failed(work.candidate, work.key, f"its report could not be written: {fault.strerror or fault}")
    result = result_of(work, report, str(folder.relative_to(out)))
    if not marked:
        return result
    return replace(
        result, marked=mark_in_child(work.candidate.path, report, folder / MARKED_NAME, limits, work.job) or ""
    )


def _content_now(work: Work, limits: Limits) -> str | None:
    """The content of a file that the child did not get to read: what it says of one that is gone must not be kept."""
    try:
        return sha256_of(work.candidate.path, within_s=limits.time_s)
    except TimeoutError:
        return work.sha256
    except OSError:
        return None


def result_of(work: Work, report: Report, folder: str | None) -> Result:
    """What the ledger keeps of a report."""
    live = [finding for finding in report.findings if finding.waived is None]
    return Result(
        key=work.key,
        name=work.candidate.name,
        verdict=report.verdict.value,
        sha256=report.file.sha256 or work.sha256,
        bytes=report.file.bytes,
        pages=report.file.pages,
        seconds=report.seconds,
        counts=report.counts,
        faults=list(dict.fromkeys(finding.id for finding in live if finding.severity.value in ("stop", "ask"))),
        worst=live[0].message if live else "",
        unchecked=[f"page {item.page}: {item.why}" if item.page else item.why for item in report.unchecked],
        report=folder,
        ticket=str(work.candidate.ticket) if work.candidate.ticket else None,
        waived=waived_lines(report),
    )


def failed(candidate: Candidate, key: str, why: str) -> Result:
    """An answer for a file that could not be checked at all."""
    return Result(
        key=key,
        name=candidate.name,
        verdict=Verdict.UNCHECKED.value,
        sha256=None,
        bytes=candidate.bytes,
        pages=None,
        seconds=0.0,
        counts={"stop": 0, "ask": 0, "note": 0, "waived": 0, "unchecked": 1},
        unchecked=[why],
        ticket=str(candidate.ticket) if candidate.ticket else None,
    )
