"""Codes found on the plates of artwork: drawn in every way, measured against the size they were drawn at, and nothing where none is.

Modules are known by construction (``symbols``). Measured lengths hold within 2 % or one pixel of 1/24 mm.
"""

from __future__ import annotations

import itertools
import math
import random
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from artwork import Book, mm, rectangle
from opened import DEJAVU, geometry_of, needs, opened
from pikepdf import Array, Name
from symbols import SEEDS, Symbol, code_39, code_128, data_matrix, drawn, ean_8, ean_13, itf, qr, rectangles, upc_e

from preflight.inventory import code_decoder
from preflight.inventory.barcodes import read_barcodes
from preflight.inventory.model import BarcodeSeen
from preflight.inventory.paint import trace_page
from preflight.inventory.plates import measure_plates

EAN = ean_13()
QR = qr()
URL = "https://fernhollow.example/seeds"
K = "0 0 0 1 k"
PIXEL_MM = 1 / 24


def codes(book: Book, folder: Path, **order) -> list[BarcodeSeen]:
    """The codes of the only page."""
    with opened(book, folder, **order) as artwork:
        geometry = geometry_of(artwork)
        page = artwork.mupdf_page(1)
        painted = trace_page(page, geometry.frame, geometry.zone_mm).painted
        _, pixels = measure_plates(
            artwork, page, geometry.frame, geometry.zone_mm, geometry.trim_mm, geometry.media_mm, artwork.job, painted
        )
        return list(read_barcodes(artwork, page, geometry, pixels, painted, artwork.job))


def of(content: str, folder: Path, resources=None, **page) -> list[BarcodeSeen]:
    book = Book()
    book.page(content, resources=resources(book) if resources else {}, **page)
    return codes(book, folder)


def one(found: list[BarcodeSeen]) -> BarcodeSeen:
    assert len(found) == 1, found
    return found[0]


def one_bit(book: Book, symbol: Symbol, scale: int = 4, height: int = 200, quiet: int = 4, **entries):
    dark = symbol.pixels(scale, height, quiet)
    data = np.packbits(~dark, axis=1).tobytes()
    return book.image(dark.shape[1], dark.shape[0], space=Name.DeviceGray, bits=1, data=data, **entries), dark.shape


# --- what it is and how large ----------------------------------------------------------------------------------------

BARS = [
    ("EAN-13", EAN, SEEDS),
    ("EAN-8", ean_8(), "96385074"),
    ("UPC-A", ean_13("0036000291452"), "036000291452"),
    ("UPC-E", upc_e(), "01234565"),
    ("ITF", itf(), "15400141288763"),
    ("ITF", itf(wide=2), "15400141288763"),
    ("Code 128", code_128(), "Fern-2026"),
    ("Code 39", code_39(), "FERN 39"),
]


@pytest.mark.parametrize(("symbology", "symbol", "text"), BARS, ids=[f"{name} {text}" for name, _, text in BARS])
@pytest.mark.parametrize("module_mm", [0.264, 0.495])
def test_bar_codes(tmp_path, symbology, symbol, text, module_mm):
    content = drawn(symbol, 8, 30, module_mm, 15)
    code = one(of(content, tmp_path, trim_mm=(130.0, 80.0)))
    assert (code.symbology, code.text, code.decoded, code.reversed_out) == (symbology, text, True, False)
    assert code.x_dimension_mm == pytest.approx(module_mm, rel=0.01)
    assert code.height_mm == pytest.approx(15, abs=PIXEL_MM)
    assert code.inks_percent == {"Black": 100.0}
    assert code.box_mm == pytest.approx((8, 35, 8 + symbol.across * module_mm, 50), abs=2 * PIXEL_MM)


@pytest.mark.parametrize(
    ("symbology", "symbol", "text"),
    [("QR Code", QR, URL), ("QR Code", qr("1" * 60), "1" * 60), ("Data Matrix", data_matrix(), "FERN 2026")],
    ids=["QR", "QR of digits", "Data Matrix"],
)
@pytest.mark.parametrize("module_mm", [0.15, 0.254, 0.5])
def test_matrix_codes(tmp_path, symbology, symbol, text, module_mm):
    code = one(of(drawn(symbol, 20, 30, module_mm), tmp_path))
    assert (code.symbology, code.text, code.decoded) == (symbology, text, True)
    assert code.x_dimension_mm == pytest.approx(module_mm, rel=0.02)
    side = symbol.across * module_mm
    assert code.box_mm == pytest.approx((20, 50 - side, 20 + side, 50), abs=2 * PIXEL_MM)


def test_a_qr_code_of_version_3_at_4_dots_of_400_dpi(tmp_path):
    """Worked example of the inventor's public page: 29 modules of 0.254 mm, with 4 modules all round 9.398 mm."""
    symbol = qr(URL, version=3)
    code = one(of(drawn(symbol, 20, 30, 4 * 25.4 / 400), tmp_path))
    assert code.x_dimension_mm is not None
    assert (symbol.across + 8) * code.x_dimension_mm == pytest.approx(9.398, abs=PIXEL_MM)


