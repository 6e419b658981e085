"""Spoils good files, lets the tool check each in isolation, and says where it did not stand up to it.

    python tests/hostile/run.py --count 300 --seed 1
    nice -n 19 python tests/hostile/run.py --count 20000 --also FOLDER_OF_REAL_FILES

Every spoilt file must end with a report (findings, or ``unchecked`` with a reason) inside the time and memory limits, without
a traceback, an orphan process or a temporary file left, and with the file itself untouched; the report must come to disk as JSON
and HTML with its pictures. What fails is kept in a folder, with its seed, so that it can be looked at.
"""

from __future__ import annotations

import argparse
import atexit
import hashlib
import json
import os
import random
import shutil
import subprocess
import sys
import tempfile
import threading
import time
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from pathlib import Path

from good_files import ROOT, good_files
from mutate import spoil

sys.path[:0] = [str(ROOT)]

MEMORY_LIMIT_MB = 1024
#: Killing a child and writing the answer down takes a moment more: minutes for a run at the lowest priority on a busy machine.
GRACE_S = 120.0
#: What ran out of memory is tried once more at double; the engines loaded before do not count as the file's.
MOST_MEMORY_MB = 2 * MEMORY_LIMIT_MB + 400
#: Every so many files the whole command is run, not only its isolated part.
COMMAND_EVERY = 15


@dataclass
class Outcome:
    """How a run of many spoilt files went."""

    verdicts: Counter[str] = field(default_factory=Counter)
    slowest_s: float = 0.0
    most_memory_mb: float = 0.0
    faults: list[str] = field(default_factory=list)


def run(
    folder: Path,
    turns: range,
    *,
    time_limit_s: float,
    also: list[Path],
    keep: Path | None = None,
    verbose: bool = False,
) -> Outcome:
    """Checks a spoilt file for each seed of ``turns``."""
    good = good_files(folder / "good", also)
    outcome = Outcome()
    with _own_temporary_folder(folder / "temporary") as temporary, _own_stderr(folder / "said") as said:
        from preflight.isolate import warm_up
        from preflight.rules import settle

        warm_up()
        jobs = {(item.rules, item.ticket): settle(item.rules, item.ticket) for item in good}
        for turn, seed in enumerate(turns, start=1):
            item = random.Random(f"file {seed}").choice(good)
            hand, spoilt = spoil(item.path.read_bytes(), seed)
            victim = folder / f"victim{item.path.suffix}"
            victim.write_bytes(spoilt)
            before = len(outcome.faults)
            label = f"seed {seed}, {hand}, {item.path.parent.name}/{item.path.name}"
            started = time.monotonic()
            if turn % COMMAND_EVERY == 0:
                _by_command(victim, item.ticket, label, outcome, time_limit_s, folder / "out")
            else:
                _by_function(victim, jobs[item.rules, item.ticket], label, outcome, time_limit_s, folder / "out")
            _look_around(victim, spoilt, temporary, said, label, outcome)
            if verbose:
                print(f"{time.monotonic() - started:6.2f} s  {label}", *outcome.faults[before:], flush=True)
            if keep is not None and len(outcome.faults) > before:
                keep.mkdir(parents=True, exist_ok=True)
                (keep / f"seed-{seed}-{hand}{item.path.suffix}").write_bytes(spoilt)
                print("FAULT", *outcome.faults[before:], flush=True)
    return outcome


def _by_function(victim: Path, job: object, label: str, outcome: Outcome, time_limit_s: float, out: Path) -> None:
    from preflight.isolate import Limits, check_file
    from preflight.report.files import write_reports

    pictures = out / "drawn"
    pictures.mkdir(parents=True)
    started = time.monotonic()
    with _memory_watched(outcome):
        try:
            limits = Limits(time_limit_s, MEMORY_LIMIT_MB, cores=2)
            report = check_file(victim, job, limits=limits, pictures=pictures)
        except Exception as fault:
            outcome.faults.append(f"{label}: raised {type(fault).__name__}: {fault}")
            return
        finally:
            taken = time.monotonic() - started
    outcome.slowest_s = max(outcome.slowest_s, taken)
    outcome.verdicts[report.verdict.value] += 1
    if taken > time_limit_s + GRACE_S:
        outcome.faults.append(f"{label}: took {taken:.1f} s with a limit of {time_limit_s:g} s")
    if not report.pages and not report.findings and not report.unchecked:
        outcome.faults.append(f"{label}: no page, no finding, and nothing unchecked: a pass for nothing")
    if ours := [item.why for item in report.unchecked if "a fault of this tool" in item.why]:
        outcome.faults.append(f"{label}: {ours[0]}")
    try:
        written = write_reports(report, out / "reports", pictures, victim)
        if json.loads((written / "report.json").read_text(encoding="utf-8"))["verdict"] != report.verdict.value:
            outcome.faults.append(f"{label}: the report on disk says something else")
    except Exception as fault:
        outcome.faults.append(f"{label}: the report cannot be written: {type(fault).__name__}: {fault}")
    shutil.rmtree(out)


