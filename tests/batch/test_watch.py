"""Files arriving in a watched folder: taken once whole, once each, and sorted without overwriting; the installed command itself."""

from __future__ import annotations

import os
import shutil
import signal
import subprocess
import tempfile
import time
from pathlib import Path

import pytest
from night import ended, long_pdf, small_pdf, started, summary_in, wait_until, worker_on

from preflight.batch.moving import move_without_overwriting
from preflight.batch.whole import Arrivals, has_its_end

STILL_S = 0.5


@pytest.fixture
def folder(tmp_path):
    folder = tmp_path / "in"
    folder.mkdir()
    return folder


@pytest.fixture
def out(tmp_path):
    return tmp_path / "out"


def watching(folder, out, *options):
    return started("watch", folder, "--out", out, "--still", str(STILL_S), *options)


def done(out):
    return {path.name.rpartition("-")[0] for path in out.glob("reports/*/[!.]*") if (path / "report.json").is_file()}


def verdicts(out):
    return {result["name"]: result["verdict"] for result in summary_in(out)["results"]}


def ready(out):
    return (out / ".preflight-run").exists()


def stop(run, out):
    run.send_signal(signal.SIGTERM)
    night = ended(run, out)
    assert night.status == 0
    assert night.summary["finished"] is True
    return night


def test_file_in_pieces_is_taken_when_whole(folder, out, tmp_path):
    """Both the pause of a slow sender and a partner part file hold a file back; an unspoilt answer shows it was whole."""
    whole = small_pdf(tmp_path / "whole.pdf").read_bytes()
    with watching(folder, out) as run:
        wait_until(lambda: ready(out), "the watch")
        (folder / "partner.pdf.part").write_bytes(b"")
        shutil.copy(tmp_path / "whole.pdf", folder / "partner.pdf")
        third = len(whole) // 3
        with (folder / "pieces.pdf").open("wb") as arriving:
            for piece in (whole[:third], whole[third : 2 * third], whole[2 * third :]):
                assert done(out) == set()
                arriving.write(piece)
                arriving.flush()
                time.sleep(2.5 * STILL_S)
        wait_until(lambda: "pieces" in done(out), "the file in pieces")
        assert "partner" not in done(out)
        (folder / "partner.pdf.part").unlink()
        small_pdf(tmp_path / "other.pdf", 5).rename(folder / "other.pdf")
        wait_until(lambda: "other" in done(out), "a file moved in")
        wait_until(lambda: len(verdicts(out)) == 3, "the partner, once its part file is gone")
        stop(run, out)
    assert verdicts(out) == {"pieces.pdf": "go", "partner.pdf": "go", "other.pdf": "go"}


@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGINT])
def test_stop_puts_the_file_in_hand_back_and_a_restart_takes_it_up(folder, out, number):
    small_pdf(folder / "short.pdf")
    long = long_pdf(folder / "long.pdf")
    sorted_into = out / "sorted"
    with watching(folder, out, "--jobs", "2", "--sort-into", str(sorted_into)) as run:
        wait_until(lambda: (sorted_into / "go" / "short.pdf").exists() or worker_on(run.pid, long), "the long file")
        wait_until(lambda: worker_on(run.pid, long), "the long file in hand")
        run.send_signal(number)
        assert ended(run, out).status == (0 if number == signal.SIGTERM else 130)
    assert long.exists()
    assert "long.pdf" not in verdicts(out)
    assert not (out / ".scratch").exists()
    with watching(folder, out, "--sort-into", str(sorted_into)) as run:
        wait_until(lambda: "long.pdf" in verdicts(out), "the long file, after the restart")
        wait_until(lambda: not list(folder.glob("*.pdf")), "both moved")
        stop(run, out)
    assert {path.name for path in (sorted_into / "go").iterdir()} == {"long.pdf", "short.pdf"}
    assert not list(folder.glob("*.pdf"))


def test_restart_does_nothing_twice(folder, out):
    small_pdf(folder / "a.pdf", 1)
    with watching(folder, out) as run:
        wait_until(lambda: done(out) == {"a"}, "the first file")
        stop(run, out)
    made = {path: path.stat().st_mtime_ns for path in out.rglob("report.json")}
    small_pdf(folder / "b.pdf", 2)
    with watching(folder, out) as run:
        wait_until(lambda: done(out) == {"a", "b"}, "what came meanwhile")
        time.sleep(1.0)
        night = stop(run, out)
    assert verdicts(out) == {"a.pdf": "go", "b.pdf": "go"}
    assert {path: path.stat().st_mtime_ns for path in made} == made
    assert night.stdout.count("b.pdf") == 1