def test_an_ean_13_at_80_percent(tmp_path):
    """113 modules of 0.264 mm, quiet zones of 11 and 7 included: 29.832 mm (published as 29.83)."""
    code = one(of(drawn(EAN, 20, 30, 0.264), tmp_path))
    assert code.x_dimension_mm is not None
    assert 113 * code.x_dimension_mm == pytest.approx(29.832, abs=PIXEL_MM)


@pytest.mark.parametrize("turn", [0, 90, 180, 270])
def test_turned_pages(tmp_path, turn):
    """Left and right are those of the code as it is read, whichever way it lies: a bar stands three modules left of it."""
    content = drawn(EAN, 20, 30, 0.33) + f"{K} {rectangle(20 - 4 * 0.33, 28, 0.33, 24)} f"
    code = one(of(content, tmp_path, Rotate=turn))
    assert code.text == SEEDS
    assert code.x_dimension_mm == pytest.approx(0.33, rel=0.01)
    assert code.quiet_modules["left"] == pytest.approx(3.0, abs=0.15)
    assert code.quiet_modules["right"] == 12.0


def turned(content: str, degrees: float, x_mm: float = 40, y_mm: float = 15) -> str:
    a = math.radians(degrees)
    return f"q {math.cos(a)} {math.sin(a)} {-math.sin(a)} {math.cos(a)} {mm(x_mm)} {mm(y_mm)} cm {content} Q"


@pytest.mark.parametrize("degrees", [-87, -40, -12, -3, 1, 2, 3, 5, 7, 10, 15, 30, 45, 60, 80])
def test_bars_at_any_angle(tmp_path, degrees):
    """A module is as wide as it was drawn, and the box is that of the turned rectangle of 95 modules by 20 mm."""
    code = one(of(turned(drawn(EAN, -13, -10, 0.28, 20), degrees, 50, 40), tmp_path))
    assert code.text == SEEDS
    assert code.x_dimension_mm == pytest.approx(0.28, rel=0.01)
    a = math.radians(degrees)
    corners = [
        (50 + x * math.cos(a) - y * math.sin(a), 40 - x * math.sin(a) - y * math.cos(a))
        for x in (-13, -13 + 95 * 0.28)
        for y in (-10, 10)
    ]
    xs, ys = zip(*corners, strict=True)
    assert code.box_mm == pytest.approx((min(xs), min(ys), max(xs), max(ys)), abs=0.5)


@pytest.mark.parametrize("degrees", [7, 30])
def test_the_margin_of_a_turned_code(tmp_path, degrees):
    """A block four modules left of it; on the right the page's trim lies far away, or five modules off."""
    content = drawn(EAN, 0, 0, 0.33, 20) + f"{K} {rectangle(-4 * 0.33 - 3, 0, 3, 20)} f"
    code = one(of(turned(content, degrees, 35, 20), tmp_path))
    assert code.quiet_modules["left"] == pytest.approx(4.0, abs=0.2)
    assert code.quiet_modules["right"] == 12.0
    # The lower right corner is nearest to the trim: five modules along the code's own axis, more a millimetre (a twentieth
    # of the height) farther up, where the margin is measured.
    a = math.radians(degrees)
    x = 100 - (95 + 5) * 0.33 * math.cos(a)
    code = one(of(turned(drawn(EAN, 0, 0, 0.33, 20), degrees, x, 20), tmp_path))
    assert code.quiet_modules["right"] == pytest.approx(5.0 + math.tan(a) / 0.33, abs=0.3)


@pytest.mark.parametrize("degrees", [7, 40])
def test_a_turned_code_in_bars_drawn_one_by_one_and_in_a_picture(tmp_path, degrees):
    bars = " ".join(f"{bar} f" for bar in rectangles(EAN, 0, 0, 0.28))
    assert one(of(turned(f"{K} {bars}", degrees), tmp_path)).x_dimension_mm == pytest.approx(0.28, rel=0.01)

    def picture(book):
        return {"I": one_bit(book, EAN, quiet=0)[0]}

    content = turned(f"{mm(95 * 0.28)} 0 0 {mm(20)} 0 0 cm /I Do", degrees)
    assert one(of(content, tmp_path, picture)).x_dimension_mm == pytest.approx(0.28, rel=0.01)


@pytest.mark.parametrize("degrees", [7, 30, 45])
def test_a_slanted_hatching_is_no_code(tmp_path, degrees):
    even = " ".join(rectangle(0.8 * place, 0, 0.4, 20) for place in range(40))
    assert of(turned(f"{K} {even} f", degrees), tmp_path) == []
    uneven = random.Random(degrees)
    places = itertools.accumulate(uneven.uniform(0.5, 1.5) for _ in range(30))
    lines = " ".join(f"{rectangle(place, 0, 0.3, 20)} f" for place in places)
    assert of(turned(f"{K} {lines}", degrees), tmp_path) == []


