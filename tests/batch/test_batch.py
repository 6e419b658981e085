"""The night run as the clock starts it: the installed command over folders of strangers' files, with real signals and limits.

Exit statuses are those of the contract: 0 go, 10 ask, 20 stop, 30 unchecked, 2 wrong usage, 130 after Ctrl-C.
"""

from __future__ import annotations

import csv
import io
import json
import os
import re
import shutil
import signal
import socket
import subprocess
import tempfile
import time
from pathlib import Path

import pytest
from night import (
    LONG_PAGES,
    batch,
    children_of,
    ended,
    has_open,
    long_pdf,
    slow_pdf,
    small_pdf,
    started,
    summary_in,
    wait_until,
    without_rights,
    worker_on,
    workers_of,
)

ORDERED_SIZE = 'job = "{job}"\ntrim_mm = [{width}, 80]\n'


@pytest.fixture
def folder(tmp_path):
    folder = tmp_path / "in"
    folder.mkdir()
    return folder


@pytest.fixture
def out(tmp_path):
    return tmp_path / "out"


def verdicts(night):
    return {name: result["verdict"] for name, result in night.by_name.items()}


# --- piles, resumed, twins, tickets ------------------------------------------------------------------------------------------


def test_second_run_does_only_what_is_new(folder, out):
    small_pdf(folder / "a.pdf", 1)
    (folder / "flyer.pdf").write_bytes(b"<!DOCTYPE html><html></html>")
    first = batch(folder, out)
    assert first.status == 20
    assert verdicts(first) == {"a.pdf": "go", "flyer.pdf": "stop"}
    assert first.summary["piles"] == {"go": 1, "call": 1, "look": 0}
    assert (first.summary["finished"], first.summary["files"], first.summary["done"]) == (True, 2, 2)
    made = {path: path.stat().st_mtime_ns for path in out.rglob("report.json")}
    assert len(made) == 2

    second = batch(folder, out)
    assert second.status == 20
    assert second.summary["taken_from_earlier_runs"] == 2
    assert {path: path.stat().st_mtime_ns for path in out.rglob("report.json")} == made
    assert second.by_name == first.by_name

    small_pdf(folder / "b.pdf", 2)
    (folder / "flyer.pdf").unlink()
    small_pdf(folder / "flyer.pdf", 3)  # mended by the customer
    third = batch(folder, out)
    assert third.status == 0
    assert third.summary["taken_from_earlier_runs"] == 1
    assert verdicts(third) == {"a.pdf": "go", "b.pdf": "go", "flyer.pdf": "go"}
    for result in third.summary["results"]:
        report = json.loads((out / result["report"] / "report.json").read_text())
        assert report["file"]["sha256"] == result["sha256"]
    assert not list(out.rglob("*.part"))
    assert not (out / ".scratch").exists()


def test_twins_say_same_as(folder, out):
    small_pdf(folder / "a.pdf")
    shutil.copy(folder / "a.pdf", folder / "b.pdf")
    (folder / "sub").mkdir()
    shutil.copy(folder / "a.pdf", folder / "sub" / "c.pdf")
    night = batch(folder, out)
    assert {name: result["same_as"] for name, result in night.by_name.items()} == {
        "a.pdf": None,
        "b.pdf": "a.pdf",
        "sub/c.pdf": "a.pdf",
    }
    assert len(list(out.rglob("report.json"))) == 1
    assert "same as a.pdf" in night.stdout
    again = batch(folder, out)
    assert again.by_name == night.by_name
    assert again.summary["done"] == 3


WAIVER = """
[[waive]]
id = "trim.wrong-size"
page = 1
by = "M. Alder"
on = 2026-03-02
why = "the narrow size was agreed on"
"""


def test_what_was_accepted_is_told_with_name_and_date(folder, out):
    small_pdf(folder / "a.pdf")
    (folder / "ticket.toml").write_text(ORDERED_SIZE.format(job="W", width=90) + WAIVER)
    for night in (batch(folder, out), batch(folder, out)):
        assert "trim.wrong-size" not in night.by_name["a.pdf"]["faults"]
        [waived] = night.summary["waived"]
        assert waived["name"] == "a.pdf"
        assert waived["what"].startswith("trim.wrong-size  page 1")
        assert waived["what"].endswith("by M. Alder on 2026-03-02: the narrow size was agreed on")
        assert "by M. Alder on 2026-03-02: the narrow size was agreed on" in (out / "summary.html").read_text()
        [row] = csv.DictReader(io.StringIO((out / "summary.csv").read_text()))
        assert row["waived"] == waived["what"]


