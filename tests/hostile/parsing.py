"""What this tool parses itself, held against anything: tickets, rules, reports read back, and a run's kept results.

Each target takes bytes and lets nothing out but what is promised: a value that can be used, or one ``UsageFault`` of one line.
"""

from __future__ import annotations

import json
import tempfile
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

from artwork import Book
from whole import report_of

from preflight.batch.ledger import Ledger, Result
from preflight.batch.summary import Summary, write_summary
from preflight.errors import UsageFault
from preflight.report.compare import compare, comparison_to_json
from preflight.report.files import write_reports
from preflight.report.json_report import report_from_json, report_to_json
from preflight.rules import settle, validate
from preflight.ticketfile import load_ticket

ROOT = Path(__file__).resolve().parents[2]
#: Says whether what it got was taken.
Target = Callable[[bytes, Path], bool]

TICKET = b"""job = "FBG-2614"
customer = "Fernhollow Botanic Garden"
title = "Spring guide"
trim_mm = [148, 210.5]
pages = 16
bleed_mm = 3
binding = "saddle-stitch"
inks = { front = ["Cyan", "Fern Green"], back = ["Black"] }
fold = "letter"
panels_mm = [97, 100, 100]
part = "cover"
spine_mm = 4.2
caliper_mm = 0.1
blank_pages = [2, 15]
quantity = 2_000
food_label = true
label_surface_cm2 = 84.5
barcodes = ["4006381333931"]
printed_size_mm = [420, 594]
finishing = [{ process = "die-cut", ink = "Die" }]
[[waive]]
id = "resolution.soft"
page = 3
by = "M. Alder"
on = 2026-03-02
why = \"\"\"historic
photograph\"\"\"
"""


def one_line_fault(read: Callable[[], object]) -> object | None:
    """What was read; None where it was refused, and as it is promised."""
    try:
        return read()
    except UsageFault as fault:
        assert str(fault).strip(), "a fault without a word"
        assert len(str(fault).splitlines()) == 1, str(fault)
        return None


def ticket(data: bytes, folder: Path) -> bool:
    """A ticket that is taken can be settled with the shop's rules."""
    path = folder / "ticket.toml"
    path.write_bytes(data)
    if one_line_fault(lambda: load_ticket(path)) is None:
        return False
    settle(None, path)
    return True


def rules(data: bytes, folder: Path) -> bool:
    path = folder / "shop.toml"
    path.write_bytes(data)
    return one_line_fault(lambda: validate(path)) is not None


def report(data: bytes, folder: Path) -> bool:
    """A report that is taken can be written as JSON and HTML, and compared with itself."""
    read = one_line_fault(lambda: report_from_json(data))
    if read is None:
        return False
    again = report_from_json(report_to_json(read))
    write_reports(again, folder / "out")
    comparison_to_json(compare(again, again))
    return True


def result(data: bytes, folder: Path) -> bool:
    """A kept result that is taken can stand in a summary."""
    ledger = Ledger(folder)
    ledger.folder.mkdir(exist_ok=True)
    (ledger.folder / "k.json").write_bytes(data)
    read = ledger.read("k")
    if read is None:
        return False
    summary = Summary("in", settle(None, None))
    summary.add(read)
    write_summary(summary, folder)
    return True


def seeds() -> dict[str, list[bytes]]:
    """Good ones of each kind, to start from."""
    book = Book()
    book.page("0 0 0 1 k 20 20 100 100 re f 1 0 0 rg 0 0 9 9 re f")
    with tempfile.TemporaryDirectory() as folder:
        made = report_of(book.save(Path(folder) / "art.pdf"))
    kept = Result("k", "a.pdf", "go", "0" * 64, 10, 1, 0.2, {"stop": 0}, ["bleed.missing"], "w", ["page 1: why"])
    return {
        "ticket": [TICKET],
        "rules": [path.read_bytes() for path in sorted((ROOT / "rules").glob("*.toml"))],
        "report": [report_to_json(replace(made, rules=replace(made.rules, values={}))).encode()],
        "result": [json.dumps(vars(kept), indent=1).encode()],
    }


TARGETS: dict[str, Target] = {"ticket": ticket, "rules": rules, "report": report, "result": result}