@pytest.mark.parametrize("degrees", [3, 7, 30, 45])
def test_qr_codes_at_any_angle(tmp_path, degrees):
    a = math.radians(degrees)
    turn = f"{math.cos(a)} {math.sin(a)} {-math.sin(a)} {math.cos(a)}"
    code = one(of(f"q {turn} {mm(40)} {mm(15)} cm {drawn(QR, 0, 0, 0.6)} Q", tmp_path))
    assert code.text == URL
    assert code.x_dimension_mm == pytest.approx(0.6, rel=0.02)


def test_the_print_goes_by_the_trim_not_by_user_space(tmp_path):
    """A user unit of 2 makes everything twice as large (ISO 32000-2, Table 31)."""
    code = one(of(drawn(EAN, 10, 15, 0.132, 10), tmp_path, trim_mm=(50.0, 40.0), UserUnit=2))
    assert code.x_dimension_mm == pytest.approx(0.264, rel=0.01)
    assert code.height_mm == pytest.approx(20, abs=0.1)


# --- however it is drawn ---------------------------------------------------------------------------------------------


def single_fills(book):
    return " ".join([K, *(f"{bar} f" for bar in rectangles(EAN, 20, 30, 0.33))]), {}


def strokes(book):
    lines = ["0 0 0 1 K"]
    for bar in rectangles(EAN, 20, 30, 0.33):
        x, y, width, height = (float(value) for value in bar.split()[:4])
        lines.append(f"{width} w {x + width / 2} {y} m {x + width / 2} {y + height} l S")
    return "\n".join(lines), {}


def dashes(book):
    """One thick line, dashed."""
    runs = [len(list(run)) * mm(0.33) for _, run in itertools.groupby(EAN.rows[0])]
    pattern = " ".join(f"{run:.4f}" for run in runs)
    return f"0 0 0 1 K {mm(20)} w [{pattern} 500] 0 d {mm(20)} {mm(40)} m {mm(51.35)} {mm(40)} l S", {}


def spaces_on_a_block(book):
    spaces = Symbol((tuple(not dark for dark in EAN.rows[0]),))
    block = rectangle(20, 30, 95 * 0.33, 20)
    return f"{K} {block} f 0 0 0 0 k {' '.join(rectangles(spaces, 20, 30, 0.33))} f", {}


def a_clip(book):
    return f"q {' '.join(rectangles(EAN, 20, 30, 0.33))} W n {K} {rectangle(15, 25, 50, 40)} f Q", {}


def a_form(book):
    inner = book.form(drawn(EAN, 20, 30, 0.33))
    return "/X Do", {"X": book.form("q 2 0 0 2 0 0 cm 0.5 0 0 0.5 0 0 cm /Y Do Q", resources={"Y": inner})}


def a_pattern(book):
    tile = book.tiling(drawn(EAN, 5, 2, 0.33), cell=(mm(45), mm(25)), Matrix=Array([1, 0, 0, 1, mm(25), mm(38)]))
    return f"/Pattern cs /P scn {rectangle(15, 28, 45, 25)} f", {"P": tile}


def type_3(book):
    unit = 1000 / 95
    bars = " ".join(f"{place * unit:.3f} 0 {unit:.3f} 638 re" for place, dark in enumerate(EAN.rows[0]) if dark)
    font = book.type3_font({"a": f"1000 0 d0 {bars} f"})
    return f"BT /F {mm(31.35)} Tf {mm(20)} {mm(30)} Td {K} (a) Tj ET", {"F": font}


def picture_1_bit(book):
    image, _ = one_bit(book, EAN, quiet=0)
    return f"q {mm(95 * 0.33)} 0 0 {mm(20)} {mm(20)} {mm(30)} cm /I Do Q", {"I": image}


def stencil(book):
    dark = EAN.pixels(4, 200)
    image = book.image(dark.shape[1], dark.shape[0], bits=1, data=np.packbits(~dark, axis=1).tobytes(), ImageMask=True)
    return f"{K} q {mm(95 * 0.33)} 0 0 {mm(20)} {mm(20)} {mm(30)} cm /I Do Q", {"I": image}


def picture_gray(book):
    dark = EAN.pixels(3, 100)
    data = np.where(dark, 0, 255).astype(np.uint8).tobytes()
    image = book.image(dark.shape[1], dark.shape[0], space=Name.DeviceGray, data=data)
    return f"q {mm(95 * 0.33)} 0 0 {mm(20)} {mm(20)} {mm(30)} cm /I Do Q", {"I": image}


def soft_mask(book):
    """A black picture seen through a soft mask in the shape of bars."""
    dark = EAN.pixels(4, 100)
    mask = book.image(
        dark.shape[1], dark.shape[0], space=Name.DeviceGray, data=np.where(dark, 255, 0).astype(np.uint8).tobytes()
    )
    image = book.image(1, 1, data=bytes([0, 0, 0, 255]), SMask=mask)
    return f"q {mm(95 * 0.33)} 0 0 {mm(20)} {mm(20)} {mm(30)} cm /I Do Q", {"I": image}