def test_marked_copies_where_they_are_asked_for(folder, out):
    small_pdf(folder / "a.pdf")
    (folder / "ticket.toml").write_text(ORDERED_SIZE.format(job="W", width=90))
    before = (folder / "a.pdf").read_bytes()
    batch(folder, out)
    assert not list(out.rglob("marked.pdf"))
    # What was checked without is checked again with one, and then kept.
    night = batch(folder, out, "--marked")
    assert night.summary["taken_from_earlier_runs"] == 0
    [copy] = out.rglob("marked.pdf")
    assert copy.read_bytes().startswith(b"%PDF")
    assert copy.parent == out / night.by_name["a.pdf"]["report"]
    assert "marked copy</a>" in (out / "summary.html").read_text()
    assert batch(folder, out, "--marked").summary["taken_from_earlier_runs"] == 1
    assert (folder / "a.pdf").read_bytes() == before


def test_ticket_beside_and_above(folder, out):
    """The artwork is 100 mm wide: the ticket that orders 90 mm makes it the wrong size, the other does not."""
    for name in ("right/a.pdf", "wrong/a.pdf", "wrong/own.pdf", "wrong/deep/er/a.pdf"):
        small_pdf(folder / name)
    (folder / "right" / "ticket.toml").write_text(ORDERED_SIZE.format(job="R", width=100))
    (folder / "wrong" / "ticket.toml").write_text(ORDERED_SIZE.format(job="W", width=90))
    (folder / "wrong" / "own.pdf.ticket.toml").write_text(ORDERED_SIZE.format(job="O", width=100))
    night = batch(folder, out)
    faults = {name: "trim.wrong-size" in result["faults"] for name, result in night.by_name.items()}
    assert faults == {"right/a.pdf": False, "wrong/a.pdf": True, "wrong/own.pdf": False, "wrong/deep/er/a.pdf": True}
    jobs = {
        name: json.loads((out / result["report"] / "report.json").read_text())["ticket"]["job"]
        for name, result in night.by_name.items()
    }
    assert jobs == {"right/a.pdf": "R", "wrong/a.pdf": "W", "wrong/own.pdf": "O", "wrong/deep/er/a.pdf": "W"}

    (folder / "wrong" / "ticket.toml").write_text(ORDERED_SIZE.format(job="W", width=100))
    mended = batch(folder, out)
    assert not any("trim.wrong-size" in result["faults"] for result in mended.summary["results"])
    assert mended.summary["taken_from_earlier_runs"] == 2


def test_unsound_ticket_is_unchecked_and_names_the_key(folder, out):
    small_pdf(folder / "a.pdf", 1)
    small_pdf(folder / "b.pdf", 2)
    (folder / "b.ticket.toml").write_text('job = "1"\ntrim = [100, 80]\n')
    night = batch(folder, out)
    assert night.status == 30
    assert verdicts(night) == {"a.pdf": "go", "b.pdf": "unchecked"}
    assert "b.ticket.toml" in night.by_name["b.pdf"]["unchecked"][0]
    assert "trim" in night.by_name["b.pdf"]["unchecked"][0]


def test_empty_folder_is_go(folder, out):
    night = batch(folder, out)
    assert (night.status, night.summary["files"], night.summary["finished"]) == (0, 0, True)


# --- wrong usage ---------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("wrong", ["missing", "a file", "out is a file", "out is the folder", "no such rules"])
def test_wrong_usage_is_one_line(folder, out, tmp_path, wrong):
    art = small_pdf(folder / "a.pdf")
    (tmp_path / "link").symlink_to(folder)
    asked, word = {
        "missing": ([tmp_path / "nowhere", out], "nowhere"),
        "a file": ([art, out], "a.pdf"),
        "out is a file": ([folder, art], "a.pdf"),
        "out is the folder": ([folder, tmp_path / "link"], "link"),
        "no such rules": ([folder, out, "--rules", "sheetfed-coted"], "sheetfed-coated"),
    }[wrong]
    night = batch(*asked)
    assert night.status == 2
    assert night.stdout == ""
    assert len(night.stderr.splitlines()) == 1
    assert word in night.stderr


# --- the folder itself -----------------------------------------------------------------------------------------------------------


