"""Plates of artwork made in code: opened by the engine alone, its boxes read here, so that a test of plates leans on nothing else.

``Look`` reads ink at a place given like the artwork itself: millimetres from the trim's lower left corner.
"""

from __future__ import annotations

import os
from dataclasses import dataclass
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pikepdf
import pytest
from artwork import Book
from by_hand import job_of
from pymupdf import mupdf

from preflight.inventory.model import Page, Painted, Plates
from preflight.inventory.plates import measure_plates, render_plates
from preflight.inventory.render import PlatePixels
from preflight.ticket import Job
from preflight.units import Box, PageFrame

GHOSTSCRIPT_CMYK = Path("/usr/share/color/icc/ghostscript/default_cmyk.icc")
GHOSTSCRIPT_RGB = Path("/usr/share/color/icc/ghostscript/srgb.icc")

#: For tests that need real profiles; where they must be there, a test that lacks them fails.
needs_profiles = pytest.mark.skipif(
    not GHOSTSCRIPT_CMYK.exists() and os.environ.get("CI") != "true",
    reason="the profiles of Ghostscript (libgs-common) are not installed",
)


@dataclass(frozen=True)
class Opened:
    """One page, open in the engine, with its geometry."""

    document: Any
    page: Any
    frame: PageFrame
    bleed_mm: tuple[float, float, float, float]

    @property
    def trim_mm(self) -> tuple[float, float]:
        box = self.frame.trim_mm
        return box.width, box.height

    def zone(self, bleed_mm: float = 3.0) -> Box:
        return self.frame.trim_mm.grow(bleed_mm).intersect(self.frame.media_mm)


@dataclass(frozen=True)
class Look:
    """What the plates show."""

    opened: Opened
    pixels: PlatePixels

    def at(self, x_mm: float, y_mm: float) -> dict[str, float]:
        """Ink by plate in percent at a place from the trim's lower left corner, to whole percent; plates without ink left out."""
        x0, y0 = self.pixels.origin_mm
        column = int((x_mm - x0) * self.pixels.pixels_per_mm)
        row = int((self.opened.trim_mm[1] - y_mm - y0) * self.pixels.pixels_per_mm)
        inks = zip(self.pixels.inks, self.pixels.planes, strict=True)
        return {ink: round(plane[row, column] / 2.55) for ink, plane in inks if plane[row, column]}


def opened(path: Path, number: int = 1) -> Opened:
    """Opens a page as the tool does: its crop box is its media box."""
    with pikepdf.open(path) as pdf:
        page = pdf.pages[number - 1].obj

        def box(key: str) -> Box | None:
            return Box.normal([float(value) for value in page[key]]) if key in page else None

        media = box("/MediaBox")
        assert media is not None
        trim = box("/TrimBox") or media
        frame = PageFrame(media, trim, int(page.get("/Rotate", 0)), float(page.get("/UserUnit", 1)))
        offered = frame.box_mm(box("/BleedBox") or media)
    document = mupdf.pdf_open_document(str(path))
    entry = mupdf.pdf_lookup_page_obj(document, number - 1)
    mupdf.pdf_dict_puts(entry, "CropBox", mupdf.pdf_copy_array(mupdf.pdf_dict_gets(entry, "MediaBox")))
    width, height = frame.trim_mm.width, frame.trim_mm.height
    bleed = (-offered.x0, -offered.y0, offered.x1 - width, offered.y1 - height)
    return Opened(document, mupdf.pdf_load_page(document, number - 1), frame, bleed)


def look(book: Book, folder: Path, number: int = 1, **how: Any) -> Look:
    """The plates of a page, bleed and a little more included."""
    it = opened(book.save(folder / f"{len(list(folder.iterdir()))}.pdf"), number)
    region = it.frame.trim_mm.grow(4.0).intersect(it.frame.media_mm)
    return Look(it, render_plates(it.document, it.page, it.frame, region, **how))


def measured(
    book: Book, folder: Path, number: int = 1, job: Job | None = None, painted: tuple[Painted, ...] = ()
) -> tuple[Plates, PlatePixels]:
    """The plates of a page, measured."""
    it = opened(book.save(folder / f"{len(list(folder.iterdir()))}.pdf"), number)
    return measured_page(it, job or job_of(), painted)


def measured_page(it: Opened, job: Job, painted: tuple[Painted, ...] = ()) -> tuple[Plates, PlatePixels]:
    artwork = SimpleNamespace(document=it.document)
    zone = it.zone(job.bleed_mm)
    return measure_plates(artwork, it.page, it.frame, zone, it.trim_mm, it.frame.media_mm, job, painted)


def plated_page(
    book: Book, folder: Path, number: int = 1, job: Job | None = None, painted: tuple[Painted, ...] = ()
) -> Page:
    """A page with its plates, as a check sees it."""
    job = job or job_of()
    it = opened(book.save(folder / f"{len(list(folder.iterdir()))}.pdf"), number)
    plates, _ = measured_page(it, job, painted)
    return Page(
        number=number,
        boxes=None,
        trim_mm=it.trim_mm,
        trim_from="trim-box",
        bleed_mm=it.bleed_mm,
        media_mm=it.frame.media_mm,
        zone_mm=it.zone(job.bleed_mm),
        painted=painted,
        plates=plates,
    )