def a_group(book):
    group = book.form(drawn(EAN, 20, 30, 0.33), Group=book.pdf.make_indirect({"/S": Name.Transparency, "/I": True}))
    return "/X Do", {"X": group}


WAYS = [
    single_fills, strokes, dashes, spaces_on_a_block, a_clip, a_form, a_pattern, type_3,
    picture_1_bit, stencil, picture_gray, soft_mask, a_group,
]  # fmt: skip


@pytest.mark.parametrize("draw", WAYS)
def test_bars_drawn_in_every_way(tmp_path, draw):
    book = Book()
    content, resources = draw(book)
    book.page(content, resources=resources)
    code = one(codes(book, tmp_path))
    assert code.text == SEEDS
    assert code.x_dimension_mm == pytest.approx(0.33, rel=0.01)
    assert (code.box_mm.x0, code.box_mm.y1) == pytest.approx((20, 50), abs=0.1)
    assert code.height_mm == pytest.approx(20, abs=0.15)


def qr_fills(book):
    return " ".join([K, *(f"{square} f" for square in rectangles(QR, 20, 30, 0.5))]), {}


def qr_strokes(book):
    """One path of level lines, a module thick, as drawing libraries write it."""
    lines = []
    for bar in rectangles(QR, 20, 30, 0.5):
        x, y, width, height = (float(value) for value in bar.split()[:4])
        lines.append(f"{x} {y + height / 2} m {x + width} {y + height / 2} l")
    return f"0 0 0 1 K {mm(0.5)} w {' '.join(lines)} S", {}


def qr_dots(book):
    """Every module a disc."""
    radius, k = mm(0.25), 0.5523 * mm(0.25)
    discs = []
    for down, row in enumerate(QR.rows):
        for across, dark in enumerate(row):
            x, y = mm(20.25 + 0.5 * across), mm(30.25 + 0.5 * (len(QR.rows) - 1 - down))
            if dark:
                discs.append(
                    f"{x + radius} {y} m {x + radius} {y + k} {x + k} {y + radius} {x} {y + radius} c "
                    f"{x - k} {y + radius} {x - radius} {y + k} {x - radius} {y} c "
                    f"{x - radius} {y - k} {x - k} {y - radius} {x} {y - radius} c "
                    f"{x + k} {y - radius} {x + radius} {y - k} {x + radius} {y} c f"
                )
    return f"{K} {' '.join(discs)}", {}


def qr_picture(book):
    image, _ = one_bit(book, QR, quiet=0)
    return f"q {mm(12.5)} 0 0 {mm(12.5)} {mm(20)} {mm(30)} cm /I Do Q", {"I": image}


def qr_clip(book):
    return f"q {' '.join(rectangles(QR, 20, 30, 0.5))} W n {K} {rectangle(10, 10, 50, 50)} f Q", {}


@pytest.mark.parametrize("draw", [qr_fills, qr_strokes, qr_dots, qr_picture, qr_clip])
def test_squares_drawn_in_every_way(tmp_path, draw):
    book = Book()
    content, resources = draw(book)
    book.page(content, resources=resources)
    code = one(codes(book, tmp_path))
    assert code.text == URL
    assert code.x_dimension_mm == pytest.approx(0.5, rel=0.01)
    assert code.box_mm == pytest.approx((20, 37.5, 32.5, 50), abs=0.1)


def busy_picture(ppi: int, *placed: tuple[Symbol, float, float, float, float]) -> np.ndarray:
    """A CMYK picture of 100 x 80 mm, waves of tone with codes on white: (symbol, left, top, module, height in mm)."""
    width, height = round(100 / 25.4 * ppi), round(80 / 25.4 * ppi)
    ys, xs = np.mgrid[0:height, 0:width]
    chance = np.random.default_rng(1)
    waves = [90 + 60 * np.sin(xs / 37 + k) + 50 * np.cos(ys / 23 + k) for k in range(4)]
    ink = (np.stack(waves, -1) + chance.normal(0, 8, (height, width, 4))).clip(0, 255).astype(np.uint8)
    x_mm, y_mm = (np.arange(width) + 0.5) * 25.4 / ppi, (np.arange(height) + 0.5) * 25.4 / ppi
    for symbol, left, top, module, high in placed:
        down = high if len(symbol.rows) == 1 else len(symbol.rows) * module
        box = np.ix_(
            (y_mm > top - 2) & (y_mm < top + down + 2),
            (x_mm > left - 11 * module) & (x_mm < left + (symbol.across + 11) * module),
        )
        ink[box] = 0
        columns = np.floor((x_mm - left) / module).astype(int)
        rows = np.floor((y_mm - top) / (down / len(symbol.rows))).astype(int)
        inside_x, inside_y = (columns >= 0) & (columns < symbol.across), (rows >= 0) & (rows < len(symbol.rows))
        grid = np.array(symbol.rows)[np.ix_(rows[inside_y], columns[inside_x])]
        window = ink[np.ix_(inside_y, inside_x)]
        window[grid] = (0, 0, 0, 255)
        ink[np.ix_(inside_y, inside_x)] = window
    return ink