def test_output_inside_input_and_links_in_circles(folder):
    small_pdf(folder / "a.pdf")
    (folder / "up").symlink_to(folder)
    out = folder / "night"
    assert batch(folder, out).summary["files"] == 1
    (out / "copy.pdf").write_bytes((folder / "a.pdf").read_bytes())
    assert batch(folder, out).summary["files"] == 1


def test_what_is_no_ordinary_file(folder, out):
    """Pipes, sockets and devices would be waited for without end; a link that leads nowhere was meant to be artwork."""
    small_pdf(folder / "a.pdf")
    os.mkfifo(folder / "pipe.pdf")
    os.mkfifo(folder / "pipe")
    (folder / "zero.pdf").symlink_to("/dev/zero")
    with socket.socket(socket.AF_UNIX) as listening:
        # A socket's name must be short.
        listening.bind(f"/proc/self/fd/{os.open(folder, os.O_RDONLY)}/listens.pdf")
        night = batch(folder, out)
        assert (night.status, verdicts(night)) == (0, {"a.pdf": "go"})
    (folder / "gone.pdf").symlink_to("nowhere.pdf")
    (folder / "round.pdf").symlink_to("round.pdf")
    (folder / "gone").symlink_to("nowhere")  # claims nothing
    night = batch(folder, out)
    assert (night.status, verdicts(night)) == (30, {"a.pdf": "go"})
    assert sorted(night.summary["complaints"]) == [
        "gone.pdf was not looked into: a link that leads nowhere",
        "round.pdf was not looked into: a link that leads nowhere",
    ]


def test_file_that_claims_more_than_can_be_read(folder, out):
    """Empty space of 100 GB takes minutes to be read for its content: the time limit holds there too, and nobody waits."""
    small_pdf(folder / "a.pdf")
    with (folder / "sparse.pdf").open("wb") as sparse:
        try:
            sparse.truncate(100 * 2**30)
        except OSError as fault:
            pytest.skip(f"this file system takes no such file: {fault}")
    started_at = time.monotonic()
    night = batch(folder, out, "--time-limit", "8")
    assert time.monotonic() - started_at < 60
    assert (night.status, verdicts(night)) == (30, {"a.pdf": "go", "sparse.pdf": "unchecked"})
    assert "time limit of 8 s" in night.by_name["sparse.pdf"]["unchecked"][0]


def test_names_of_all_kinds(folder, out):
    names = [
        "new\nline.pdf",
        "\U0001f338 leaf.pdf",
        "x" * 246 + ".pdf",  # 250 bytes
        "Case.pdf",
        "case.PDF",
        os.fsdecode(b"caf\xe9.pdf"),  # no UTF-8
        "\x1b[31mred.pdf",
        "-rf.pdf",
        "\u202egnp.pdf",
        " .pdf",
    ]
    for number, name in enumerate(names):
        small_pdf(folder / f"tmp{number}.pdf", number)
        (folder / f"tmp{number}.pdf").rename(folder / name)
    # The narrow alphabet that a clock may start a run with.
    night = batch(folder, out, env=os.environ | {"PYTHONIOENCODING": "latin-1"})
    assert night.status == 0
    assert verdicts(night) == dict.fromkeys(names, "go")
    assert len({result["report"] for result in night.summary["results"]}) == len(names)
    assert all((out / result["report"] / "report.json").is_file() for result in night.summary["results"])
    assert len(night.stdout.splitlines()) == len(names) + 1
    assert "\x1b" not in night.stdout
    assert batch(folder, out).summary["taken_from_earlier_runs"] == len(names)


def test_no_permission():
    parent = Path(tempfile.mkdtemp(prefix="preflight-test-"))  # one that others may enter, unlike this user's tmp_path
    try:
        parent.chmod(0o755)
        folder, out = parent / "in", parent / "out"
        small_pdf(folder / "open.pdf", 1)
        small_pdf(folder / "closed.pdf", 2).chmod(0)
        small_pdf(folder / "room" / "inside.pdf", 3)
        (folder / "room").chmod(0)
        out.mkdir()
        out.chmod(0o777)
        night = batch(folder, out, rights=without_rights())
        assert night.status == 30
        assert verdicts(night) == {"open.pdf": "go", "closed.pdf": "unchecked"}
        assert "ermission" in night.by_name["closed.pdf"]["unchecked"][0]
        closed = "room was not looked into: Permission denied"
        assert closed in night.stderr
        assert night.summary["complaints"] == [closed]
        assert closed in (out / "summary.html").read_text()

        (parent / "shut").mkdir(mode=0o555)
        refused = batch(folder, parent / "shut" / "out", rights=without_rights())
        assert refused.status == 30
        assert len(refused.stderr.splitlines()) == 1
    finally:
        (parent / "in" / "room").chmod(0o700)
        shutil.rmtree(parent)


