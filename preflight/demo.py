"""Makes the demo scene, checks every file of it, writes the reports, and says where to look."""

from __future__ import annotations

import importlib.util
import shutil
import sys
from pathlib import Path
from types import ModuleType
from typing import Any

import click

from preflight.data import data_folder
from preflight.findings import Verdict
from preflight.isolate import Limits, check_file, granted_cores, warm_up
from preflight.marking import mark_in_child
from preflight.report.files import JSON_NAME, MARKED_NAME, PICTURES_NAME, write_reports
from preflight.report.json_report import report_from_json
from preflight.report.letter import letter, write_letter
from preflight.report.words import plain
from preflight.rulefiles import DEFAULT_RULES
from preflight.rules import settle
from preflight.scratch import scratch

SHOP_RULES = "tidewheel-press.toml"


def run_demo(folder: Path) -> None:
    """Artwork goes to ``folder/artwork``, reports to ``folder/reports``; one line a file says what was found."""
    warm_up()
    scene = _maker().make_scene(folder / "artwork")
    # The printer's own rules: the shipped ones of the stock, and what letters and dockets say of the shop.
    shop = folder / "artwork" / SHOP_RULES
    shutil.copyfile(data_folder("demo_files") / SHOP_RULES, shop)
    click.echo(f"Fernhollow Botanic Garden sent {len(scene)} files to Tidewheel Press:\n")
    for item in scene:
        _check_one(item, shop if item.rules == DEFAULT_RULES else item.rules, folder)
    click.echo(f"\nArtwork and tickets: {folder / 'artwork'}")
    click.echo(f"Reports: {folder / 'reports'} (open any report.html in a browser)")
    click.echo(
        "Beside each: the artwork with its faults marked (marked.pdf) and the letter to the customer (letter-en.html, .txt, .eml)"
    )


def _check_one(item: Any, rules: str | Path, folder: Path) -> None:
    limits = Limits(cores=granted_cores())
    with scratch() as pictures:
        job = settle(rules, item.ticket)
        report = check_file(item.path, job, limits=limits, pictures=pictures)
        written = write_reports(report, folder / "reports", pictures, item.path)
    mark_in_child(item.path, report, written / MARKED_NAME, limits, job)
    if report.verdict is not Verdict.GO:
        filed = report_from_json((written / JSON_NAME).read_bytes(), str(written / JSON_NAME))
        write_letter(letter(filed, pictures=written / PICTURES_NAME), written)
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
