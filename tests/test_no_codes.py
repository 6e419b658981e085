"""Scanned type and scanned prints hold no codes: letters look like corner patterns, dots like rows of bars, and neither is one."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import test_barcodes as drawn_codes
from artwork import Book, mm, rectangle
from pictured import on_paper, screened, texture
from pikepdf import Name
from PIL import Image, ImageDraw, ImageFilter, ImageFont
from symbols import Symbol, drawn, ean_8, ean_13, qr

from preflight.inventory.bar_reading import bars_at
from preflight.inventory.code_places import CodePlace
from preflight.inventory.finder_patterns import find_corners, triples_of
from preflight.inventory.fine_view import FineView
from preflight.inventory.matrix_codes import unreadable_qr
from preflight.inventory.model import BarcodeSeen
from preflight.inventory.render import PlatePixels
from preflight.units import Box

Gray = np.ndarray
LETTERS = list("etaoinshrdlucmfwypvbgk")


def typed(ppi: float, askew_deg: float, seed: int, *, over: int = 2) -> Image.Image:
    """Lines of made-up words of 12 pt over 80 mm of paper, black on white, ``over`` times as fine as ``ppi``, not turned yet."""
    chance = np.random.default_rng(seed)
    side = round(80 / 25.4 * ppi * over)
    sheet = Image.new("L", (side, side), 255)
    pen, font = ImageDraw.Draw(sheet), ImageFont.load_default(12 / 72 * ppi * over)
    for line in range(12):
        words = " ".join("".join(chance.choice(LETTERS, int(chance.integers(2, 9)))) for _ in range(9))
        pen.text((0.06 * side, (0.05 + 0.077 * line) * side), words, 0, font)
    return sheet.rotate(-askew_deg, Image.Resampling.BICUBIC, fillcolor=255)


def scanned(sheet: Image.Image, seed: int, *, over: int = 2) -> Gray:
    """As a scanner sees it: gray paper, ink that is not quite black, grain."""
    seen = 30 + 210 * np.asarray(sheet.reduce(over), dtype=float) / 255.0
    return np.clip(seen + np.random.default_rng(seed).normal(0.0, 2.0, seen.shape), 0, 255)


def rosette(ppi: float, lpi: float, turn_deg: float, seed: int) -> Gray:
    """A four-colour print of soft blobs, laid a little askew on the glass: red, green and blue."""
    light = np.ones((500, 500, 3))
    blobs = Image.fromarray(texture(500, 500, seed).clip(0, 255).astype(np.uint8))
    soft = np.asarray(blobs.filter(ImageFilter.GaussianBlur(ppi / lpi / 2)), dtype=float)
    low, high = np.quantile(soft, (0.01, 0.99))
    cover = 0.03 + 0.92 * (1.0 - np.clip((soft - low) / (high - low), 0.0, 1.0))
    takes = ((0.85, 0.25, 0.08), (0.12, 0.80, 0.35), (0.02, 0.08, 0.80), (0.92, 0.92, 0.92))
    for ink, (angle, taken) in enumerate(zip((15.0, 75.0, 0.0, 45.0), takes, strict=True)):
        tone = np.roll(cover, 60 * ink, axis=ink % 2) * (0.6 if ink == 3 else 0.9)
        light *= 1.0 - screened(tone, lpi / ppi, angle + turn_deg)[..., None] * np.array(taken)
    return np.dstack([on_paper(1.0 - light[..., part], seed + part) for part in range(3)])


def codes_in(picture: Gray, ppi: float, folder: Path) -> list[BarcodeSeen]:
    """The codes of a page of which a picture is the whole."""
    book = Book()
    height, width = picture.shape[:2]
    space = Name.DeviceRGB if picture.ndim == 3 else Name.DeviceGray
    image = book.image(width, height, space=space, data=picture.clip(0, 255).astype(np.uint8).tobytes())
    wide, high = width / ppi * 25.4, height / ppi * 25.4
    book.page(f"q {mm(wide)} 0 0 {mm(high)} 0 0 cm /I Do Q", trim_mm=(wide, high), resources={"I": image})
    return drawn_codes.codes(book, folder)


@pytest.mark.parametrize(("ppi", "askew_deg"), [(150, -1.9), (200, 4.1), (300, 0.0), (300, -6.0)])
def test_scanned_type_shows_no_code(tmp_path, ppi, askew_deg):
    """Light on dark, a round letter is a block in a ring, and the paper around it a second one."""
    assert codes_in(scanned(typed(ppi, askew_deg, 7), 7), ppi, tmp_path) == []


def test_a_scanned_rosette_shows_no_code(tmp_path):
    assert codes_in(rosette(800, 100, 0.2, 102), 800, tmp_path) == []


def test_the_letters_of_a_line_pass_for_corner_patterns():
    """What makes the test above one: without a look at what lies between the corners three of them would do."""
    dark = scanned(typed(300, 0.0, 7), 7) > 128
    assert triples_of(find_corners(dark), lambda triple: True)
    assert unreadable_qr(dark) == []


# --- rows that pass for bars -----------------------------------------------------------------------------------------


def stripes(y_mm: float, height_mm: float) -> str:
    """Uneven upright stripes that hold no code, over 50 mm."""
    chance = np.random.default_rng(6)
    marks, at = [], 15.0
    while at < 65.0:
        width = float(chance.choice([0.33, 0.66, 0.99]))
        marks.append(rectangle(at, y_mm, width, height_mm))
        at += width + float(chance.choice([0.33, 0.66, 0.99, 1.32]))
    return f"{drawn_codes.K} {' '.join(marks)} f"


def band(symbol: Symbol, high_mm: float) -> str:
    """A symbol on paper of its own, ``high_mm`` high, across the middle of stripes."""
    paper = f"0 0 0 0 k {rectangle(18, 40 - high_mm / 2, 45, high_mm)} f "
    return stripes(30.0, 20.0) + paper + drawn(symbol, 22, 40 - high_mm / 2, 0.33, high_mm)


@pytest.mark.parametrize("symbol", [ean_13(), ean_8()], ids=["EAN-13", "EAN-8"])
@pytest.mark.parametrize(("rows", "told"), [(8, False), (20, False), (60, True)])
def test_a_row_of_a_texture_is_no_code(symbol, rows, told):
    """Of the rows of dots of a screened picture now and then one holds the widths of a code; the next one holds others."""
    pixels_per_mm, chance = 24.0, np.random.default_rng(3)
    dark = np.repeat(chance.random((60, 200)) < 0.5, 8, axis=0).repeat(8, axis=1)
    row = symbol.pixels(8, rows)
    top = 240 - rows // 2
    dark[top : top + rows, 100 : 180 + row.shape[1]] = False
    dark[top : top + rows, 140 : 140 + row.shape[1]] = row
    plane = np.where(dark, np.uint8(255), np.uint8(0))
    pixels = PlatePixels(("Black",), (plane,), (0.0, 0.0), pixels_per_mm, None)  # type: ignore[arg-type]
    around = Box(0.0, 0.0, 1600 / pixels_per_mm, 480 / pixels_per_mm)
    view = FineView(pixels, [0], 1.0 - plane / np.float32(255.0), around)
    assert [code.decoded for code in bars_at(CodePlace(around, "bars"), view, level=False)] == [True] * told


@pytest.mark.parametrize("symbol", [ean_13(), ean_8()], ids=["EAN-13", "EAN-8"])
def test_a_code_a_few_millimetres_high_between_stripes_is_one(tmp_path, symbol):
    assert [code.decoded for code in drawn_codes.of(band(symbol, 4.0), tmp_path)] == [True]


# --- what still is a code --------------------------------------------------------------------------------------------


def printed_page(symbol: Symbol, ppi: float, askew_deg: float, *, blot: float = 0.0) -> Gray:
    """Scanned type with a symbol on paper of its own in the middle; ``blot``: so much of its middle is lost."""
    over, scale = 2, round(0.5 / 25.4 * ppi * 2)
    sheet = typed(ppi, 0.0, 7)
    dark = symbol.pixels(scale, round(15 / 25.4 * ppi * over))
    high, wide = dark.shape
    left, top, margin = (sheet.width - wide) // 2, (sheet.height - high) // 2, 11 * scale
    sheet.paste(255, (left - margin, top - margin, left + wide + margin, top + high + margin))
    sheet.paste(Image.fromarray(np.where(dark, 0, 255).astype(np.uint8)), (left, top))
    if blot:
        x, y = (round(length * (1 - blot) / 2) for length in (wide, high))
        sheet.paste(255, (left + x, top + y, left + wide - x, top + high - y))
    return scanned(sheet.rotate(-askew_deg, Image.Resampling.BICUBIC, fillcolor=255), 7)


@pytest.mark.parametrize("askew_deg", [0.0, 3.0, -6.0])
@pytest.mark.parametrize("blot", [0.0, 0.4], ids=["whole", "a hole"])
def test_a_qr_code_among_scanned_type(tmp_path, askew_deg, blot):
    """It stays the only code of the page, decoded or told as damaged."""
    symbol = qr(error="l", boost_error=False)
    (code,) = codes_in(printed_page(symbol, 300, askew_deg, blot=blot), 300, tmp_path)
    assert (code.symbology, code.fault) == ("QR Code", "damaged" if blot else "")


def test_a_damaged_qr_code_under_grain(tmp_path):
    """Single pixels no longer show its corner patterns; several together do."""
    picture = printed_page(qr(error="l", boost_error=False), 300, 2.0, blot=0.4)
    grain = np.random.default_rng(1).normal(0.0, 100.0, picture.shape)
    assert [code.fault for code in codes_in(picture + grain, 300, tmp_path)] == ["damaged"]


@pytest.mark.parametrize("askew_deg", [0.0, 1.5, -4.0])
def test_bars_among_scanned_type(tmp_path, askew_deg):
    (code,) = codes_in(printed_page(ean_13(), 300, askew_deg), 300, tmp_path)
    assert (code.symbology, code.decoded) == ("EAN-13", True)