# --- limits and deaths ------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("limit", "word"), [(("--memory-limit", "1"), "memory"), (("--time-limit", "0.01"), "time limit of 0.01 s")]
)
def test_limit_gives_unchecked_and_more_of_it_an_answer(folder, out, limit, word):
    small_pdf(folder / "a.pdf")
    night = batch(folder, out, *limit)
    assert night.status == 30
    assert word in night.by_name["a.pdf"]["unchecked"][0]
    assert night.summary["piles"] == {"go": 0, "call": 0, "look": 1}
    assert batch(folder, out, *limit).summary["taken_from_earlier_runs"] == 1
    better = batch(folder, out)
    assert (better.status, better.summary["taken_from_earlier_runs"]) == (0, 0)


def test_worker_killed_costs_the_page_in_hand(folder, out):
    art = slow_pdf(folder / "long.pdf")
    small_pdf(folder / "short.pdf")
    with started("batch", folder, "--out", out) as run:
        wait_until(lambda: worker_on(run.pid, art), "a worker with the file open")
        time.sleep(0.5)
        os.kill(worker_on(run.pid, art), signal.SIGKILL)
        night = ended(run, out)
    assert night.status == 30
    assert verdicts(night) == {"long.pdf": "unchecked", "short.pdf": "go"}
    unchecked = night.by_name["long.pdf"]["unchecked"]
    assert len(unchecked) == 1
    assert "signal SIGKILL" in unchecked[0]
    # Somebody killed it: no fault of the file, and no answer to keep.
    again = batch(folder, out)
    assert (again.status, again.summary["taken_from_earlier_runs"]) == (0, 1)


def test_server_of_child_processes_killed(folder, out):
    """It costs the pages in hand; a new one is started for the rest."""
    long = slow_pdf(folder / "long.pdf")
    later = small_pdf(folder / "later.pdf", 3, pages=LONG_PAGES)
    assert long.stat().st_size < later.stat().st_size  # small files come first
    with started("batch", folder, "--out", out, "--jobs", "1") as run:
        wait_until(lambda: worker_on(run.pid, long), "the first file in hand")
        time.sleep(0.5)
        worker = worker_on(run.pid, long)
        os.kill(next(server for server in children_of(run.pid) if worker in children_of(server)), signal.SIGKILL)
        night = ended(run, out)
    assert night.status == 30
    assert verdicts(night) == {"long.pdf": "unchecked", later.name: "go"}
    assert "server of child processes ended" in night.by_name["long.pdf"]["unchecked"][0]
    assert verdicts(batch(folder, out)) == {"long.pdf": "go", later.name: "go"}


@pytest.fixture
def short_folder():
    """A socket's name may not be as long as those of the usual temporary folders of tests."""
    with tempfile.TemporaryDirectory(prefix="pf-", dir="/tmp") as name:
        yield Path(name)


def test_killed_run_leaves_nothing_that_stays(folder, out, short_folder):
    """Pictures, half reports and the sockets' folder: the next run clears away what nobody uses any more."""
    temporary = short_folder
    environment = os.environ | {"TMPDIR": str(temporary)}
    long = long_pdf(folder / "long.pdf")
    with started("batch", folder, "--out", out, env=environment) as run:
        wait_until(lambda: worker_on(run.pid, long), "the file in hand")
        run.kill()
        run.wait()
    left = list(temporary.iterdir())
    assert left
    for path in temporary.glob("*/.in-use"):
        os.utime(path, (1e9, 1e9))  # long ago: a run that has just begun is not mistaken for one that was killed
    (out / "reports" / "0").mkdir(parents=True)
    (out / "reports" / "0" / ".long-0.part").mkdir()
    assert batch(folder, out, env=environment).status == 0
    assert not list(temporary.iterdir())
    assert not [path for path in out.rglob(".*") if path.name != ".preflight-run"]