def test_sorting_never_overwrites_and_polling_finds_files(folder, out, tmp_path):
    target = tmp_path / "sorted"
    (target / "go").mkdir(parents=True)
    (target / "go" / "a.pdf").write_bytes(b"somebody's own")
    small_pdf(folder / "a.pdf")
    with watching(folder, out, "--poll", "--sort-into", str(target)) as run:
        wait_until((target / "go" / "a (2).pdf").exists, "the first file of the name")
        (folder / "b.pdf").write_bytes(b"not artwork %%EOF")
        (folder / "sub").mkdir()
        small_pdf(folder / "sub" / "a.pdf", 9)
        wait_until((target / "go" / "a (3).pdf").exists, "the second")
        wait_until((target / "stop" / "b.pdf").exists, "what the customer has to mend")
        stop(run, out)
    assert (target / "go" / "a.pdf").read_bytes() == b"somebody's own"
    assert not [path for path in folder.rglob("*") if path.is_file()]


def test_wrong_usage_is_one_line(folder, out):
    for target in ({"--out": folder}, {"--out": out, "--sort-into": folder}):
        options = [word for pair in target.items() for word in pair]
        with started("watch", folder, *options) as run:
            stdout, stderr = run.communicate(timeout=60)
        assert run.returncode == 2
        assert (stdout, len(stderr.splitlines())) == (b"", 1)


# --- the parts ---------------------------------------------------------------------------------------------------------------------


def test_clock_that_jumps_does_not_matter(tmp_path, monkeypatch):
    """A file whose time lies in the future or the past, and a clock that is set back, hold nothing up."""
    art = small_pdf(tmp_path / "a.pdf")
    os.utime(art, (4e9, 4e9))
    arrivals = Arrivals(still_s=0.05)
    assert not arrivals.is_whole(art)
    monkeypatch.setattr(time, "time", lambda: 0.0)
    time.sleep(0.1)
    assert arrivals.is_whole(art)
    os.utime(art, (1.0, 1.0))
    assert not arrivals.is_whole(art)  # it was touched: from the start
    time.sleep(0.1)
    assert arrivals.is_whole(art)


def test_file_without_an_end_is_taken_after_patience(tmp_path):
    art = small_pdf(tmp_path / "cut.pdf")
    art.write_bytes(art.read_bytes()[:-40])
    assert not has_its_end(art)
    arrivals = Arrivals(still_s=0.01, patience_s=0.3)
    assert not arrivals.is_whole(art)
    time.sleep(0.1)
    assert not arrivals.is_whole(art)
    time.sleep(0.3)
    assert arrivals.is_whole(art)


def test_longest_name_is_moved_and_numbered(tmp_path):
    name = "x" * 251 + ".pdf"
    for turn in range(2):
        (tmp_path / name).write_bytes(b"%d" % turn)
        moved = move_without_overwriting(tmp_path / name, tmp_path / "go")
        assert moved.read_bytes() == b"%d" % turn
    assert len(list((tmp_path / "go").iterdir())) == 2


@pytest.fixture
def other_disk():
    """A folder in another file system than the tests' own."""
    folder = Path("/dev/shm")
    if not os.access(folder, os.W_OK):
        pytest.skip("there is no second file system here to write to")
    with tempfile.TemporaryDirectory(dir=folder) as name:
        yield Path(name)


def test_moved_to_another_file_system_without_overwriting(tmp_path, other_disk):
    if tmp_path.stat().st_dev == other_disk.stat().st_dev:
        pytest.skip("the tests' own folder is in the second file system too")
    for turn in range(3):
        (tmp_path / "a.pdf").write_bytes(b"%d" % turn)
        moved = move_without_overwriting(tmp_path / "a.pdf", other_disk / "go")
        assert moved.read_bytes() == b"%d" % turn
        assert not (tmp_path / "a.pdf").exists()
    assert {path.name for path in (other_disk / "go").iterdir()} == {"a.pdf", "a (2).pdf", "a (3).pdf"}


def test_what_cannot_be_moved_stays_where_it_was_and_only_there(tmp_path):
    """The target has no room: neither half a file nor a claimed name is left there."""
    target = tmp_path / "full"
    target.mkdir()
    mounting = ["mount", "-t", "tmpfs", "-o", "size=64k", "tmpfs", str(target)]
    try:
        mounted = subprocess.run(mounting, capture_output=True, check=False).returncode == 0
    except FileNotFoundError:
        mounted = False
    if not mounted:
        pytest.skip("a small disk cannot be mounted here")
    try:
        (tmp_path / "a.pdf").write_bytes(bytes(200_000))
        with pytest.raises(OSError, match="No space left"):
            move_without_overwriting(tmp_path / "a.pdf", target / "go")
        assert list((target / "go").iterdir()) == []
        assert (tmp_path / "a.pdf").stat().st_size == 200_000
    finally:
        subprocess.run(["umount", "-l", str(target)], check=True)