@pytest.mark.parametrize("ppi", [200, 300])
def test_codes_in_a_picture_that_is_the_whole_page(tmp_path, ppi):
    """Artwork flattened to pixels."""
    ink = busy_picture(ppi, (EAN, 15.0, 40.0, 0.33, 20.0), (QR, 70.0, 55.0, 0.4, 0.0))
    book = Book()
    image = book.image(ink.shape[1], ink.shape[0], data=ink.tobytes())
    book.page(f"q {mm(100)} 0 0 {mm(80)} 0 0 cm /I Do Q", resources={"I": image})
    found = {code.symbology: code for code in codes(book, tmp_path)}
    assert {name: code.text for name, code in found.items()} == {"EAN-13": SEEDS, "QR Code": URL}
    for name, module in (("EAN-13", 0.33), ("QR Code", 0.4)):
        assert found[name].x_dimension_mm == pytest.approx(module, rel=0.02)


def test_an_ordered_code_is_looked_for_on_the_whole_page(tmp_path):
    """Modules too small to be found in a large picture by themselves."""
    ink = busy_picture(400, (QR, 70.0, 55.0, 0.17, 0.0))
    for order, found in (({}, []), ({"barcodes": (URL,)}, [URL])):
        book = Book()
        image = book.image(ink.shape[1], ink.shape[0], data=ink.tobytes())
        book.page(f"q {mm(100)} 0 0 {mm(80)} 0 0 cm /I Do Q", resources={"I": image})
        assert [code.text for code in codes(book, tmp_path, **order)] == found


# --- quiet zones -----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("clear", [0.5, 3.0, 6.5, 10.0])
def test_how_far_bars_are_clear(tmp_path, clear):
    """A bar of colour beside the code, however near."""
    frame = f"{K} {rectangle(20 - (clear + 2) * 0.33, 28, 0.66, 24)} f"
    code = one(of(drawn(EAN, 20, 30, 0.33) + frame, tmp_path))
    assert code.text == SEEDS
    assert code.quiet_modules == pytest.approx({"left": clear, "right": 12.0}, abs=0.15)


def test_a_small_thing_at_part_of_the_height_counts(tmp_path):
    dot = f"{K} {rectangle(20 + 100 * 0.33, 34, 0.5, 0.5)} f"
    code = one(of(drawn(EAN, 20, 30, 0.33) + dot, tmp_path))
    assert code.quiet_modules == pytest.approx({"left": 12.0, "right": 5.0}, abs=0.15)


def test_the_digits_below_and_above_do_not(tmp_path):
    digits = f"{K} {rectangle(17, 26.5, 1.5, 2.5)} f {rectangle(25, 26.5, 20, 2.5)} f {rectangle(17, 51, 40, 1)} f"
    code = one(of(drawn(EAN, 20, 30, 0.33) + digits, tmp_path))
    assert code.quiet_modules == {"left": 12.0, "right": 12.0}


def test_a_white_box_on_a_dark_ground(tmp_path):
    box = rectangle(20 - 5 * 0.33, 28, (95 + 10) * 0.33, 24)
    content = f"{K} {rectangle(5, 5, 80, 60)} f 0 0 0 0 k {box} f {drawn(EAN, 20, 30, 0.33)}"
    assert one(of(content, tmp_path)).quiet_modules == pytest.approx({"left": 5.0, "right": 5.0}, abs=0.15)


def test_a_red_ground_is_paper_to_a_scanner(tmp_path):
    box = rectangle(20 - 5 * 0.33, 28, (95 + 10) * 0.33, 24)
    content = f"0 1 1 0 k {rectangle(5, 5, 80, 60)} f 0 0 0 0 k {box} f {drawn(EAN, 20, 30, 0.33)}"
    assert one(of(content, tmp_path)).quiet_modules == {"left": 12.0, "right": 12.0}


def test_the_trim_ends_a_quiet_zone(tmp_path):
    code = one(of(drawn(EAN, 3 * 0.33, 30, 0.33), tmp_path))
    assert code.quiet_modules["left"] == pytest.approx(3.0, abs=0.15)


@pytest.mark.parametrize(
    ("thing", "side", "clear"),
    [
        (rectangle(20 - 3 * 0.5, 30, 0.5, 12), "left", 2.0),
        (rectangle(20, 42.5 + 1.0, 12.5, 0.3), "top", 2.0),
        (rectangle(32.5 + 1.5, 35, 0.5, 0.5), "right", 3.0),
        (rectangle(25, 28, 2, 0.5), "bottom", 3.0),
        (rectangle(19.0, 29.0, 0.5, 0.5), "corners", 1.0),
    ],
)
def test_how_far_squares_are_clear(tmp_path, thing, side, clear):
    code = one(of(f"{drawn(QR, 20, 30, 0.5)} {K} {thing} f", tmp_path))
    expected = dict.fromkeys(("left", "top", "right", "bottom", "corners"), 12.0) | {side: clear}
    assert code.quiet_modules == pytest.approx(expected, abs=0.15)


