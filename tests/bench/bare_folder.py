"""The same files with nothing around them: opened, drawn, checked and judged in a bare loop, in this one process.

    python tests/bench/bare_folder.py FOLDER INTO [pictures] [reports]

With ``pictures`` those of the report are drawn too, with ``reports`` JSON and HTML are written, all into a folder that stays. Prints milliseconds of processor time and of
the clock for a file. ``batch_bench.py`` holds a run over the folder against it.
"""

from __future__ import annotations

import json
import sys
import tempfile
import time
from pathlib import Path

from preflight import flow, preload
from preflight.report.files import write_reports
from preflight.rules import settle


def check(path: Path, job, scratch: Path, *, pictures: bool, reports: bool) -> None:
    told: list[object] = []
    drawn = Path(tempfile.mkdtemp(dir=scratch)) if pictures else None

    def numbers():  # the document is told before the first page is asked for
        yield from range(1, (told[0].pages or 0) + 1)

    flow.examine(path, path.name, job, numbers(), told.append, drawn)
    results = [thing for thing in told if isinstance(thing, flow.PageResult)]
    examined = flow.Examined(path.name, told[0], {result.summary.number: result for result in results})
    report = flow.conclude(examined, job, time.monotonic())
    if reports:
        write_reports(report, scratch / "reports", drawn, path, taken=True)


def main() -> None:
    folder, into, *wanted = sys.argv[1:]
    job = settle(None, None)
    paths = sorted(Path(folder).iterdir())
    assert preload.flow is flow  # the engines are loaded before the clock runs, as they are for a run's children
    options = {"pictures": "pictures" in wanted, "reports": "reports" in wanted}
    for path in paths[:4]:  # the first of a kind pays for what is made once
        check(path, job, Path(into), **options)
    cpu, clock = time.process_time(), time.monotonic()
    for path in paths:
        check(path, job, Path(into), **options)
    cpu, clock = time.process_time() - cpu, time.monotonic() - clock
    print(json.dumps({"cpu_ms": cpu / len(paths) * 1000, "clock_ms": clock / len(paths) * 1000}))


if __name__ == "__main__":
    main()
