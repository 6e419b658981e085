"""The benchmark itself works, on a file of two pages; it judges no times."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from bench import bench
from bench.brochure import make_brochure, make_text_book
from bench.large_pictures import make_large_pictures
from bench.processor_time import measured
from PIL import Image

BENCH = Path(__file__).parent / "bench"
PROGRAMS = [command[0] for command in bench.PROGRAMS]


def test_bare_loop_renders_four_plates_of_every_page(tmp_path):
    file = make_brochure(tmp_path / "brochure.pdf", pages=2, ppi=40.0)
    said = subprocess.run(
        [sys.executable, BENCH / "bare_loop.py", file], capture_output=True, text=True, check=True, timeout=60
    ).stdout
    # 230 x 317 mm with its margins at 6 pixels a millimetre, four inks, two pages; a pixel more or less for rounding.
    assert int(said) == pytest.approx(2 * 4 * 1380 * 1902, rel=0.002)


def test_measures_the_command_against_the_bare_loop(tmp_path):
    lines = list(
        bench.run_bench(["brochure", "checks", "html", "memory", "help"], runs=1, pages=2, ppi=40.0, folder=tmp_path)
    )
    printed = "\n".join(bench.as_text(line) for line in lines)
    assert "check / bare loop, one core" in printed
    assert all(line.median > 0 for line in lines if isinstance(line, bench.Line))
    memory = next(line for line in lines if isinstance(line, bench.Line) and line.unit == "MB")
    assert memory.median > 40  # the engines alone take more


def test_measures_large_pictures_in_time_and_memory(tmp_path):
    lines = list(bench.run_bench(["large"], runs=1, pages=2, ppi=300.0, folder=tmp_path))
    said = [bench.as_text(line) for line in lines if isinstance(line, bench.Ratio)]
    for kind in ("gray TIFF", "RGB JPEG", "CMYK TIFF", "CMYK JPEG", "RGB PNG"):
        assert sum(kind in line for line in said) == 3
    assert [line.endswith("under 3") for line in said].count(True) == 5
    assert [line.endswith("under 600") for line in said].count(True) == 5
    assert all(line.median > 0 for line in lines if isinstance(line, bench.Line))
    assert all(line.median > 40 for line in lines if isinstance(line, bench.Line) and line.unit == "MB")


def test_large_pictures_are_as_promised(tmp_path):
    """The five kinds of file, with their resolution and detail down to the pixel; made once."""
    made = make_large_pictures(tmp_path, (400, 560))
    kinds = {}
    for name, path in made.items():
        with Image.open(path) as image:
            kinds[name] = f"{image.mode} {image.format}"
            assert image.size == (400, 560)
            assert image.info["dpi"] == pytest.approx((300.0, 300.0), abs=0.1)
            first = np.asarray(image, dtype=float).reshape(560, 400, -1)[..., 0]
            assert np.abs(np.diff(first, axis=1)).mean() > 2.0
    assert kinds == {
        "gray TIFF": "L TIFF", "RGB JPEG": "RGB JPEG", "CMYK TIFF": "CMYK TIFF", "CMYK JPEG": "CMYK JPEG", "RGB PNG": "RGB PNG",
    }  # fmt: skip
    before = {path: path.stat().st_mtime_ns for path in made.values()}
    assert make_large_pictures(tmp_path, (400, 560)) == made
    assert {path: path.stat().st_mtime_ns for path in made.values()} == before


def test_a_bare_picture_is_unpacked_wholly(tmp_path):
    file = make_large_pictures(tmp_path, (300, 420))["RGB JPEG"]
    said = subprocess.run(
        [sys.executable, BENCH / "bare_picture.py", file], capture_output=True, text=True, check=True, timeout=60
    ).stdout
    assert int(said) == 300 * 420


@pytest.mark.skipif(
    any(shutil.which(name) is None for name in PROGRAMS) and os.environ.get("CI") != "true",
    reason="gs, poppler-utils or qpdf not installed",
)
def test_measures_against_other_programs(tmp_path):
    lines = bench.run_bench(["programs"], runs=1, pages=2, ppi=40.0, folder=tmp_path)
    assert [line.what for line in lines if isinstance(line, bench.Ratio)] == ["the other programs / check, one core"]


def test_brochure_is_as_promised(tmp_path):
    """Full pages and bleed at 300 ppi on every second page, about 3,000 letters on a text page."""
    import pikepdf
    import pymupdf

    with pikepdf.open(make_brochure(tmp_path / "one.pdf", pages=2, ppi=300.0)) as pdf:
        picture = next(iter(pdf.pages[0].get_images().values()))
        # (210 + 6) / 25.4 x 300 and (297 + 6) / 25.4 x 300
        assert (picture.Width, picture.Height) == (2551, 3579)
        assert picture.Filter == "/DCTDecode"
        assert picture.ColorSpace == "/DeviceCMYK"
    with pymupdf.open(make_text_book(tmp_path / "text.pdf", 3)) as book:
        assert book.page_count == 3
        assert 2500 < len(book[1].get_text()) < 5000


def test_measuring_waits_for_no_process_but_those_of_the_command(tmp_path):
    """A process of somebody else's that goes on for long, as a fork server of the tests does."""
    other = subprocess.Popen([sys.executable, "-c", "import time; time.sleep(120)"])
    left = tmp_path / "left.py"
    left.write_text(
        "import os, time\nif os.fork() == 0:\n    end = time.process_time() + 0.5\n    while time.process_time() < end: pass\n"
    )
    try:
        with measured([sys.executable, str(left)], stdout=subprocess.DEVNULL) as (process, used):
            pass
        assert process.returncode == 0
        assert used.cpu_s >= 0.5  # what the command left behind, which it did not wait for itself
        assert other.poll() is None
    finally:
        other.kill()
        other.wait()