# --- light -----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("colour", "dark", "inks"),
    [
        (K, True, {"Black": 100}),
        ("1 0 0 0 k", True, {"Cyan": 100}),
        ("/Blue cs 1 scn", True, {"Deep Blue": 100}),
        ("0 1 1 0 k", False, {"Magenta": 100, "Yellow": 100}),
        ("0 0 1 0 k", False, {"Yellow": 100}),
        ("/Red cs 1 scn", False, {"Poppy": 100}),
        ("0.6 0.4 0.4 1 k", True, {"Cyan": 60, "Magenta": 40, "Yellow": 40, "Black": 100}),
    ],
)
def test_bars_in_red_light(tmp_path, colour, dark, inks):
    """Black and cyan absorb red, magenta and yellow do not (GS1 colour guides); codes are found in any of them."""

    def spots(book):
        return {"Blue": book.spot("Deep Blue", (1, 0.8, 0, 0.3)), "Red": book.spot("Poppy", (0, 1, 1, 0))}

    code = one(of(drawn(EAN, 20, 30, 0.33, colour=colour), tmp_path, spots))
    assert code.text == SEEDS
    assert code.inks_percent == pytest.approx(inks, abs=0.5)
    assert code.reflectance_bar is not None
    assert code.reflectance_ground == pytest.approx(1.0, abs=0.01)
    assert (code.reflectance_bar < 0.15) == dark
    assert (code.reflectance_bar > 0.7) == (not dark)


@pytest.mark.parametrize(
    ("ground", "light"),
    [("0 0 1 0 k", True), ("0 0.5 1 0 k", True), ("0 1 1 0 k", True), ("1 0 0 0 k", False), ("0 0 0 0.8 k", False)],
    ids=["yellow", "orange", "red", "cyan", "dark gray"],
)
def test_grounds_in_red_light(tmp_path, ground, light):
    code = one(of(f"{ground} {rectangle(5, 5, 80, 60)} f {drawn(EAN, 20, 30, 0.33)}", tmp_path))
    assert code.text == SEEDS
    assert code.inks_percent == {"Black": 100.0}
    assert code.reflectance_ground is not None
    assert (code.reflectance_ground > 0.7) == light
    assert (code.reflectance_ground < 0.3) == (not light)


@pytest.mark.parametrize("symbol", [EAN, QR], ids=["bars", "squares"])
def test_light_on_dark(tmp_path, symbol):
    content = f"{K} {rectangle(5, 5, 80, 60)} f {drawn(symbol, 20, 30, 0.4, colour='0 0 0 0 k')}"
    code = one(of(content, tmp_path))
    assert code.decoded
    assert code.reversed_out


# --- what does not decode --------------------------------------------------------------------------------------------


def test_a_wrong_check_digit(tmp_path):
    code = one(of(drawn(ean_13("4006381333932"), 20, 30, 0.33), tmp_path))
    assert (code.decoded, code.fault, code.text) == (False, "check digit", "4006381333932")


@pytest.mark.parametrize(
    ("symbol", "blot", "symbology"),
    [
        (EAN, f"{K} {rectangle(30, 30, 1.2, 20)} f", "EAN-13"),
        (EAN, f"{K} {rectangle(20 + 0.33 * 40, 29, 2, 24)} f", "EAN-13"),
        (EAN, f"{K} {rectangle(20 + 0.33 * 20, 29, 4, 24)} f", "EAN-13"),
        (EAN, f"0 0 0 0 k {rectangle(31.2, 30, 0.35, 20)} f", "EAN-13"),
        (ean_13("4006381333931"), f"0 0 0 0 k {rectangle(20 + 0.33 * 40, 29, 1, 24)} f", "EAN-13"),
        (EAN, f"0 0 0 0 k {rectangle(20 + 0.33 * 14, 29, 0.33 * 7, 24)} f", "EAN-13"),
        (EAN, f"0 0 0 0 k {rectangle(20 + 0.33 * 33, 29, 0.33 * 9, 24)} f", "EAN-13"),
        (code_128(), f"0 0 0 0 k {rectangle(30, 30, 1.2, 20)} f", "Code 128"),
        (qr(error="l", boost_error=False), f"0 0 0 0 k {rectangle(23, 33, 3, 2.5)} f", "QR Code"),
        (data_matrix(), f"0 0 0 0 k {rectangle(20.8, 30.8, 3, 3)} f", "Data Matrix"),
    ],
    ids=[
        "black over bars",
        "black over the middle",
        "much black",
        "a lost bar",
        "bars left over that pass for another code",
        "light over the first digits",
        "light over the middle digits",
        "a gap",
        "a hole in a QR code",
        "a hole in a Data Matrix",
    ],
)
def test_damaged_codes(tmp_path, symbol, blot, symbology):
    code = one(of(drawn(symbol, 20, 30, 0.33) + blot, tmp_path))
    assert (code.symbology, code.decoded, code.fault) == (symbology, False, "damaged")