def test_run_killed_and_resumed(folder, out, tmp_path):
    """What a run killed with SIGKILL had done is kept, nothing is done twice, and the answers are those of a run in one go."""
    arts = [small_pdf(folder / f"{number}.pdf", number) for number in range(6)]
    long = long_pdf(folder / "long.pdf")
    with started("batch", folder, "--out", out, "--jobs", "1") as run:
        wait_until(lambda: worker_on(run.pid, long), "the last file in hand")
        workers = workers_of(run.pid)
        run.kill()
        run.wait()
        wait_until(lambda: not any(has_open(worker, long) for worker in workers), "the orphans' end")
    killed = summary_in(out)
    assert killed["finished"] is False
    assert killed["done"] < killed["files"] == 7
    assert killed["verdict"] == "unchecked"
    assert "not finished" in (out / "summary.html").read_text()
    kept = {path: path.stat().st_mtime_ns for path in (out / "results").glob("*.json")}
    assert len(kept) == len(arts)

    resumed = batch(folder, out)
    assert resumed.status == 0
    assert resumed.summary["taken_from_earlier_runs"] == len(arts)
    assert {path: path.stat().st_mtime_ns for path in kept} == kept
    whole = batch(folder, tmp_path / "in one go")
    assert answers(resumed) == answers(whole)
    assert not list(out.rglob("*.part"))
    assert not (out / ".scratch").exists()


def answers(night):
    changing = ("seconds",)
    return [{key: value for key, value in one.items() if key not in changing} for one in night.summary["results"]]


@pytest.mark.parametrize(
    ("number", "whole_group"), [(signal.SIGINT, True), (signal.SIGTERM, False), (signal.SIGHUP, True)]
)
def test_stopped_in_good_order(folder, out, number, whole_group):
    """Ctrl-C, and a terminal that goes, reach every process of the terminal; SIGTERM the run alone."""
    small_pdf(folder / "short.pdf")
    long = long_pdf(folder / "long.pdf")
    with started("batch", folder, "--out", out, "--jobs", "1") as run:
        wait_until(lambda: worker_on(run.pid, long), "the long file in hand")
        worker = worker_on(run.pid, long)
        os.killpg(run.pid, number) if whole_group else run.send_signal(number)
        night = ended(run, out)
        assert not has_open(worker, long)
    assert night.status == 130
    assert (night.summary["finished"], night.summary["files"], night.summary["done"]) == (False, 2, 1)
    assert verdicts(night) == {"short.pdf": "go"}
    assert not (out / ".scratch").exists()
    assert batch(folder, out).summary["verdicts"] == {"go": 2}


def test_second_run_on_a_folder_in_use_is_refused(folder, out):
    from preflight.batch.ledger import Ledger

    small_pdf(folder / "small.pdf", 1)
    with Ledger(out).held():  # as a run in another process holds it
        second = batch(folder, out)
    assert second.status == 2
    assert len(second.stderr.splitlines()) == 1
    assert "another run is using this folder" in second.stderr


def test_file_replaced_while_being_read(folder, out):
    """The answer would be about bytes that are no longer there: the new file gets one of its own at the next run."""
    first, last, _ = waiting_its_turn(folder)
    with started("batch", folder, "--out", out, "--jobs", "1") as run:
        wait_until(lambda: worker_on(run.pid, first), "the file before it in hand")
        new = small_pdf(folder / "new", 99)
        new.replace(last)
        night = ended(run, out)
    assert night.status == 30
    assert night.by_name["last.pdf"]["unchecked"] == ["the file was replaced or taken away while it was being read"]
    # Its twin is still what it was, and has its own answer.
    assert (night.by_name["twin.pdf"]["verdict"], night.by_name["twin.pdf"]["same_as"]) == ("go", None)
    assert verdicts(night) == {"first.pdf": "go", "last.pdf": "unchecked", "twin.pdf": "go"}
    again = batch(folder, out)
    assert again.status == 0
    assert again.summary["taken_from_earlier_runs"] == 2


def waiting_its_turn(folder):
    """A long file, and one that is read for its content while the long one is checked, and its twin."""
    first = long_pdf(folder / "first.pdf")
    last = small_pdf(folder / "last.pdf", 8, pages=LONG_PAGES + 5)
    return first, last, Path(shutil.copy(last, folder / "twin.pdf"))


def test_file_gone_before_its_turn(folder, out):
    first, last, twin = waiting_its_turn(folder)
    content = last.read_bytes()
    twin.unlink()
    with started("batch", folder, "--out", out, "--jobs", "1") as run:
        wait_until(lambda: worker_on(run.pid, first), "the file before it in hand")
        last.unlink()
        night = ended(run, out)
    assert night.status == 30
    assert verdicts(night) == {"first.pdf": "go", "last.pdf": "unchecked"}
    # That it was away is not kept as an answer about its content.
    last.write_bytes(content)
    assert verdicts(batch(folder, out)) == {"first.pdf": "go", "last.pdf": "go"}


