"""Makes the demo scene, checks every file of it, writes the reports, and says where to look."""

from __future__ import annotations

import importlib.util
import sys
from pathlib import Path
from types import ModuleType
from typing import Any

import click

from preflight.data import data_folder
from preflight.isolate import Limits, check_file, granted_cores, warm_up
from preflight.report.files import write_reports
from preflight.report.words import plain
from preflight.rules import settle


def run_demo(folder: Path) -> None:
    """Artwork goes to ``folder/artwork``, reports to ``folder/reports``; one line a file says what was found."""
    warm_up()
    scene = _maker().make_scene(folder / "artwork")
    click.echo(f"Fernhollow Botanic Garden sent {len(scene)} files to Tidewheel Press:\n")
    for item in scene:
        _check_one(item, folder)
    click.echo(f"\nArtwork and tickets: {folder / 'artwork'}")
    click.echo(f"Reports: {folder / 'reports'} (open any report.html in a browser)")


def _check_one(item: Any, folder: Path) -> None:
    import tempfile

    with tempfile.TemporaryDirectory(prefix="preflight-") as scratch:
        job = settle(item.rules, item.ticket)
        pictures = Path(scratch)
        report = check_file(item.path, job, limits=Limits(cores=granted_cores()), pictures=pictures)
        written = write_reports(report, folder / "reports", pictures, item.path)
    worst = ", ".join(
        dict.fromkeys(finding.id for finding in report.findings if finding.severity.value == report.verdict.value)
    )
    click.echo(f"  {report.verdict.value:9} {plain(item.path.name):28} {worst}")
    click.echo(f"            {plain(item.story)}")
    click.echo(f"            {written / 'report.html'}")


def _maker() -> ModuleType:
    """The scene's code, which lies beside the rules as package data and in the checkout's ``demo_files``."""
    path = data_folder("demo_files") / "make.py"
    spec = importlib.util.spec_from_file_location("demo_files_make", path)
    if spec is None or spec.loader is None:  # the folder is part of every install
        raise FileNotFoundError(path)
    sys.path.insert(0, str(path.parent))
    try:
        module = importlib.util.module_from_spec(spec)
        sys.modules[spec.name] = module
        spec.loader.exec_module(module)
    finally:
        sys.path.remove(str(path.parent))
    return module