def test_half_the_height_is_enough(tmp_path):
    code = one(of(drawn(EAN, 20, 30, 0.33) + f"{K} {rectangle(30, 30, 1.2, 9)} f", tmp_path))
    assert code.decoded


@needs(DEJAVU)
@pytest.mark.parametrize("ppi", [72, 96])
def test_a_picture_too_coarse_for_its_bars(tmp_path, ppi):
    """Bars of 0.33 mm in pixels of 0.35 and 0.26 mm that do not lie on them: no grid is left, the digits below tell."""
    width = round(45 / 25.4 * ppi)
    fine = np.zeros(width * 64)
    for place, dark in enumerate(EAN.rows[0]):
        if dark:
            ends = [round((5 + at * 0.33) / 25.4 * ppi * 64) for at in (place, place + 1)]
            fine[ends[0] : ends[1]] = 1
    gray = (255 - 255 * fine.reshape(width, 64).mean(axis=1)).astype(np.uint8)
    book = Book()
    image = book.image(width, 40, space=Name.DeviceGray, data=np.tile(gray, (40, 1)).tobytes())
    words = f"BT /F {mm(3.2)} Tf {mm(27)} {mm(26.5)} Td {K} ({SEEDS}) Tj ET"
    content = f"q {mm(width / ppi * 25.4)} 0 0 {mm(20)} {mm(20)} {mm(30)} cm /I Do Q {words}"
    book.page(content, resources={"I": image, "F": book.embedded_font(DEJAVU)})
    code = one(codes(book, tmp_path))
    assert (code.decoded, code.fault, code.x_dimension_mm) == (False, "damaged", None)


@pytest.mark.parametrize(("name", "found"), [("EAN13-Tall", ["font"]), ("Free3of9", ["font"]), ("Seaniture13", [])])
def test_a_bar_code_font_that_draws_letters(tmp_path, name, found):
    """It was not embedded, and another font stands in."""
    book = Book()
    book.page(f"BT /F 30 Tf {mm(20)} {mm(30)} Td (12345) Tj ET", resources={"F": book.base_font(name)})
    assert [code.fault for code in codes(book, tmp_path)] == found


# --- several, and none -----------------------------------------------------------------------------------------------


def test_codes_near_each_other_are_told_apart(tmp_path):
    other = ean_13("4012345678901")
    content = (
        drawn(EAN, 5, 40, 0.28, 12)
        + drawn(other, 38, 40, 0.28, 12)
        + drawn(other, 5, 27, 0.28, 12)
        + drawn(QR, 80, 40, 0.4)
    )
    found = codes_by_place(of(content, tmp_path))
    assert [text for _, text in found] == [SEEDS, "4012345678901", URL, "4012345678901"]


def codes_by_place(found: list[BarcodeSeen]) -> list[tuple[tuple[int, int], str | None]]:
    places = [((round(code.box_mm.y0 / 10), round(code.box_mm.x0)), code.text) for code in found]
    return sorted(places)


def test_a_sheet_of_labels(tmp_path):
    content = "".join(drawn(EAN, 3 + 32 * x, 2 + 9.6 * y, 0.25, 8) for x in range(3) for y in range(8))
    found = of(content, tmp_path)
    assert [code.text for code in found] == [SEEDS] * 24


def test_codes_outside_the_trim_are_somebody_elses(tmp_path):
    assert of(drawn(EAN, 20, -9, 0.33, 6) + drawn(QR, 102.5, 20, 0.2), tmp_path) == []


CHANCE = random.Random(3)
STRIPES = []
AT = 10.0
while AT < 80:
    WIDTH = CHANCE.choice([0.3, 0.5, 0.8, 1.1, 1.6])
    STRIPES.append(rectangle(AT, 20, WIDTH, 25))
    AT += WIDTH + CHANCE.choice([0.3, 0.6, 0.9, 1.4])

