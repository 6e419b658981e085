"""The same work on a scheduler with two real worker processes of this machine: complete, once, whatever dies."""

from __future__ import annotations

import json
import os
import re
import signal
import subprocess
import sys

import pytest
from night import LONG_PAGES, batch, ended, has_open, long_pdf, small_pdf, started, wait_until, workers_of

pytest.importorskip("distributed", reason="the extra [cluster] is not installed")

FILES = 10


class Cluster:
    """A scheduler and workers, each a process of its own."""

    def __init__(self, folder):
        self.folder = folder
        folder.mkdir()
        self.processes = []
        self.log = folder / "scheduler.log"
        self._start("dask_scheduler", "--host", "127.0.0.1", "--port", "0", "--no-dashboard", log=self.log)
        wait_until(self._address, "the scheduler's address")
        self.address = self._address()
        self.workers = [self.worker() for _ in range(2)]
        wait_until(lambda: self.log.read_text().count("Register worker") >= 2, "two workers")

    def _address(self):
        found = re.search(r"tcp://127\.0\.0\.1:\d+", self.log.read_text())
        return found and found.group()

    def worker(self):
        options = ["--no-nanny", "--nthreads", "1", "--no-dashboard", "--local-directory", str(self.folder)]
        return self._start("dask_worker", self.address, *options, log=self.folder / f"{len(self.processes)}.log")

    def _start(self, program, *options, log):
        command = [sys.executable, "-m", f"distributed.cli.{program}", *options]
        environment = os.environ | {"DASK_DISTRIBUTED__WORKER__DAEMON": "False"}
        with log.open("wb") as said:
            process = subprocess.Popen(command, stdout=said, stderr=said, env=environment, cwd=self.folder)
        self.processes.append(process)
        return process

    def close(self):
        for process in reversed(self.processes):
            process.kill()
            process.wait()


@pytest.fixture(scope="module")
def cluster(tmp_path_factory):
    cluster = Cluster(tmp_path_factory.mktemp("cluster") / "dask")
    yield cluster
    cluster.close()


@pytest.fixture
def folder(tmp_path):
    folder = tmp_path / "in"
    for number in range(FILES):
        small_pdf(folder / f"{number}.pdf", number)
    return folder


def answers(night):
    return [{key: value for key, value in one.items() if key != "seconds"} for one in night.summary["results"]]


def on_file(worker, path):
    return any(has_open(child, path) for child in workers_of(worker.pid))


def test_same_answers_as_this_machine_alone(cluster, folder, tmp_path):
    (folder / "flyer.pdf").write_bytes(b"not artwork")
    there = batch(folder, tmp_path / "there", "--cluster", cluster.address)
    here = batch(folder, tmp_path / "here")
    assert (there.status, here.status) == (20, 20)
    assert answers(there) == answers(here)
    for result in there.summary["results"]:
        ours, theirs = (
            json.loads((out / result["report"] / "report.json").read_text()) | {"made_at": "", "seconds": 0}
            for out in (tmp_path / "here", tmp_path / "there")
        )
        assert ours == theirs
    again = batch(folder, tmp_path / "there", "--cluster", cluster.address)
    assert again.summary["taken_from_earlier_runs"] == FILES + 1


def test_worker_that_sees_no_such_path_is_sent_the_content(cluster, tmp_path):
    """The path leads through this run's own /proc/self, where a worker finds nothing."""
    art = small_pdf(tmp_path / "real" / "a.pdf")
    small_pdf(tmp_path / "real" / "b.pdf", 2)
    descriptor = os.open(art.parent, os.O_RDONLY)
    try:
        night = batch(
            f"/proc/self/fd/{descriptor}", tmp_path / "out", "--cluster", cluster.address, pass_fds=[descriptor]
        )
    finally:
        os.close(descriptor)
    assert night.status == 0
    assert night.summary["verdicts"] == {"go": 2}


def test_dead_worker_costs_a_second_try(cluster, folder, tmp_path):
    out = tmp_path / "out"
    long = long_pdf(folder / "long.pdf")
    with started("batch", folder, "--out", out, "--cluster", cluster.address) as run:
        wait_until(lambda: any(on_file(worker, long) for worker in cluster.workers), "a worker on the long file")
        victim = next(worker for worker in cluster.workers if on_file(worker, long))
        victim.send_signal(signal.SIGKILL)
        victim.wait()
        night = ended(run, out)
        cluster.workers.remove(victim)
        cluster.workers.append(cluster.worker())
    assert night.status == 0
    assert night.summary["verdicts"] == {"go": FILES + 1}
    assert night.by_name["long.pdf"]["pages"] == LONG_PAGES
    assert len(list(out.rglob("report.json"))) == FILES + 1
    assert len(list((out / "results").glob("*.json"))) == FILES + 1


def test_file_whose_workers_died_twice_is_unchecked(cluster, tmp_path):
    out = tmp_path / "out"
    long = long_pdf(tmp_path / "in" / "long.pdf")
    with started("batch", tmp_path / "in", "--out", out, "--cluster", cluster.address) as run:
        for _ in range(2):
            wait_until(lambda: any(on_file(worker, long) for worker in cluster.workers), "a worker on the file")
            victim = next(worker for worker in cluster.workers if on_file(worker, long))
            cluster.workers[cluster.workers.index(victim)] = cluster.worker()
            victim.kill()
            victim.wait()
        night = ended(run, out)
    assert night.status == 30
    assert night.by_name["long.pdf"]["unchecked"] == ["2 workers died over it"]


def test_no_scheduler_is_wrong_usage(folder, tmp_path):
    night = batch(folder, tmp_path / "out", "--cluster", "no-such-kind://127.0.0.1:1")
    assert night.status == 2
    assert len(night.stderr.splitlines()) == 1
    assert "no scheduler answers there" in night.stderr
