"""Artwork opened as the tool does, and the outside programs and fonts that tests compare with."""

from __future__ import annotations

import os
import shutil
import subprocess
from pathlib import Path
from typing import Any

import pytest
from artwork import Book
from pymupdf import mupdf
from whole import job_for

from preflight.inventory.boxes import Geometry, read_boxes, settle_geometry
from preflight.inventory.damage import page_damage
from preflight.inventory.opening import Artwork, open_artwork
from preflight.inventory.warnings import take_warnings

DEJAVU = Path("/usr/share/fonts/truetype/dejavu/DejaVuSans.ttf")
TYPE_1 = Path("/usr/share/fonts/type1/urw-base35/NimbusSans-Regular.t1")
OPENTYPE = Path("/usr/share/fonts/opentype/urw-base35/NimbusSans-Regular.otf")
CMYK_PROFILE = Path("/usr/share/color/icc/ghostscript/default_cmyk.icc")
RGB_PROFILE = Path("/usr/share/color/icc/ghostscript/srgb.icc")


def needs(*things: str | Path) -> pytest.MarkDecorator:
    """Skips a test where a program or a file is missing; on the build machine it fails instead."""
    missing = [thing for thing in things if not (thing.exists() if isinstance(thing, Path) else shutil.which(thing))]
    return pytest.mark.skipif(bool(missing) and os.environ.get("CI") != "true", reason=f"needs {missing}")


def output_of(*command: str | Path) -> str:
    """What an outside program prints."""
    return subprocess.run(
        [str(word) for word in command], capture_output=True, text=True, check=False, errors="replace"
    ).stdout


def qpdf_status(path: Path) -> int:
    """``qpdf --check``: 0 clean, 2 errors, 3 warnings."""
    return subprocess.run(["qpdf", "--check", str(path)], capture_output=True, check=False).returncode


def opened(thing: Book | Path | bytes, folder: Path, name: str = "art.pdf", **order: Any) -> Artwork:
    """An open artwork; close it, or use it in a ``with`` statement."""
    path = folder / name if not isinstance(thing, Path) else thing
    if isinstance(thing, Book):
        thing.save(path)
    elif isinstance(thing, bytes):
        path.write_bytes(thing)
    return open_artwork(path, job=job_for(**order))


def geometry_of(artwork: Artwork, number: int = 1) -> Geometry:
    return settle_geometry(read_boxes(artwork, number), artwork.job)


def damage_of(thing: Book | Path | bytes, folder: Path, number: int = 1) -> tuple[str, str]:
    """What is broken on a page and what was mended, after it was drawn; each as one text."""
    with opened(thing, folder) as artwork:
        page = artwork.mupdf_page(number)
        take_warnings()
        mupdf.fz_new_pixmap_from_page(page.super(), mupdf.FzMatrix(), mupdf.fz_device_cmyk(), 0)
        broken, other = page_damage(artwork, number, take_warnings())
    return "; ".join(broken), "; ".join(other)