def _by_command(
    victim: Path, ticket: Path | None, label: str, outcome: Outcome, time_limit_s: float, out: Path
) -> None:
    """The whole command with every kind of report, the marked copy too."""
    command = [sys.executable, "-m", "preflight", "check", str(victim), "--time-limit", str(time_limit_s)]
    command += ["--memory-limit", str(MEMORY_LIMIT_MB), "--out", str(out)]
    command += ["--ticket", str(ticket)] if ticket else []
    try:
        ended = subprocess.run(command, capture_output=True, timeout=time_limit_s + GRACE_S, cwd=ROOT, check=False)
    except subprocess.TimeoutExpired:
        outcome.faults.append(f"{label}: the command did not end")
        return
    finally:
        shutil.rmtree(out, ignore_errors=True)
    outcome.verdicts[f"exit {ended.returncode}"] += 1
    if ended.returncode not in (0, 10, 20, 30):
        outcome.faults.append(f"{label}: exit status {ended.returncode}: {ended.stderr[-300:]!r}")
    if b"Traceback" in ended.stderr + ended.stdout:
        outcome.faults.append(f"{label}: a traceback: {ended.stderr[-500:]!r}")


def _look_around(victim: Path, data: bytes, temporary: Path, said: Path, label: str, outcome: Outcome) -> None:
    """After each file: is the file what it was, is nothing left running or lying about, was nothing blurted out."""
    if hashlib.sha256(victim.read_bytes()).digest() != hashlib.sha256(data).digest():
        outcome.faults.append(f"{label}: the artwork was changed")
    # The fork server's own socket lies in a folder named pymp-*, as long as this process lives.
    if left := [entry.name for entry in temporary.iterdir() if not entry.name.startswith("pymp-")]:
        outcome.faults.append(f"{label}: temporary files left: {left}")
        for name in left:
            (temporary / name).rename(temporary.parent / f"left-{time.monotonic_ns()}")
    if orphans := _workers():
        for _ in range(100):  # one that has been killed takes its time to go where there is much else to do
            orphans = [child for child in _workers() if child in orphans]
            if not orphans:
                break
            time.sleep(0.2)
        if orphans:
            outcome.faults.append(f"{label}: processes left: {orphans}")
    if "Traceback" in said.read_text(errors="replace"):
        outcome.faults.append(f"{label}: a traceback: {said.read_text(errors='replace')[-1500:]}")
        os.truncate(said, 0)


def _processes() -> Iterator[tuple[int, int, str, int]]:
    """Process id, parent, state and resident pages of everything that runs."""
    for entry in Path("/proc").iterdir():
        if entry.name.isdigit():
            with suppress(OSError, IndexError, ValueError):
                fields = (entry / "stat").read_text().rpartition(")")[2].split()
                yield int(entry.name), int(fields[1]), fields[0], int(fields[21])


def _workers() -> list[int]:
    """Children of the fork server, which is a child of this process; ended ones that are only to be waited for do not count."""
    processes = list(_processes())
    ours = {process for process, parent, _, _ in processes if parent == os.getpid()}
    return [process for process, parent, state, _ in processes if parent in ours and state != "Z"]


@contextmanager
def _memory_watched(outcome: Outcome) -> Iterator[None]:
    done, page_mb = threading.Event(), os.sysconf("SC_PAGE_SIZE") / 1e6
    peak = 0.0

    def watch() -> None:
        nonlocal peak
        while not done.wait(0.1):
            children = set(_workers())
            peak = max([peak, *(pages * page_mb for process, _, _, pages in _processes() if process in children)])

    watcher = threading.Thread(target=watch)
    watcher.start()
    try:
        yield
    finally:
        done.set()
        watcher.join()
        outcome.most_memory_mb = max(outcome.most_memory_mb, peak)
        if peak > MOST_MEMORY_MB:
            outcome.faults.append(f"a child took {peak:.0f} MB with a limit of {MEMORY_LIMIT_MB} MB")


