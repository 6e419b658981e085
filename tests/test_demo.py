"""The demo scene: the same bytes each time, what is good passes, and what is faulty is found.

What each file has wrong with it is known because it was drawn so; other programs say the same where they can.
"""

from __future__ import annotations

import hashlib
import json
import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from demo_files.make import make_scene
from preflight.checking import all_checks
from preflight.findings import Report, Severity, Verdict
from preflight.isolate import Limits, check_file, granted_cores
from preflight.rules import settle

MOST_BYTES = 6_000_000
NAMES = (
    "spring-guide.pdf",
    "poster-night-walk.pdf",
    "poster-open-day.pdf",
    "flyer-plant-sale.pdf",
    "leaflet-moss.pdf",
    "plant-label.pdf",
    "tool-tag.pdf",
    "bookmark.pdf",
    "member-card.pdf",
    "shop-sign.pdf",
    "newsletter-15-pages.pdf",
    "tea-menu-spreads.pdf",
    "card-lantern-night.pdf",
    "postcard.pdf",
    "seed-packet.pdf",
    "order-form.pdf",
    "garden-plan-scan.tif",
    "phone-picture.jpg",
    "price-list-locked.pdf",
    "programme-half-sent.pdf",
)
GOOD = ("spring-guide.pdf", "poster-night-walk.pdf")


@pytest.fixture(scope="module")
def scene(tmp_path_factory):
    return {item.path.name: item for item in make_scene(tmp_path_factory.mktemp("scene"))}


@pytest.fixture(scope="module")
def report_of(scene):
    """Reports by file name, each made once."""
    made: dict[str, Report] = {}

    def report(name: str) -> Report:
        if name not in made:
            item = scene[name]
            made[name] = check_file(item.path, settle(item.rules, item.ticket), limits=Limits(cores=granted_cores()))
        return made[name]

    return report


def _program(name: str) -> str:
    if shutil.which(name) is None and os.environ.get("CI") != "true":
        pytest.skip(f"{name} is not installed")
    return name


def test_scene_holds_what_is_promised(scene):
    assert tuple(scene) == NAMES
    assert all(item.ticket is not None and item.ticket.is_file() and item.story for item in scene.values())
    assert tuple(name for name, item in scene.items() if not item.expects) == GOOD
    assert sum(path.stat().st_size for path in scene[NAMES[0]].path.parent.iterdir()) < MOST_BYTES


def test_same_bytes_from_another_process(scene, tmp_path):
    maker = Path(__file__).parents[1] / "demo_files" / "make.py"
    subprocess.run([sys.executable, maker, tmp_path / "again"], check=True, capture_output=True, timeout=120)
    for item in scene.values():
        for path in (item.path, item.ticket):
            again = tmp_path / "again" / path.name
            assert hashlib.sha256(path.read_bytes()).hexdigest() == hashlib.sha256(again.read_bytes()).hexdigest()


@pytest.mark.parametrize("name", GOOD)
def test_good_file_goes_straight_to_plates(report_of, name):
    report = report_of(name)
    above = [
        (finding.id, finding.page, finding.message) for finding in report.findings if finding.severity != Severity.NOTE
    ]
    assert above == []
    assert report.unchecked == []
    assert report.verdict is Verdict.GO


@pytest.mark.parametrize("name", [name for name in NAMES if name not in GOOD])
def test_fault_is_found(scene, report_of, name):
    """Ids of checks that are not written yet are left out; at least one of each file has its check."""
    item, report = scene[name], report_of(name)
    asked = {identifier for identifier in item.expects if identifier.partition(".")[0] in all_checks()}
    if not asked:
        pytest.skip(f"no check yet for {', '.join(item.expects)}")
    assert asked <= {finding.id for finding in report.findings}
    assert report.verdict is not Verdict.GO


