"""Makes the files that speed and memory are measured on: a brochure of full-page pictures, and books of text.

The pictures are synthesised leaves at 300 ppi in four inks, packed as JPEG, as a layout program would place them; every page
has a picture of its own, so that no engine can decode one and use it eight times.
"""

from __future__ import annotations

import sys
from functools import cache
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[2] / "demo_files"))

import fernhollow_pictures as pictures
from fernhollow_guide import CHAPTERS
from fernhollow_pages import MOSS, Artwork

A4_MM = (210.0, 297.0)
BLEED_MM = 3.0
PICTURE_PPI = 300.0


def make_brochure(path: Path, pages: int = 16, ppi: float = PICTURE_PPI) -> Path:
    """An A4 brochure with a picture over the whole page and its bleed on every second page, text on the others."""
    work = Artwork("Fernhollow through the year")
    for number in range(1, pages + 1):
        if number % 2:
            _picture_page(work, number, ppi)
        else:
            _text_page(work, number)
    return work.save(path)


def make_text_book(path: Path, pages: int) -> Path:
    """An A4 book of text pages with about 3,000 letters each."""
    work = Artwork("The garden book")
    for number in range(1, pages + 1):
        _text_page(work, number)
    return work.save(path)


def _picture_page(work: Artwork, number: int, ppi: float) -> None:
    width, height = (round((side + 2 * BLEED_MM) / 25.4 * ppi) for side in A4_MM)
    # Rolled, one scene gives as many different pictures as are wanted.
    light = np.roll(_scene(width, height), (97 * number, 61 * number), axis=(0, 1))
    picture = work.picture(pictures.jpeg(pictures.separated(light), quality=85), (width, height))
    page = work.page(A4_MM).crop_marks()
    page.picture(picture, -BLEED_MM, -BLEED_MM, A4_MM[0] + 2 * BLEED_MM, A4_MM[1] + 2 * BLEED_MM)
    page.done()


@cache
def _scene(width_px: int, height_px: int) -> np.ndarray:
    return pictures.leaves(width_px, height_px, seed=7).astype(np.float32)


def _text_page(work: Artwork, number: int) -> None:
    page = work.page(A4_MM).crop_marks()
    title = CHAPTERS[number % len(CHAPTERS)][0]
    page.text(20.0, 270.0, title, 24.0, MOSS, "head")
    y = 256.0
    for turn in range(24):
        y = page.paragraph(20.0, y, 170.0, CHAPTERS[(number + turn) % len(CHAPTERS)][1 + turn % 3], 11.0) - 2.0
        if y < 40.0:
            break
    page.text(20.0, 14.0, str(number), 9.0)
    page.done()