@contextmanager
def _own_temporary_folder(folder: Path) -> Iterator[Path]:
    """Everything temporary goes where it can be counted."""
    folder.mkdir(parents=True, exist_ok=True)
    before = os.environ.get("TMPDIR"), tempfile.tempdir
    os.environ["TMPDIR"], tempfile.tempdir = str(folder), str(folder)
    try:
        yield folder
    finally:
        tempfile.tempdir = before[1]
        os.environ.pop("TMPDIR")
        if before[0] is not None:
            os.environ["TMPDIR"] = before[0]


@contextmanager
def _own_stderr(path: Path) -> Iterator[Path]:
    """What this process and its children write to standard error goes to a file."""
    kept = os.dup(2)
    with path.open("wb") as said:
        os.dup2(said.fileno(), 2)
    try:
        yield path
    finally:
        os.dup2(kept, 2)
        os.close(kept)


def side_by_side(wanted: argparse.Namespace, folder: Path) -> Outcome:
    """The run shared between lanes, each a process of its own with a fork server and a temporary folder of its own."""
    lanes = []
    for lane in range(wanted.lanes):
        (folder / str(lane)).mkdir()
        command = [sys.executable, __file__, "--lane", str(lane), *sys.argv[1:], "--seed", str(wanted.seed)]
        lanes.append(subprocess.Popen(command, env=os.environ | {"HOSTILE_FOLDER": str(folder / str(lane))}))
    whole = Outcome()
    for lane, process in enumerate(lanes):
        status = process.wait()
        try:
            part = json.loads((folder / str(lane) / "outcome.json").read_text())
        except OSError:
            whole.faults.append(f"lane {lane} ended with {status} and no outcome")
            continue
        whole.verdicts.update(part["verdicts"])
        whole.slowest_s = max(whole.slowest_s, part["slowest_s"])
        whole.most_memory_mb = max(whole.most_memory_mb, part["most_memory_mb"])
        whole.faults += part["faults"]
    return whole


def one_lane(wanted: argparse.Namespace, folder: Path) -> None:
    # Registered before the fork server is known of, so that it goes last: the server's socket lies in there.
    atexit.register(shutil.rmtree, folder / "lane", ignore_errors=True)
    turns = range(wanted.seed + wanted.lane, wanted.seed + wanted.count, wanted.lanes)
    outcome = run(
        folder / "lane",
        turns,
        time_limit_s=wanted.time_limit,
        also=wanted.also,
        keep=wanted.keep,
        verbose=wanted.verbose,
    )
    (folder / "outcome.json").write_text(json.dumps(vars(outcome)))


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--count", type=int, default=300)
    parser.add_argument("--seed", type=int, help="the first seed; else drawn and printed")
    parser.add_argument("--lanes", type=int, default=2, help="processes side by side [2]")
    parser.add_argument("--also", type=Path, action="append", default=[], help="a folder of real files to spoil too")
    parser.add_argument("--time-limit", type=float, default=20.0, metavar="SECONDS", help="for each file [20]")
    parser.add_argument("--keep", type=Path, default=Path("hostile-failures"))
    parser.add_argument("--verbose", action="store_true", help="a line for each file")
    parser.add_argument("--lane", type=int, help=argparse.SUPPRESS)
    wanted = parser.parse_args()
    if wanted.lane is not None:
        one_lane(wanted, Path(os.environ["HOSTILE_FOLDER"]))
        return
    if wanted.seed is None:
        wanted.seed = random.SystemRandom().randrange(10**6)
    print(f"seed {wanted.seed}, {wanted.count} files", flush=True)
    with tempfile.TemporaryDirectory(prefix="preflight-hostile-", ignore_cleanup_errors=True) as name:
        outcome = side_by_side(wanted, Path(name))
    print(", ".join(f"{verdict}: {number}" for verdict, number in sorted(outcome.verdicts.items())))
    print(f"slowest {outcome.slowest_s:.1f} s, most memory of a child {outcome.most_memory_mb:.0f} MB")
    for fault in outcome.faults:
        print("FAULT", fault)
    if sum(outcome.verdicts.values()) + len(outcome.faults) < wanted.count:
        print(f"FAULT only {sum(outcome.verdicts.values())} of {wanted.count} files came to an end")
        sys.exit(1)
    sys.exit(1 if outcome.faults else 0)


if __name__ == "__main__":
    main()
