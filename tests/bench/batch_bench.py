"""Measures a run over a folder: two lanes against one, what a file costs beyond its work, growth, memory, resuming, a cluster.

    python tests/bench/batch_bench.py [scaling] [overhead] [growth] [resumed] [cluster] [--small] [--files 200] [--keep FOLDER]

What counts are the ratios inside one run on one machine; by the clock where cores are free, else by processor time, which counts
every process of a run. Nothing here fails: it prints what it measured beside what is aimed at, and how busy the machine was.
"""

from __future__ import annotations

import argparse
import json
import os
import re
import statistics
import subprocess
import sys
import tempfile
import threading
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from artwork import Book, mm
from night import PREFLIGHT, children_of, small_pdf, wait_until
from PIL import Image
from processor_time import measured


def mixed(folder: Path, count: int) -> Path:
    """So many small files of several kinds, no two of one content."""
    folder.mkdir(parents=True, exist_ok=True)
    for number in range(count):
        match number % 4:
            case 0:
                small_pdf(folder / f"{number:05}.pdf", number)
            case 1:
                small_pdf(folder / f"{number:05}.pdf", number, pages=3)
            case 2:
                book = Book()
                data = bytes((x * 7 + number) % 256 for x in range(60 * 60 * 4))
                picture = book.image(60, 60, data=data)
                book.page(f"q {mm(30)} 0 0 {mm(30)} {mm(10)} {mm(10)} cm /P Do Q", resources={"P": picture})
                book.pdf.save(folder / f"{number:05}.pdf", deterministic_id=True)
            case _:
                shade = (number % 256, number // 256, 90)
                Image.new("RGB", (300, 200), shade).save(folder / f"{number:05}.png", dpi=(300, 300))
    return folder


class Run:
    """One run of the command: seconds by the clock and of all its processes, its highest memory in MB, and its summary."""

    def __init__(self, folder: Path, out: Path, *options: str) -> None:
        command = [*PREFLIGHT, "batch", str(folder), "--out", str(out), "--quiet", *options]
        self.most_mb = 0.0
        with measured(command, stdout=subprocess.DEVNULL) as (process, used):
            threading.Thread(target=self._watch, args=(process.pid,), daemon=True).start()
        self.seconds, self.cpu_s = used.clock_s, used.cpu_s
        self.summary = json.loads((out / "summary.json").read_text())

    def _watch(self, pid: int) -> None:
        while True:
            try:
                status = Path(f"/proc/{pid}/status").read_text()
            except OSError:
                return
            for line in status.splitlines():
                if line.startswith("VmHWM:"):
                    self.most_mb = max(self.most_mb, int(line.split()[1]) / 1024)
            time.sleep(0.1)


def say(what: str, measured: str, aim: str = "") -> None:
    print(f"{what:58} {measured:>24}   {aim}", flush=True)


def scaling(scratch: Path, files: int) -> None:
    folder = mixed(scratch / "scaling", files)
    runs: dict[str, list[Run]] = {"1": [], "2": []}
    for turn in range(2):  # in turns, so that other work on the machine falls on both
        for jobs in ("1", "2"):
            runs[jobs].append(Run(folder, scratch / f"scaling-{jobs}-{turn}", "--jobs", jobs))
    best = {jobs: min(of, key=lambda run: run.seconds) for jobs, of in runs.items()}
    for jobs, run in best.items():
        say(f"{files} mixed small files, {jobs} lane(s)", f"{run.seconds:.1f} s, cpu {run.cpu_s:.1f} s")
    ratio = best["1"].seconds / best["2"].seconds
    say("two lanes against one", f"{ratio:.2f} times", "at least 1.85 on two free cores")


def overhead(scratch: Path, files: int) -> None:
    """What a file costs in a run of one lane, less what it costs in a bare loop in one process; starting up taken off.

    Medians of runs and loops in turns. Nothing is removed in between: for minutes after, a file system may take twice as long to
    make a new file as it looks for room among what was just removed.
    """
    count = min(files, 60)
    folder, one = mixed(scratch / "overhead", count), mixed(scratch / "none", 1)
    loops: dict[str, list[dict[str, float]]] = {"": [], "pictures": [], "pictures reports": []}
    runs: list[dict[str, float]] = []
    for turn in range(5):
        empty, run = (Run(of, scratch / f"{of.name}-{turn}", "--jobs", "1") for of in (one, folder))
        runs.append(
            {
                "cpu_ms": (run.cpu_s - empty.cpu_s) / (count - 1) * 1000,
                "clock_ms": (run.seconds - empty.seconds) / (count - 1) * 1000,
            }
        )
        for name, of in loops.items():
            into = scratch / f"bare-{name.replace(' ', '-')}-{turn}"
            of.append(bare(folder, into, *name.split()))
    figures = {name: medians(of) for name, of in (loops | {"run": runs}).items()}
    for what, name in {
        "a file in a bare loop: opened, drawn, checked, judged": "",
        "... with the report's pictures": "pictures",
        "... and JSON and HTML written": "pictures reports",
        "a file in a run of one lane": "run",
    }.items():
        say(what, f"{figures[name]['clock_ms']:.0f} ms, cpu {figures[name]['cpu_ms']:.1f} ms")
    for what, name in (("isolation, hashing and reports", "pictures"), ("isolation and hashing", "pictures reports")):
        beyond = {kind: figures["run"][kind] - figures[name][kind] for kind in figures["run"]}
        aim = "under 40 ms" if name == "pictures" else ""
        say(f"beyond that: {what}", f"{beyond['clock_ms']:.0f} ms, cpu {beyond['cpu_ms']:.1f} ms", aim)


def medians(of: list[dict[str, float]]) -> dict[str, float]:
    return {kind: statistics.median(each[kind] for each in of) for kind in of[0]}


def bare(folder: Path, into: Path, *wanted: str) -> dict[str, float]:
    """One bare loop; what it writes stays in ``into``."""
    into.mkdir()
    command = [sys.executable, str(Path(__file__).with_name("bare_folder.py")), str(folder), str(into), *wanted]
    return json.loads(subprocess.run(command, capture_output=True, text=True, check=True).stdout)


def growth(scratch: Path, files: int) -> None:
    counts = (files // 2, 2 * files, 8 * files)
    runs = {count: Run(mixed(scratch / f"growth-{count}", count), scratch / f"growth-{count}-out") for count in counts}
    empty = Run(mixed(scratch / "empty", 1), scratch / "empty-out")
    each = {count: (run.cpu_s - empty.cpu_s) / (count - 1) * 1000 for count, run in runs.items()}
    for count, run in runs.items():
        clock = run.seconds / count * 1000
        say(
            f"{count} files", f"{clock:.0f} ms, cpu {each[count]:.0f} ms a file", f"parent at most {run.most_mb:.0f} MB"
        )
    first, *others = counts
    for count in others:
        say(f"{count} files against {first}, cpu a file", f"{each[count] / each[first]:.2f} times", "0.9 to 1.1")
        more_mb = runs[count].most_mb - runs[first].most_mb
        say(f"the parent's memory, {count} against {first}", f"{more_mb:+.0f} MB", "within 30 MB")


def resumed(scratch: Path, files: int) -> None:
    folder = scratch / "thousand"
    for number in range(5 * files):
        # Files that are quickly answered: a run that does nothing new does not look at what is in them.
        folder.mkdir(exist_ok=True)
        (folder / f"{number:05}.pdf").write_bytes(b"not artwork %d" % number)
    first = Run(folder, scratch / "thousand-out")
    again = [Run(folder, scratch / "thousand-out") for _ in range(3)]
    assert all(run.summary["taken_from_earlier_runs"] == 5 * files for run in again)
    best = min(again, key=lambda run: run.seconds)
    say(f"{5 * files} files, first run", f"{first.seconds:.1f} s, cpu {first.cpu_s:.1f} s")
    say(f"{5 * files} files, nothing new", f"{best.seconds:.1f} s, cpu {best.cpu_s:.1f} s", "under 5 s for 1000")


def cluster(scratch: Path, files: int) -> None:
    """The same folder here with two lanes and on a scheduler with two workers of this machine, in turns."""
    folder = mixed(scratch / "cluster", files)
    environment = os.environ | {"DASK_DISTRIBUTED__WORKER__DAEMON": "False"}
    log = scratch / "scheduler.log"
    processes = []

    def start(program: str, *options: str) -> None:
        command = [sys.executable, "-m", f"distributed.cli.{program}", *options, "--no-dashboard"]
        with log.open("ab") as said:
            processes.append(subprocess.Popen(command, stdout=said, stderr=said, env=environment))

    def cpu_s() -> float:
        """Of the workers and everything they have started and waited for."""
        ticks = 0
        for pid in [pid for worker in processes for pid in (worker.pid, *children_of(worker.pid))]:
            fields = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()
            ticks += sum(map(int, fields[11:15]))
        return ticks / os.sysconf("SC_CLK_TCK")

    try:
        start("dask_scheduler", "--host", "127.0.0.1", "--port", "0")
        wait_until(lambda: re.search(r"tcp://127\.0\.0\.1:\d+", log.read_text()), "the scheduler's address")
        address = re.search(r"tcp://127\.0\.0\.1:\d+", log.read_text()).group()
        for _ in range(2):
            start("dask_worker", address, "--no-nanny", "--nthreads", "1", "--local-directory", str(scratch))
        wait_until(lambda: log.read_text().count("Register worker") >= 2, "two workers")
        Run(mixed(scratch / "first", 4), scratch / "first-out", "--cluster", address)  # workers load the engines once
        here, there, there_cpu = [], [], []
        for turn in range(2):
            here.append(Run(folder, scratch / f"here-{turn}", "--jobs", "2"))
            before = cpu_s()
            there.append(Run(folder, scratch / f"there-{turn}", "--cluster", address))
            there_cpu.append(there[-1].cpu_s + cpu_s() - before)
    finally:
        for process in reversed(processes):
            process.kill()
            process.wait()
    local, remote = min(run.seconds for run in here), min(run.seconds for run in there)
    local_cpu, remote_cpu = min(run.cpu_s for run in here), min(there_cpu)
    say(f"{files} files, two lanes here", f"{local:.1f} s, cpu {local_cpu:.1f} s")
    say(f"{files} files, two workers of a scheduler", f"{remote:.1f} s, cpu {remote_cpu:.1f} s")
    say("scheduler against here", f"{remote / local:.2f} times, cpu {remote_cpu / local_cpu:.2f}", "0.85 to 1.15")


MEASURES = {"scaling": scaling, "overhead": overhead, "growth": growth, "resumed": resumed, "cluster": cluster}


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("names", nargs="*", choices=[*MEASURES, []], default=[])
    parser.add_argument("--files", type=int, default=200)
    parser.add_argument("--small", action="store_true", help="a fifth of the files: minutes instead of an hour")
    parser.add_argument("--keep", type=Path)
    asked = parser.parse_args()
    files = asked.files // 5 if asked.small else asked.files
    say("cores, and processes waiting for them before the start", f"{os.cpu_count()}, {os.getloadavg()[0]:.1f}")
    with tempfile.TemporaryDirectory(prefix="preflight-bench-") as name:
        scratch = asked.keep or Path(name)
        scratch.mkdir(parents=True, exist_ok=True)
        for what in asked.names or MEASURES:
            MEASURES[what](scratch, files)
    say("processes waiting for cores at the end", f"{os.getloadavg()[0]:.1f}")


if __name__ == "__main__":
    main()
