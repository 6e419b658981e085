"""Measures speed and memory of the whole command against the least work there is, and against the programs a shop would use.

    python tests/bench/bench.py [brochure] [checks] [html] [programs] [memory] [large] [help] [--runs 7] [--pages 16] [--keep FOLDER]

Each comparison is made in interleaved runs on the same machine in the same minute; what counts are the ratios of the medians.
Nothing here fails: it prints what it measured beside what is aimed at.
"""

from __future__ import annotations

import argparse
import contextlib
import os
import shutil
import statistics
import subprocess
import sys
import tempfile
import threading
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent))

from processor_time import Used, measured

HERE = Path(__file__).resolve().parent

PREFLIGHT = [sys.executable, "-m", "preflight"]
#: The separation device at the resolution nearest to the tool's own, and what else an operator would call.
PROGRAMS = (
    ["gs", "-q", "-dBATCH", "-dNOPAUSE", "-sDEVICE=tiffsep", "-r150", "-sOutputFile={scratch}/page_%d.tif", "{file}"],
    ["pdfimages", "-list", "{file}"],
    ["pdffonts", "{file}"],
    ["pdfinfo", "-box", "-f", "1", "-l", "{pages}", "{file}"],
    ["qpdf", "--check", "{file}"],
)

#: Those that every file meets: door, sizes, bleed, pages, resolution, colour, ink, fonts, lines, marks.
EVERYDAY = ("file", "trim", "bleed", "pages", "resolution", "colour", "total-ink", "font", "line", "marks")


@dataclass(eq=False)
class Line:
    """One thing measured: the median of its runs, seconds or megabytes."""

    what: str
    measured: list[float] = field(default_factory=list)
    unit: str = "s"

    @property
    def median(self) -> float:
        return statistics.median(self.measured)


@dataclass(frozen=True)
class Ratio:
    what: str
    value: float
    aim: str


def run_bench(names: list[str], *, runs: int, pages: int, folder: Path, ppi: float = 300.0) -> Iterator[Line | Ratio]:
    """Measures what is named, and answers line by line; files are made in ``folder``."""
    for name in names or list(BENCHES):
        yield from BENCHES[name](folder, runs=runs, pages=pages, ppi=ppi)


def _brochure(folder: Path, *, runs: int, pages: int, ppi: float) -> Iterator[Line | Ratio]:
    file = _brochure_file(folder, pages, ppi)
    bare = [sys.executable, str(HERE / "bare_loop.py"), str(file)]
    check = [*PREFLIGHT, "check", str(file), "--quiet", "--json", str(folder / "report.json")]
    one_bare, one_check, two_check = Line("bare loop, one core"), Line("check, one core"), Line("check, two cores")
    for _ in range(runs):
        one_bare.measured.append(_seconds(bare, cores=1))
        one_check.measured.append(_seconds(check, cores=1))
        two_check.measured.append(_seconds(check, cores=2))
    yield from (one_bare, one_check, two_check)
    yield Ratio("check / bare loop, one core", one_check.median / one_bare.median, "at most 2.5")
    yield Ratio("check on two cores / bare loop on one", two_check.median / one_bare.median, "at most 1.0")


def _checks(folder: Path, *, runs: int, pages: int, ppi: float) -> Iterator[Line | Ratio]:
    """What the families of checks cost: the same file under rules that switch some of them off.

    In processor time of all processes together, which other work on the machine disturbs less than the clock.
    """
    file = _brochure_file(folder, pages, ppi)
    bare = Line("bare loop, processor time")
    commands = {bare: [sys.executable, str(HERE / "bare_loop.py"), str(file)]}
    aims = {}
    for what, checks, aim in (
        ("the everyday checks", EVERYDAY, "at most 1.5"),
        ("all checks but those of pictures", None, "at most 1.9"),
        ("all checks", (), "at most 2.5"),
    ):
        line = Line(f"{what}, processor time")
        rules = "sheetfed-coated" if checks == () else str(_rules_for(folder, what, checks))
        commands[line] = [*PREFLIGHT, "check", str(file), "--quiet", "--rules", rules]
        aims[line] = (what, aim)
    for _ in range(runs):
        for line, command in commands.items():
            line.measured.append(_processor_seconds(command))
    yield from commands
    for line, (what, aim) in aims.items():
        yield Ratio(f"{what} / bare loop", line.median / bare.median, aim)