NO_CODES = {
    "hatching": f"{K} {' '.join(rectangle(10 + i * 0.8, 20, 0.4, 30) for i in range(80))} f",
    "ticking": f"{K} {' '.join(rectangle(10 + i * 0.8, 20, 0.3 + 0.3 * (i % 2), 30) for i in range(80))} f",
    "slanted hatching": "0 0 0 1 K 0.5 w "
    + " ".join(f"{mm(10 + i * 0.7)} {mm(10)} m {mm(14 + i * 0.7)} {mm(60)} l S" for i in range(100)),
    "table": "0 0 0 1 K 0.5 w "
    + " ".join(f"{mm(10 + i * 4)} {mm(10)} m {mm(10 + i * 4)} {mm(60)} l S" for i in range(20))
    + " ".join(f" {mm(10)} {mm(10 + i * 5)} m {mm(86)} {mm(10 + i * 5)} l S" for i in range(11)),
    "stripes by chance": f"{K} {' '.join(STRIPES)} f",
    "checkerboard": f"{K} {' '.join(rectangle(20 + i, 20 + j, 1, 1) for i in range(25) for j in range(25) if (i + j) % 2)} f",
    "squares by chance": f"{K} "
    + " ".join(rectangle(20 + i, 20 + j, 1, 1) for i in range(25) for j in range(25) if CHANCE.random() < 0.5)
    + " f",
    "two corner patterns": " ".join(
        f"{K} {rectangle(15, y, 7, 7)} f 0 0 0 0 k {rectangle(16, y + 1, 5, 5)} f {K} {rectangle(17, y + 2, 3, 3)} f"
        for y in (15, 40)
    ),
    "keyboard": f"{K} {rectangle(10, 20, 70, 25)} f 0 0 0 0 k "
    + " ".join(rectangle(10.3 + i * 2, 20.3, 1.6, 24.4) for i in range(35))
    + f" f {K} "
    + " ".join(rectangle(11.6 + i * 2, 30, 0.9, 15) for i in range(34) if i % 7 not in (2, 6))
    + " f",
    "dots": f"{K} "
    + " ".join(
        rectangle(20 + i * 0.8, 20 + j * 0.8, 0.1 + 0.5 * CHANCE.random(), 0.4) for i in range(40) for j in range(40)
    )
    + " f",
}


@pytest.mark.parametrize("name", NO_CODES)
def test_no_code(tmp_path, name):
    assert of(NO_CODES[name], tmp_path) == []


@needs(DEJAVU)
@pytest.mark.parametrize("kind", ["ruler", "chart", "headline"])
def test_no_code_with_figures_below(tmp_path, kind):
    if kind == "ruler":
        ticks = (f"{mm(10 + i)} {mm(30)} m {mm(10 + i)} {mm(36 if i % 10 == 0 else 33)} l S" for i in range(81))
        figures = " ".join(f"1 0 0 1 {mm(9 + i * 10)} {mm(26.5)} Tm ({i * 10}) Tj" for i in range(9))
        content = f"0 0 0 1 K 0.3 w {' '.join(ticks)} BT /F 7 Tf {figures} ET"
    elif kind == "chart":
        bars = " ".join(rectangle(10 + i * 2, 20, 1.2, 10 + 7 * (i * i % 5)) for i in range(35))
        figures = " ".join(f"1 0 0 1 {mm(10 + i * 2)} {mm(17)} Tm ({i % 10}) Tj" for i in range(35))
        content = f"{K} {bars} f BT /F 5 Tf {figures} ET"
    else:
        content = "BT /F 60 Tf 20 120 Td (ILLIMITII) Tj ET BT /F 24 Tf 20 60 Td (Illicit millinery III) Tj ET"
    assert of(content, tmp_path, lambda book: {"F": book.embedded_font(DEJAVU)}) == []


@pytest.mark.parametrize("kind", ["weave", "fence", "noise"])
def test_no_code_in_a_picture(tmp_path, kind):
    ys, xs = np.mgrid[0:900, 0:1100]
    chance = np.random.default_rng(2)
    gray = {
        "weave": (np.sin(xs / 3.1) + np.sin(ys / 2.9)) * 60 + 128,
        "fence": (np.sin(xs / 9.0) > 0) * 120 + 60 + chance.normal(0, 6, xs.shape),
        "noise": chance.integers(0, 255, xs.shape),
    }[kind]
    book = Book()
    image = book.image(1100, 900, space=Name.DeviceGray, data=gray.clip(0, 255).astype(np.uint8).tobytes())
    book.page(f"q {mm(90)} 0 0 {mm(70)} {mm(5)} {mm(5)} cm /I Do Q", resources={"I": image})
    assert codes(book, tmp_path) == []


def test_a_page_without_places_asks_no_decoder(tmp_path, monkeypatch):
    """Bodies of text and flat areas cost one look through the paint list."""
    asked: list[object] = []
    monkeypatch.setattr(code_decoder, "_loaded", asked)
    lines = " ".join(f"1 0 0 1 20 {200 - 9 * line} Tm (Ferns of the valley) Tj" for line in range(20))
    content = f"0.2 0 0.4 0 k {rectangle(-3, -3, 106, 86)} f {K} BT /F 8 Tf {lines} ET"
    glyphs = dict.fromkeys("Fernsofthvaly", "600 0 d0 0 0 300 500 re f")
    assert of(content, tmp_path, lambda book: {"F": book.type3_font(glyphs)}) == []
    assert asked == []


def test_the_decoder_is_loaded_with_the_first_place():
    code = "import sys, preflight.inventory.barcodes; sys.exit('zxingcpp' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0