def test_guide_as_other_programs_see_it(scene):
    """Sixteen A5 pages with 3 mm bleed, pictures of 300 ppi in four inks, all fonts embedded."""
    path = str(scene["spring-guide.pdf"].path)
    info = subprocess.run(
        [_program("pdfinfo"), "-box", "-l", "16", path], capture_output=True, text=True, check=True
    ).stdout.splitlines()
    assert [line.split()[1] for line in info if line.startswith("Pages:")] == ["16"]
    for box, width, height in (("TrimBox", 148.0, 210.0), ("BleedBox", 154.0, 216.0)):
        corners = [[float(edge) for edge in line.split()[-4:]] for line in info if box in line]
        assert len(corners) == 16
        for x0, y0, x1, y1 in corners:
            assert (x1 - x0) * 25.4 / 72 == pytest.approx(width, abs=0.02)
            assert (y1 - y0) * 25.4 / 72 == pytest.approx(height, abs=0.02)
    pictures = subprocess.run([_program("pdfimages"), "-list", path], capture_output=True, text=True, check=True).stdout
    rows = [line.split() for line in pictures.splitlines()[2:]]
    assert len(rows) == 5
    assert {(row[5], row[12], row[13]) for row in rows} == {("cmyk", "300", "300")}
    fonts = subprocess.run([_program("pdffonts"), path], capture_output=True, text=True, check=True).stdout
    assert {line.split()[-5] for line in fonts.splitlines()[2:]} == {"yes"}


def test_faults_as_other_programs_see_them(scene):
    leaflet = [_program("pdffonts"), scene["leaflet-moss.pdf"].path]
    fonts = subprocess.run(leaflet, capture_output=True, text=True, check=True).stdout
    assert {line.split()[-5] for line in fonts.splitlines()[2:]} == {"no"}
    poster = [_program("pdfimages"), "-list", scene["poster-open-day.pdf"].path]
    rows = subprocess.run(poster, capture_output=True, text=True, check=True).stdout.splitlines()[2:]
    assert [row.split()[12] for row in rows] == ["72"]
    locked = [_program("qpdf"), "--requires-password", scene["price-list-locked.pdf"].path]
    assert subprocess.run(locked, check=False).returncode == 0  # qpdf: 0 means that it needs one
    half = [_program("qpdf"), "--check", scene["programme-half-sent.pdf"].path]
    assert subprocess.run(half, capture_output=True, check=False).returncode in (2, 3)  # errors, or repaired


@pytest.mark.parametrize("name", ["spring-guide.pdf", "seed-packet.pdf", "garden-plan-scan.tif", "phone-picture.jpg"])
def test_the_parent_of_a_check_loads_no_array_library(scene, name):
    """What children tell is plain: one number of an array among it would load the library that made it (40 ms)."""
    item = scene[name]
    code = (
        "import sys; from click.testing import CliRunner; from preflight.cli import main\n"
        "if __name__ == '__main__':\n"
        "    result = CliRunner().invoke(main, sys.argv[1:]); assert result.exit_code in (0, 10, 20), result.output\n"
        "    print(*sys.modules)"
    )
    command = [
        sys.executable,
        "-c",
        code,
        "check",
        str(item.path),
        "--rules",
        str(item.rules),
        "--ticket",
        str(item.ticket),
    ]
    loaded = subprocess.run(command, capture_output=True, text=True, check=True).stdout.split()
    assert "preflight.isolate" in loaded
    assert not {"numpy", "pymupdf", "pikepdf", "PIL"} & set(loaded)


def test_the_command_leaves_dockets_marked_copies_and_letters(tmp_path):
    out = tmp_path / "demo"
    command = [sys.executable, "-m", "preflight", "demo", "--out", out]
    said = subprocess.run(command, check=True, capture_output=True, text=True, timeout=300).stdout

    folders = {path.name.rpartition("-")[0]: path for path in (out / "reports").iterdir()}
    assert set(folders) == {Path(name).stem for name in NAMES}
    for name, folder in folders.items():
        report = json.loads((folder / "report.json").read_text(encoding="utf-8"))
        assert report["rules"]["name"] == "tidewheel-press"
        assert str(folder / "report.html") in said
        # What goes to plates needs no letter, what could not be opened has no pages to mark.
        assert (folder / "letter-en.eml").is_file() is (report["verdict"] != "go")
        assert (folder / "marked.pdf").is_file() is bool(report["findings"] and report["pages"])
        if report["verdict"] != "go":
            letter = (folder / "letter-en.txt").read_text(encoding="utf-8")
            assert letter.endswith("Kind regards\nTidewheel Press\n"), name
    assert {path.name for path in (out / "artwork").glob("*.toml")} == {
        "tidewheel-press.toml", *(f"{Path(name).stem}.ticket.toml" for name in NAMES),
    }  # fmt: skip