def _html(folder: Path, *, runs: int, pages: int, ppi: float) -> Iterator[Line | Ratio]:
    """What the HTML report adds, with its pictures of pages, plates and places, in processor time."""
    file = _brochure_file(folder, pages, ppi)
    check = [*PREFLIGHT, "check", str(file), "--quiet"]
    bare, page = Line("check, processor time"), Line("check with HTML report, processor time")
    for _ in range(runs):
        bare.measured.append(_processor_seconds(check))
        page.measured.append(_processor_seconds([*check, "--html", str(folder / "report.html")]))
    yield from (bare, page)
    yield Ratio("check with HTML / check", page.median / bare.median, "at most 1.3")


def _rules_for(folder: Path, what: str, checks: tuple[str, ...] | None) -> Path:
    """A rules file that leaves only these checks on; None: all but those that look into pictures."""
    from preflight.checking import all_checks

    path = folder / f"{what.replace(' ', '-')}.toml"
    parts = [f'title = "{what}"', 'extends = "sheetfed-coated"']
    for name, check in all_checks().items():
        if name not in checks if checks is not None else name == "image":
            kinds = [*check.kinds, *(f"{kind}-mild" for kind in sorted(check.mild_kinds))]
            off = ", ".join(f'{kind} = "off"' for kind in kinds)
            parts += [f"[{name}]", f"severity = {{ {off} }}"]
    path.write_text("\n".join(parts) + "\n", encoding="utf-8")
    return path


def _programs(folder: Path, *, runs: int, pages: int, ppi: float) -> Iterator[Line | Ratio]:
    missing = [command[0] for command in PROGRAMS if shutil.which(command[0]) is None]
    if missing:
        print(f"not measured against other programs: {', '.join(missing)} not installed", file=sys.stderr)
        return
    file = _brochure_file(folder, pages, ppi)
    check = [*PREFLIGHT, "check", str(file), "--quiet", "--json", str(folder / "report.json")]
    others, ours = Line("separations, lists and structure check"), Line("check, one core")
    for _ in range(runs):
        others.measured.append(sum(_seconds(_filled(command, file, pages), cores=1) for command in PROGRAMS))
        ours.measured.append(_seconds(check, cores=1))
    yield from (others, ours)
    yield Ratio("the other programs / check, one core", others.median / ours.median, "at least 1.5, better 3")