# --- disks ------------------------------------------------------------------------------------------------------------------------


@pytest.fixture
def small_disk(tmp_path):
    """A file system of 700 kB."""
    disk = tmp_path / "disk"
    disk.mkdir()
    mounting = ["mount", "-t", "tmpfs", "-o", "size=700k", "tmpfs", str(disk)]
    try:
        mounted = subprocess.run(mounting, capture_output=True, text=True, check=False)
    except FileNotFoundError:
        pytest.skip("there is no mount program here to make a small disk with")
    if mounted.returncode != 0:
        pytest.skip(f"a small disk cannot be mounted here: {mounted.stderr.strip()}")
    yield disk
    subprocess.run(["umount", "-l", str(disk)], check=True)


def test_disk_full(folder, small_disk):
    for number in range(25):
        small_pdf(folder / f"{number:02}.pdf", number)
    out = small_disk / "out"
    command_said = batch(folder, out)
    assert command_said.status == 30
    # Every file was gone through, with a line each, and the disk did not take them all.
    lines = [line for line in command_said.stdout.splitlines() if ".pdf" in line]
    assert len(lines) == 25
    assert "could not be" in command_said.stdout or "no room" in command_said.stdout
    for path in [*out.rglob("report.json"), *(out / "results").glob("*.json")]:
        json.loads(path.read_text())  # whole, or not there
    assert not list(out.rglob("*.part"))

    subprocess.run(["mount", "-o", "remount,size=50m", str(small_disk)], check=True)
    with_room = batch(folder, out)
    assert with_room.status == 0
    assert with_room.summary["verdicts"] == {"go": 25}


def test_log_on_a_full_disk_ends_no_run(folder, out):
    small_pdf(folder / "a.pdf", 1)
    small_pdf(folder / "b.pdf", 2)
    with Path("/dev/full").open("wb") as full, started("batch", folder, "--out", out) as run:
        run.terminate()
        run.communicate()
        command = [*run.args]
        status = subprocess.run(command, stdout=full, stderr=full, check=False, timeout=90).returncode
    assert status == 0
    assert summary_in(out)["verdicts"] == {"go": 2}


# --- the summary --------------------------------------------------------------------------------------------------------------------


def test_cells_that_a_spreadsheet_would_run_are_harmless(folder, out):
    names = [
        "=cmd|' C calc'!A0.pdf",
        "+1.pdf",
        "-1.pdf",
        "@SUM(A1).pdf",
        "\t=1.pdf",
        "\r=1.pdf",
        'a","=1.pdf',
        "plain.pdf",
    ]
    for number, name in enumerate(names):
        small_pdf(folder / f"tmp{number}.pdf", number)
        (folder / f"tmp{number}.pdf").rename(folder / name)
    batch(folder, out)
    rows = list(csv.DictReader(io.StringIO((out / "summary.csv").read_bytes().decode(), newline="")))
    assert {row["file"].removeprefix("'") for row in rows} == set(names)
    assert not [cell for row in rows for cell in row.values() if re.match(r"[=+\-@\t\r]", cell)]
    assert "plain.pdf" in {row["file"] for row in rows}
    assert {row["pile"] for row in rows} == {"go"}


def test_page_is_self_contained_and_escaped(folder, out):
    # A file name cannot hold a slash, so the closing half of a tag comes in the path.
    (folder / "<script>alert(1)<").mkdir()
    small_pdf(folder / "a.pdf")
    (folder / "a.pdf").rename(folder / "<script>alert(1)<" / 'script>" onload="x.pdf')
    (folder / "<img src=x onerror=y>.pdf").write_bytes(b"not artwork")
    night = batch(folder, out)
    page = (out / "summary.html").read_text()
    assert "<script" not in page
    assert "<img" not in page
    assert "&lt;script&gt;alert(1)&lt;/script&gt;" in page
    assert 'onload="x' not in page
    assert not re.findall(
        r"""(?:src|href)\s*=\s*["']?\s*(?:https?:|//|javascript:)|url\(\s*["']?(?!data:)|@import""", page
    )
    links = re.findall(r'<a href="([^"]+)"', page)
    assert len(links) == 2
    for link in links:
        assert (out / link).is_file()
    for word in ("Call the customer", "Look yourself", night.summary["rules"]["name"], "Most frequent faults"):
        assert word in page
