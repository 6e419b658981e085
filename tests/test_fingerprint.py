"""The print of a page: the same through re-export, recompression, subsetting and reordering; another page's differs."""

from __future__ import annotations

import io
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from artwork import Book, mm, rectangle
from PIL import Image
from plated import measured

from preflight.inventory.fingerprint import alike

LINES = (
    "Spring guide to the walled garden", "The fern house opens at nine", "Bulbs along the north wall",
    "Please keep to the gravel paths", "Seeds are for sale at the gate", "Guided walks start at the pond",
)  # fmt: skip


def picture(seed: int) -> np.ndarray[Any, Any]:
    """A soft scene with some grain."""
    draw = np.random.default_rng(seed)
    rows, columns = np.mgrid[0:240, 0:320]
    waves = [
        np.sin(rows / draw.uniform(20, 90) + draw.uniform(0, 6)) + np.cos(columns / draw.uniform(20, 90))
        for _ in range(4)
    ]
    tones = np.stack([60 + 40 * wave for wave in waves], axis=2) + draw.normal(0, 4, (240, 320, 4))
    return np.clip(tones, 0, 255).astype(np.uint8)


def page(book: Book, seed: int, *, quality: int | None = None, shift_mm: float = 0.0, bold: bool = False) -> None:
    draw = np.random.default_rng(seed)
    tones = picture(seed)
    if quality is not None:
        stored = io.BytesIO()
        Image.fromarray(tones, mode="CMYK").save(stored, "JPEG", quality=quality)
        tones = np.asarray(Image.open(io.BytesIO(stored.getvalue())))
    x, y = draw.integers(5, 40, 2)
    content = (
        f"q {mm(50)} 0 0 {mm(38)} {mm(x)} {mm(y)} cm /I Do Q 0 0 0 1 k BT /F 9 Tf 11 TL {mm(5 + shift_mm)} {mm(74)} Td "
    )
    content += " ".join(f"({LINES[index]}) Tj T*" for index in draw.permutation(len(LINES))) + " ET "
    content += f"{draw.random():.2f} 0 0.3 0 k {rectangle(float(draw.integers(60, 80)), 60, 15, 12)} f"
    font = book.base_font("Helvetica-Bold" if bold else "Helvetica")
    book.page(content, resources={"I": book.image(320, 240, data=tones.tobytes()), "F": font})


def print_of(folder: Path, seed: int, **how: Any) -> str:
    book = Book()
    page(book, seed, **how)
    return measured(book, folder)[0].fingerprint


@pytest.mark.parametrize(
    "how", [{"quality": 90}, {"quality": 60}, {"shift_mm": 0.08}, {"quality": 75, "shift_mm": 0.05}]
)
@pytest.mark.parametrize("seed", range(4))
def test_a_page_exported_anew_is_known_again(seed: int, how: dict[str, Any], tmp_path: Path) -> None:
    assert alike(print_of(tmp_path, seed), print_of(tmp_path, seed, **how))


def test_other_pages_are_other_pages(tmp_path: Path) -> None:
    prints = [print_of(tmp_path, seed) for seed in range(8)]
    for index, one in enumerate(prints):
        assert len(one) == 12 * 16
        for other in prints[:index]:
            assert not alike(one, other)


def test_it_does_not_depend_on_the_place_in_the_file(tmp_path: Path) -> None:
    alone = print_of(tmp_path, 3)
    book = Book()
    for seed in (1, 2, 3):
        page(book, seed)
    assert measured(book, tmp_path, number=3)[0].fingerprint == alone


def test_it_is_not_letter_by_letter(tmp_path: Path) -> None:
    one = print_of(tmp_path, 1)
    tipped = "".join(f"{min(15, int(digit, 16) + (place % 20 == 0)):x}" for place, digit in enumerate(one))
    assert tipped != one
    assert alike(one, tipped)
    assert not alike(one, one[:-1])
    assert not alike("", "")


def test_a_change_that_matters_is_another_print(tmp_path: Path) -> None:
    book = Book()
    page(book, 2)
    changed = book.pdf.pages[0]
    changed.obj.Contents = book.stream(
        changed.obj.Contents.read_bytes() + f" 1 0 0 0 k {rectangle(5, 5, 40, 30)} f".encode()
    )
    assert not alike(print_of(tmp_path, 2), measured(book, tmp_path)[0].fingerprint)