def _memory(folder: Path, *, runs: int, pages: int, ppi: float) -> Iterator[Line | Ratio]:
    from brochure import make_text_book

    short, long = Line("peak memory, 20 text pages", unit="MB"), Line("peak memory, 500 text pages", unit="MB")
    many = 500 if pages >= 16 else 10 * pages
    files = {
        make_text_book(folder / "text-20.pdf", min(20, many)): short,
        make_text_book(folder / "text-500.pdf", many): long,
    }
    for _ in range(max(1, runs // 2)):
        for file, line in files.items():
            line.measured.append(peak_memory_mb([*PREFLIGHT, "check", str(file), "--quiet", "--jobs", "1"]))
    yield from (short, long)
    yield Ratio("500 pages minus 20 pages, MB", long.median - short.median, "at most 50")


def _large(folder: Path, *, runs: int, pages: int, ppi: float) -> Iterator[Line | Ratio]:
    """Large pictures given as artwork, beside nothing but unpacking the same file, on one core; and what memory they take.

    By the clock, as is aimed at, and in processor time, which other work on the machine disturbs less.
    """
    from large_pictures import SIZE_PX, make_large_pictures

    size_px = SIZE_PX if pages >= 16 else (100 * pages, 140 * pages)
    for name, file in make_large_pictures(folder / f"large-{size_px[0]}", size_px, ppi).items():
        check = [*PREFLIGHT, "check", str(file), "--quiet"]
        unpack = [sys.executable, str(HERE / "bare_picture.py"), str(file)]
        bare, one = Line(f"{name}: unpacked with Pillow, processor time"), Line(f"{name}: check, processor time")
        clock, memory = Line(f"{name}: check, one core"), Line(f"{name}: peak memory", unit="MB")
        for run in range(runs):
            bare.measured.append(_processor_seconds(unpack))
            used = _used(check, cores=1)
            one.measured.append(used.cpu_s)
            clock.measured.append(used.clock_s)
            if run % 2 == 0:
                memory.measured.append(peak_memory_mb(check))
        yield from (bare, one, clock, memory)
        yield Ratio(f"{name}: check / unpacked with Pillow", one.median / bare.median, "for comparison")
        yield Ratio(f"{name}: check, seconds", clock.median, "under 3")
        yield Ratio(f"{name}: peak memory, MB", memory.median, "under 600")


def _help(folder: Path, *, runs: int, pages: int, ppi: float) -> Iterator[Line | Ratio]:
    line = Line("preflight --help")
    line.measured += [_seconds([*PREFLIGHT, "--help"], cores=1) for _ in range(runs)]
    yield line
    yield Ratio("preflight --help, seconds", line.median, "under 0.3")


BENCHES: dict[str, Callable[..., Iterator[Line | Ratio]]] = {
    "brochure": _brochure,
    "checks": _checks,
    "html": _html,
    "programs": _programs,
    "memory": _memory,
    "large": _large,
    "help": _help,
}


def _brochure_file(folder: Path, pages: int, ppi: float) -> Path:
    from brochure import make_brochure

    path = folder / f"brochure-{pages}.pdf"
    return path if path.exists() else make_brochure(path, pages, ppi)


def _filled(command: list[str], file: Path, pages: int) -> list[str]:
    return [part.format(file=file, pages=pages, scratch=file.parent) for part in command]


def _seconds(command: list[str], *, cores: int) -> float:
    """Wall time of a whole process on so many cores."""
    return _used(command, cores=cores).clock_s


def _processor_seconds(command: list[str]) -> float:
    """Processor time of a process and of all it leaves behind, on one core."""
    return _used(command, cores=1).cpu_s


def _used(command: list[str], *, cores: int) -> Used:
    pipe = subprocess.PIPE
    with (
        _held_to(cores),
        measured(command, stdout=subprocess.DEVNULL, stderr=pipe, cwd=HERE.parents[1]) as (process, used),
    ):
        said = process.communicate()[1]
    # A verdict is an answer; anything else would be the time of a failure.
    if process.returncode not in (0, 10, 20):
        raise SystemExit(f"{' '.join(command)} ended with {process.returncode}: {said.decode(errors='replace')[-500:]}")
    return used


@contextlib.contextmanager
def _held_to(cores: int) -> Iterator[None]:
    """Children started meanwhile may use the first so many of the granted cores."""
    granted = os.sched_getaffinity(0)
    os.sched_setaffinity(0, sorted(granted)[:cores])
    try:
        yield
    finally:
        os.sched_setaffinity(0, granted)


def peak_memory_mb(command: list[str]) -> float:
    """The highest sum of resident memory over a process and all its children, looked at 50 times a second.

    Pages that forked children share are counted for each of them: too much, but the same for both files compared.
    """
    process = subprocess.Popen(
        command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, start_new_session=True, cwd=HERE.parents[1]
    )
    peak = 0.0
    done = threading.Event()

    def watch() -> None:
        nonlocal peak
        while not done.wait(0.02):
            peak = max(peak, _resident_mb(process.pid))

    watcher = threading.Thread(target=watch)
    watcher.start()
    process.wait()
    done.set()
    watcher.join()
    return peak


def _resident_mb(session: int) -> float:
    pages = 0
    for entry in Path("/proc").iterdir():
        if not entry.name.isdigit():
            continue
        with contextlib.suppress(OSError, IndexError, ValueError):
            after_name = (entry / "stat").read_text().rpartition(")")[2].split()
            if int(after_name[3]) == session:
                pages += int(after_name[21])
    return pages * os.sysconf("SC_PAGE_SIZE") / 1e6


def as_text(line: Line | Ratio) -> str:
    if isinstance(line, Ratio):
        return f"= {line.what:42} {line.value:9.2f}     {line.aim}"
    spread = f"{min(line.measured):.2f} to {max(line.measured):.2f}"
    return f"  {line.what:42} {line.median:9.2f} {line.unit:3} ({spread}, {len(line.measured)} runs)"


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("names", nargs="*", metavar="name", help=f"of {', '.join(BENCHES)}; without a name all")
    parser.add_argument("--runs", type=int, default=7)
    parser.add_argument("--pages", type=int, default=16)
    parser.add_argument("--keep", type=Path, help="folder for the files, kept afterwards")
    wanted = parser.parse_args()
    if unknown := set(wanted.names) - set(BENCHES):
        parser.error(f"no such bench: {', '.join(sorted(unknown))}")
    with contextlib.ExitStack() as stack:
        folder = wanted.keep or Path(stack.enter_context(tempfile.TemporaryDirectory(prefix="preflight-bench-")))
        folder.mkdir(parents=True, exist_ok=True)
        for line in run_bench(wanted.names, runs=wanted.runs, pages=wanted.pages, folder=folder):
            print(as_text(line), flush=True)


if __name__ == "__main__":
    main()
