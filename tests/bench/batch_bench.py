"""Measures a run over a folder: two lanes against one, what a file costs beyond its work, growth, memory, resuming.

    python tests/bench/batch_bench.py [scaling] [overhead] [growth] [resumed] [--files 200] [--keep FOLDER]

What counts are the ratios inside one run on one machine. Nothing here fails: it prints what it measured beside what is aimed
at, and how busy the machine was with other work.
"""

from __future__ import annotations

import argparse
import json
import os
import statistics
import subprocess
import sys
import tempfile
import threading
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from artwork import Book, mm
from night import PREFLIGHT, small_pdf
from PIL import Image

NAMES = ("scaling", "overhead", "growth", "resumed")


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
    """One run of the command: seconds, its highest memory in MB, and its summary."""

    def __init__(self, folder: Path, out: Path, *options: str) -> None:
        started = time.monotonic()
        command = [*PREFLIGHT, "batch", str(folder), "--out", str(out), "--quiet", *options]
        process = subprocess.Popen(command, stdout=subprocess.DEVNULL)
        watcher = threading.Thread(target=self._watch, args=(process.pid,), daemon=True)
        self.most_mb = 0.0
        watcher.start()
        process.wait()
        self.seconds = time.monotonic() - started
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
    print(f"{what:52} {measured:>22}   {aim}", flush=True)


def scaling(scratch: Path, files: int) -> None:
    folder = mixed(scratch / "scaling", files)
    seconds: dict[str, list[float]] = {"1": [], "2": []}
    for turn in range(2):  # in turns, so that other work on the machine falls on both
        for jobs in ("1", "2"):
            seconds[jobs].append(Run(folder, scratch / f"scaling-{jobs}-{turn}", "--jobs", jobs).seconds)
    one, two = (min(seconds[jobs]) for jobs in ("1", "2"))
    say(f"{files} mixed small files, one lane", f"{one:.1f} s")
    say(f"{files} mixed small files, two lanes", f"{two:.1f} s")
    say("two lanes against one", f"{one / two:.2f} times", "at least 1.85 on two free cores")


def overhead(scratch: Path, files: int) -> None:
    """Wall time of a file in one lane, less what reading, drawing and checking it takes in a process that does nothing else."""
    folder = mixed(scratch / "overhead", min(files, 60))
    run = Run(folder, scratch / "overhead-out", "--jobs", "1")
    bare = subprocess.run(
        [sys.executable, str(Path(__file__).resolve()), "--bare", str(folder)],
        capture_output=True,
        text=True,
        check=True,
    )
    work = float(bare.stdout)
    empty = Run(mixed(scratch / "none", 0), scratch / "none-out").seconds
    count = run.summary["files"]
    each_ms = (run.seconds - empty - work) / count * 1000
    say("a file's own work (open, plates, checks)", f"{work / count * 1000:.0f} ms")
    say("a file's isolation, hashing, pictures and reports", f"{each_ms:.0f} ms", "under 40 ms, pictures aside")


def bare(folder: Path) -> None:
    """Every file examined in this one process, with no child, no picture and no report; prints the seconds."""
    from preflight import preload
    from preflight.rules import settle

    job = settle(None, None)
    paths = sorted(folder.iterdir())
    seconds = 0.0
    for turn in range(2):  # the first file pays for what is made once
        started = time.monotonic()
        for path in paths[:1] if turn == 0 else paths:
            ask(preload.flow, path, job)
        seconds = time.monotonic() - started
    print(seconds)


def ask(flow, path: Path, job) -> None:
    flow.examine(path, path.name, job, range(1, 2 if path.suffix == ".png" else pages_of(path) + 1), lambda _: None)


def pages_of(path: Path) -> int:
    import pikepdf

    with pikepdf.open(path) as pdf:
        return len(pdf.pages)


def growth(scratch: Path, files: int) -> None:
    runs = {
        count: Run(mixed(scratch / f"growth-{count}", count), scratch / f"growth-{count}-out") for count in (100, 400)
    }
    empty = Run(mixed(scratch / "empty", 0), scratch / "empty-out")
    per_file = {count: (run.seconds - empty.seconds) / count * 1000 for count, run in runs.items()}
    for count, run in runs.items():
        say(f"{count} files", f"{per_file[count]:.0f} ms a file", f"parent at most {run.most_mb:.0f} MB")
    say("400 against 100, a file", f"{per_file[400] / per_file[100]:.2f} times", "0.9 to 1.1")
    say("the parent's memory, 400 against 100", f"{runs[400].most_mb - runs[100].most_mb:+.0f} MB", "within 30 MB")


def resumed(scratch: Path, files: int) -> None:
    folder = scratch / "thousand"
    for number in range(5 * files):
        # Files that are quickly answered: a run that does nothing new does not look at what is in them.
        folder.mkdir(exist_ok=True)
        (folder / f"{number:05}.pdf").write_bytes(b"not artwork %d" % number)
    first = Run(folder, scratch / "thousand-out")
    again = [Run(folder, scratch / "thousand-out") for _ in range(3)]
    assert all(run.summary["taken_from_earlier_runs"] == 5 * files for run in again)
    say(f"{5 * files} files, first run", f"{first.seconds:.1f} s")
    say(
        f"{5 * files} files, nothing new",
        f"{statistics.median(run.seconds for run in again):.1f} s",
        "under 5 s for 1000",
    )


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("names", nargs="*", choices=[*NAMES, []], default=[])
    parser.add_argument("--files", type=int, default=200)
    parser.add_argument("--keep", type=Path)
    parser.add_argument("--bare", type=Path, help=argparse.SUPPRESS)
    asked = parser.parse_args()
    if asked.bare is not None:
        bare(asked.bare)
        return
    say("cores, and processes waiting for them before the start", f"{os.cpu_count()}, {os.getloadavg()[0]:.1f}")
    with tempfile.TemporaryDirectory(prefix="preflight-bench-") as name:
        scratch = asked.keep or Path(name)
        scratch.mkdir(parents=True, exist_ok=True)
        for what in asked.names or NAMES:
            {"scaling": scaling, "overhead": overhead, "growth": growth, "resumed": resumed}[what](scratch, asked.files)
    say("processes waiting for cores at the end", f"{os.getloadavg()[0]:.1f}")


if __name__ == "__main__":
    main()
