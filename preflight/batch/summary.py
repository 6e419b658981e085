"""What the morning reads: three piles (go, call the customer, look yourself), totals, and what was not checked.

``summary.html``, ``summary.csv`` and ``summary.json`` are written while the run goes on, so that a killed run leaves a true
one: it says how many files were done of how many, and that it did not finish.
"""

from __future__ import annotations

import csv
import io
from collections import Counter
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from preflight import __version__
from preflight.batch.ledger import Result, json_bytes
from preflight.errors import Fault
from preflight.findings import Verdict, worst_verdict
from preflight.report.files import write_whole
from preflight.ticket import Job

#: The morning's piles: which verdicts lie in which.
PILES = {
    "go": ("Go", "straight to plates"),
    "call": ("Call the customer", "something to ask for or to send back"),
    "look": ("Look yourself", "this tool could not answer"),
}
SLOWEST = 10


def pile_of(verdict: str) -> str:
    """The pile a verdict belongs to."""
    return {"go": "go", "unchecked": "look"}.get(verdict, "call")


@dataclass
class Summary:
    """A run so far."""

    folder: str
    rules: Job | Fault
    results: list[Result] = field(default_factory=list)
    total: int = 0
    resumed: int = 0
    finished: bool = False
    started_at: str = field(default_factory=lambda: datetime.now(UTC).strftime("%Y-%m-%dT%H:%M:%SZ"))
    complaints: list[str] = field(default_factory=list)
    #: Why the summary itself is not on disk as it stands here.
    not_written: str | None = None
    _by_key: dict[str, Result] = field(default_factory=dict)

    def add(self, result: Result) -> None:
        self.results.append(result)
        self._by_key.setdefault(result.key, result)

    def forget(self, key: str) -> None:
        """The next result under a key is the one its twins share."""
        self._by_key.pop(key, None)

    def result(self, key: str) -> Result | None:
        """The first result under a key, in this run."""
        return self._by_key.get(key)

    @property
    def verdict(self) -> Verdict:
        """The worst verdict of the run; a run that did not finish is at best unchecked."""
        verdicts = [Verdict(result.verdict) for result in self.results]
        if self.complaints or self.not_written or len(self.results) < self.total:
            verdicts.append(Verdict.UNCHECKED)
        return worst_verdict(verdicts)

    def as_data(self) -> dict[str, Any]:
        """Everything of the run as plain data, files in order of name."""
        ordered = sorted(self.results, key=lambda result: result.name)
        piles = Counter(pile_of(result.verdict) for result in ordered)
        faults = Counter(fault for result in ordered for fault in result.faults)
        slowest = sorted(ordered, key=lambda result: -result.seconds)[:SLOWEST]
        rules = self.rules if isinstance(self.rules, Job) else None
        return {
            "tool": {"name": "preflight", "version": __version__},
            "folder": self.folder,
            "rules": {"name": rules.rules_name, "sha256": rules.rules_sha256} if rules else None,
            "started_at": self.started_at,
            "written_at": datetime.now(UTC).strftime("%Y-%m-%dT%H:%M:%SZ"),
            "finished": self.finished,
            "files": self.total,
            "done": len(ordered),
            "taken_from_earlier_runs": self.resumed,
            "verdict": self.verdict.value,
            "piles": {pile: piles.get(pile, 0) for pile in PILES},
            "verdicts": dict(Counter(result.verdict for result in ordered)),
            "most_frequent_faults": [{"id": fault, "files": count} for fault, count in faults.most_common(10)],
            "slowest": [{"name": result.name, "seconds": result.seconds} for result in slowest if result.seconds],
            "unchecked": [{"name": result.name, "why": why} for result in ordered for why in result.unchecked],
            "waived": [{"name": result.name, "what": what} for result in ordered for what in result.waived],
            "complaints": list(self.complaints),
            "results": [dict(vars(result)) for result in ordered],
        }


def write_summary(summary: Summary, out: Path) -> None:
    """Writes the three forms, each whole. Raises ``OSError`` where the disk does not take them."""
    from preflight.batch.summary_html import summary_html

    data = summary.as_data()
    write_whole(out / "summary.json", json_bytes(data))
    write_whole(out / "summary.csv", _table(data["results"]).encode("utf-8", "backslashreplace"))
    write_whole(out / "summary.html", summary_html(data).encode("utf-8", "backslashreplace"))


def _table(results: list[dict[str, Any]]) -> str:
    """One line a file; a cell that a spreadsheet would run as a formula is made harmless."""
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\r\n")
    columns = (
        "pile",
        "verdict",
        "file",
        "stop",
        "ask",
        "note",
        "faults",
        "not checked",
        "pages",
        "seconds",
        "report",
        "waived",
    )
    writer.writerow(columns)
    for result in results:
        counts = result["counts"]
        writer.writerow(
            [
                pile_of(result["verdict"]),
                result["verdict"],
                _harmless(result["name"]),
                counts.get("stop", 0),
                counts.get("ask", 0),
                counts.get("note", 0),
                " ".join(result["faults"]),
                _harmless("; ".join(result["unchecked"])),
                result["pages"],
                result["seconds"],
                _harmless(result["report"] or ""),
                _harmless("; ".join(result["waived"])),
            ]
        )
    return text.getvalue()


def _harmless(cell: str) -> str:
    return "'" + cell if cell[:1] in ("=", "+", "-", "@", "\t", "\r") else cell
