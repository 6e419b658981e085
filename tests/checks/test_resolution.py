"""Resolution of pictures: worked examples, masks, tiles, what cannot be seen, and every disguise a picture can take."""

from __future__ import annotations

import math

import pytest
import twins
from artwork import Book, mm
from pikepdf import Array, Dictionary, Name, String
from whole import found_in, job_for, report_of


def ids_of(book: Book, folder, **order) -> list[tuple[str, float]]:
    return [(each.id, each.measured) for each in found_in(book, folder, "resolution", **order)]


def placed(width: int, height: int, matrix: str, *, trim=(150.0, 120.0), **more) -> Book:
    """A picture of so many pixels under a matrix (points from the trim's lower left corner)."""
    book = Book()
    entries = {key: more.pop(key) for key in ("UserUnit",) if key in more}
    book.page(f"q {matrix} cm /P Do Q", resources={"P": book.image(width, height, **more)}, trim_mm=trim, **entries)
    return book


# --- the ladder: 72 x pixels / length in points; 1.0, 1.5 and 3 x a ruling of 150 lines an inch ---


@pytest.mark.parametrize(
    ("pixels", "expected"),
    [
        (143, ("resolution.low", 143.0)),
        (149, ("resolution.low", 149.0)),
        (150, ("resolution.soft", 150.0)),  # exactly at the limit passes
        (224, ("resolution.soft", 224.0)),
        (225, None),
        (300, None),
    ],
)
def test_a_picture_an_inch_wide(pixels, expected, tmp_path) -> None:
    book = placed(pixels, pixels, "72 0 0 72 50 50")
    assert ids_of(book, tmp_path) == ([expected] if expected else [])


def test_half_a_pixel_an_inch_is_no_matter(tmp_path) -> None:
    # 150 px over 72.2 pt are 149.58 ppi
    assert [each for each, _ in ids_of(placed(150, 150, "72.2 0 0 72.2 50 50"), tmp_path)] == ["resolution.soft"]


@pytest.mark.parametrize(
    ("width", "height", "matrix", "ppi"),
    [
        (1200, 300, "288 0 0 72 20 20", None),  # 1200 px over 4 inches: 300 ppi, factor 2 at 150 lpi
        (1000, 800, "240 0 0 192 20 20", None),  # 300 / 300 ppi
        (1000, 800, "360 0 0 288 20 20", 200.0),  # the same at a scale of 1.5
        (300, 300, "72 0 0 144 20 20", 150.0),  # the worse axis counts
        (100, 100, "62.354 36 -36 62.354 90 20", 100.0),  # turned by 30 degrees: still an inch
        (100, 100, "72 0 36 72 20 20", 72 * 100 / math.hypot(36, 72)),  # leaning: 89.44 along the slant
        (300, 300, "-72 0 0 72 200 20", None),
    ],
)
def test_worked_examples(width, height, matrix, ppi, tmp_path) -> None:
    found = ids_of(placed(width, height, matrix), tmp_path)
    assert [measured for _, measured in found] == ([pytest.approx(ppi, abs=0.1)] if ppi else [])


def test_art_built_at_a_tenth(tmp_path) -> None:
    """300 ppi art at a tenth of its size is 30 ppi in print: the same by the user unit, and by a scale."""
    assert ids_of(placed(60, 60, "14.4 0 0 14.4 5 5", trim=(20.0, 15.0), UserUnit=10), tmp_path) == [
        ("resolution.low", pytest.approx(30.0, abs=0.1))
    ]
    assert ids_of(placed(60, 60, "10 0 0 10 0 0 cm 14.4 0 0 14.4 5 5"), tmp_path) == [
        ("resolution.low", pytest.approx(30.0, abs=0.1))
    ]


@pytest.mark.parametrize(
    ("rules", "low", "soft"), [("sheetfed-uncoated", 133, 200), ("heatset-web", 133, 200), ("newsprint", 85, 127)]
)
def test_other_papers_have_their_own_limits(rules, low, soft, tmp_path) -> None:
    for pixels, expected in ((low - 1, "resolution.low"), (soft - 1, "resolution.soft"), (soft, None)):
        path = placed(pixels, pixels, "72 0 0 72 50 50").save(tmp_path / "a.pdf")
        found = [each.id for each in report_of(path, job_for(rules)).findings if each.id.startswith("resolution.")]
        assert found == ([expected] if expected else [])


def test_more_than_print_can_show_is_a_note_if_it_is_large(tmp_path) -> None:
    noise = bytes((x * x * 31 + (x >> 3) * 17 + (x * 7919) % 251) % 256 for x in range(700 * 700 * 4))
    found = found_in(placed(700, 700, "72 0 0 72 50 50", data=noise), tmp_path, "resolution")
    assert [(each.id, each.severity.value, each.measured) for each in found] == [
        ("resolution.excessive", "note", pytest.approx(700.0))
    ]
    flat = bytes(700 * 700 * 4)
    assert ids_of(placed(700, 700, "72 0 0 72 50 50", data=flat), tmp_path) == []


# --- one bit ---


@pytest.mark.parametrize("stencil", [False, True])
@pytest.mark.parametrize(
    ("pixels", "expected"),
    [
        (599, "resolution.line-art-low"),
        (600, "resolution.line-art-soft"),
        (799, "resolution.line-art-soft"),
        (800, None),
    ],
)
def test_line_art(pixels, expected, stencil, tmp_path) -> None:
    more = {"ImageMask": True} if stencil else {"space": Name.DeviceGray}
    book = placed(pixels, pixels, "72 0 0 72 50 50", bits=1, **more)
    assert [each for each, _ in ids_of(book, tmp_path)] == ([expected] if expected else [])


def test_stencils_of_nothing_but_rectangles(tmp_path) -> None:
    bars = bytes([0xF0] * 8)
    assert ids_of(placed(8, 8, "72 0 0 72 50 50", bits=1, ImageMask=True, data=bars), tmp_path) == []
    whole = bytes([0xFF] * 8)
    assert ids_of(placed(8, 8, "72 0 0 72 50 50", bits=1, ImageMask=True, data=whole), tmp_path) == []


# --- masks ---


def masked(base, mask, *, flat=False) -> Book:
    book = Book()
    soft = book.image(*mask, space=Name.DeviceGray)
    data = bytes([0, 90, 200, 10]) * (base[0] * base[1]) if flat else None
    book.page("q 72 0 0 72 50 50 cm /P Do Q", resources={"P": book.image(*base, data=data, SMask=soft)})
    return book


@pytest.mark.parametrize(
    ("base", "mask", "flat", "expected"),
    [
        ((300, 300), (300, 300), False, None),
        ((300, 300), (100, 100), False, ("resolution.low", 100.0)),  # the mask alone
        ((100, 100), (300, 300), False, ("resolution.low", 100.0)),  # the picture alone
        ((1, 1), (300, 300), True, None),  # one dot of colour: all detail is in the mask
        ((2, 2), (300, 300), False, None),  # far coarser than its mask, as scanners do it
        ((1, 1), (100, 100), True, ("resolution.low", 100.0)),
    ],
)
def test_a_soft_mask_has_a_resolution_of_its_own(base, mask, flat, expected, tmp_path) -> None:
    assert ids_of(masked(base, mask, flat=flat), tmp_path) == ([expected] if expected else [])


def test_a_stencil_mask_is_line_art(tmp_path) -> None:
    book = Book()
    stencil = book.image(300, 300, bits=1, ImageMask=True)
    book.page("q 72 0 0 72 50 50 cm /P Do Q", resources={"P": book.image(300, 300, Mask=stencil)})
    # The picture itself is fine; its outline is a stencil of 300 ppi, no coarser than the picture.
    assert ids_of(book, tmp_path) == []
    book = Book()
    stencil = book.image(300, 300, bits=1, ImageMask=True)
    colour = bytes([0, 90, 200, 10])
    book.page("q 72 0 0 72 50 50 cm /P Do Q", resources={"P": book.image(1, 1, data=colour, Mask=stencil)})
    assert ids_of(book, tmp_path) == [("resolution.line-art-low", 300.0)]


@pytest.mark.parametrize(
    ("base", "expected"),
    [((300, 300), None), ((100, 100), ("resolution.low", 100.0)), ((20, 20), ("resolution.low", 20.0))],
)
@pytest.mark.parametrize("mask", [(1, 1), (50, 50)])
@pytest.mark.parametrize("tone", [0xFF, 0x80])
def test_a_mask_of_one_tone_has_no_resolution(tone, mask, base, expected, tmp_path) -> None:
    """It makes the whole picture fainter, or does nothing: the picture alone counts."""
    book = Book()
    soft = book.image(*mask, space=Name.DeviceGray, data=bytes([tone]) * (mask[0] * mask[1]))
    book.page("q 72 0 0 72 50 50 cm /P Do Q", resources={"P": book.image(*base, SMask=soft)})
    assert ids_of(book, tmp_path) == ([expected] if expected else [])


@pytest.mark.parametrize("kind", ["soft", "stencil"])
@pytest.mark.parametrize("mask", [(1, 1), (64, 64), (600, 600)])
def test_a_picture_masked_away_is_not_there(mask, kind, tmp_path) -> None:
    """Of any size; one dot of the mask that lets it through, and it shows."""
    width, height = mask
    for shows in (False, True):
        book = Book()
        if kind == "soft":
            data = bytearray(width * height)
            data[0] = 255 if shows else 0
            mask_of = {"SMask": book.image(width, height, space=Name.DeviceGray, data=bytes(data))}
        else:  # a stencil lets through where it is 0
            row = (width + 7) // 8
            data = bytearray(b"\xff" * (row * height))
            data[0] = 0x7F if shows else 0xFF
            mask_of = {"Mask": book.image(width, height, bits=1, ImageMask=True, data=bytes(data))}
        book.page("q 72 0 0 72 50 50 cm /P Do Q", resources={"P": book.image(100, 100, **mask_of)})
        assert bool(ids_of(book, tmp_path)) is shows


@pytest.mark.parametrize(
    ("rows", "expected"),
    [
        (bytes([0xF0] * 8), []),
        (bytes([0x80, 0xC0, 0xE0, 0xF0, 0xF8, 0xFC, 0xFE, 0xFF]), [("resolution.line-art-low", 8.0)]),
    ],
)
def test_a_coarse_stencil_over_a_fine_picture(rows, expected, tmp_path) -> None:
    """A window of upright edges has no stairs; a slanting edge has."""
    book = Book()
    stencil = book.image(8, 8, bits=1, ImageMask=True, data=rows)
    book.page("q 72 0 0 72 50 50 cm /P Do Q", resources={"P": book.image(300, 300, Mask=stencil)})
    assert ids_of(book, tmp_path) == expected


@pytest.mark.parametrize("dark", ["000000FF", "00640000", "28000000"])
def test_line_art_of_a_palette(dark, tmp_path) -> None:
    """The two tones may differ in any part of the colour, and by little."""
    stairs = bytes([0x80, 0xC0, 0xE0, 0xF0, 0xF8, 0xFC, 0xFE, 0xFF])

    def drawn(data: bytes, points: int) -> Book:
        palette = Array([Name.Indexed, Name.DeviceCMYK, 1, String(bytes.fromhex("00000000" + dark))])
        return placed(8, 8, f"{points} 0 0 {points} 50 50", bits=1, space=palette, data=data)

    assert ids_of(drawn(stairs, 36), tmp_path) == [("resolution.line-art-low", 16.0)]
    assert ids_of(drawn(stairs, 2), tmp_path) == []  # small
    assert ids_of(drawn(bytes([0xF0] * 8), 36), tmp_path) == []  # nothing but rectangles


FADING = bytes(range(240))


@pytest.mark.parametrize(
    ("width", "height", "data", "expected"),
    [
        (240, 1, FADING, None),
        (1, 240, FADING, None),
        (240, 3, FADING * 3, None),
        (3, 240, bytes(tone for tone in FADING for _ in range(3)), None),
        (100, 1, FADING[:100], ("resolution.low", 100.0)),
        (240, 2, FADING + FADING[::-1], ("resolution.low", 2.0)),
    ],
)
@pytest.mark.parametrize("as_mask", [False, True])
def test_a_strip_that_fades_shows_pixels_along_one_axis_only(as_mask, width, height, data, expected, tmp_path) -> None:
    book = Book()
    strip = book.image(width, height, space=Name.DeviceGray, data=data)
    picture = book.image(300, 300, SMask=strip) if as_mask else strip
    book.page("q 72 0 0 72 50 50 cm /P Do Q", resources={"P": picture})
    assert ids_of(book, tmp_path) == ([expected] if expected else [])


# --- what cannot be seen ---


def test_a_picture_squeezed_to_nothing(tmp_path) -> None:
    assert ids_of(placed(100, 100, "72 0 0 0 50 50"), tmp_path) == []


def test_flat_colour(tmp_path) -> None:
    assert ids_of(placed(20, 20, "72 0 0 72 50 50", data=bytes([0, 90, 200, 10] * 400)), tmp_path) == []


def test_small_pictures(tmp_path) -> None:
    side = mm(4.9)
    assert ids_of(placed(9, 9, f"{side} 0 0 {side} 50 50"), tmp_path) == []
    side = mm(5.1)
    assert [each for each, _ in ids_of(placed(9, 9, f"{side} 0 0 {side} 50 50"), tmp_path)] == ["resolution.low"]
    assert [each for each, _ in ids_of(placed(9, 90, f"{mm(2)} 0 0 {mm(40)} 50 50"), tmp_path)] == ["resolution.low"]


def test_small_pictures_that_touch_are_tiles_of_a_large_one(tmp_path) -> None:
    book = Book()
    tile = book.image(11, 11)
    cells = " ".join(
        f"q {mm(4)} 0 0 {mm(4)} {mm(20 + 4 * column)} {mm(20 + 4 * row)} cm /T Do Q"
        for column in range(8)
        for row in range(5)
    )
    book.page(cells, resources={"T": tile})
    found = found_in(book, tmp_path, "resolution")
    assert [(each.id, each.count) for each in found] == [("resolution.low", 40)]
    book = Book()
    icons = " ".join(f"q {mm(4)} 0 0 {mm(4)} {mm(10 + 8 * column)} {mm(20)} cm /T Do Q" for column in range(8))
    book.page(icons, resources={"T": book.image(11, 11)})
    assert ids_of(book, tmp_path) == []


def test_strips_of_one_picture_are_one_finding(tmp_path) -> None:
    book = Book()
    strips = {f"S{index}": book.image(100, 10) for index in range(10)}
    drawn = " ".join(f"q {mm(50)} 0 0 {mm(5)} {mm(20)} {mm(20 + 5 * index)} cm /S{index} Do Q" for index in range(10))
    book.page(drawn, resources=strips)
    found = found_in(book, tmp_path, "resolution")
    assert [(each.id, each.count) for each in found] == [("resolution.low", 10)]
    assert found[0].box_mm == pytest.approx([20, 10, 70, 60], abs=0.02)


def test_the_same_picture_twice_is_one_finding_with_the_worse_value(tmp_path) -> None:
    book = Book()
    book.page(
        "q 72 0 0 72 0 0 cm /P Do Q q 36 0 0 36 200 150 cm /P Do Q q 144 0 0 100 100 20 cm /P Do Q",
        resources={"P": book.image(100, 100)},
    )
    found = found_in(book, tmp_path, "resolution")
    assert [(each.id, each.measured, each.count) for each in found if each.id.endswith("low")] == [
        ("resolution.low", pytest.approx(50.0), 2)
    ]


def test_an_inline_picture(tmp_path) -> None:
    data = "".join(chr(33 + (index * 37) % 90) for index in range(64))
    book = Book()
    book.page(f"q 72 0 0 72 50 50 cm BI /W 8 /H 8 /BPC 8 /CS /G ID {data} EI Q")
    assert ids_of(book, tmp_path) == [("resolution.low", 8.0)]


def test_a_picture_in_a_soft_mask(tmp_path) -> None:
    """It is no ink, but its dots show as an edge."""
    book = Book()
    shape = book.form(
        "q 72 0 0 72 50 50 cm /P Do Q",
        resources={"P": book.image(72, 72, space=Name.DeviceGray)},
        Group=Dictionary(S=Name.Transparency, CS=Name.DeviceGray),
    )
    state = book.state(SMask=Dictionary(Type=Name.Mask, S=Name.Luminosity, G=shape))
    book.page("/S gs 0 g 0 0 200 200 re f", resources={"S": state})
    assert ids_of(book, tmp_path) == [("resolution.low", 72.0)]


# --- seen or not ---

PHOTO = twins.Thing(
    f"q {mm(20)} 0 0 {mm(15)} {mm(10)} {mm(10)} cm /Photo Do Q",
    (10, 10, 20, 15),
    resources=lambda book: {"Photo": book.image(40, 30)},
)
STENCIL = twins.Thing(
    f"q 0 0 0 1 k {mm(20)} 0 0 {mm(15)} {mm(10)} {mm(10)} cm /Dots Do Q",
    (10, 10, 20, 15),
    resources=lambda book: {"Dots": book.image(40, 30, bits=1, ImageMask=True)},
)
#: 40 px over 20 mm
PPI = 40 / 20 * 25.4
THINGS = {"resolution.low": PHOTO, "resolution.line-art-low": STENCIL}


@pytest.mark.parametrize("name", THINGS)
@pytest.mark.parametrize("twin", twins.NESTED)
def test_found_however_it_is_drawn(name, twin, tmp_path) -> None:
    assert ids_of(twins.book(THINGS[name], twin), tmp_path) == [(name, pytest.approx(PPI, rel=2e-3))]
    assert twins.leaves_mark(THINGS[name], twin, tmp_path)


@pytest.mark.parametrize("name", THINGS)
@pytest.mark.parametrize("twin", twins.HIDDEN)
def test_silent_where_nobody_sees_it(name, twin, tmp_path) -> None:
    assert ids_of(twins.book(THINGS[name], twin), tmp_path) == []
    assert not twins.leaves_mark(THINGS[name], twin, tmp_path)


def test_a_picture_that_is_only_in_the_resources(tmp_path) -> None:
    book = Book()
    book.page("", resources={"P": book.image(9, 9)})
    assert ids_of(book, tmp_path) == []


def test_the_part_that_shows_is_boxed(tmp_path) -> None:
    book = Book()
    clip = f"{mm(30)} {mm(30)} {mm(20)} {mm(10)} re W n"
    book.page(
        f"q {clip} {mm(90)} 0 0 {mm(70)} 0 0 cm /P Do Q",
        resources={"P": book.image(40, 40)},
        boxes={"CropBox": [0, 0, 60, 60]},
    )
    found = found_in(book, tmp_path, "resolution")
    assert [each.box_mm for each in found] == [pytest.approx([30, 40, 50, 50], abs=0.02)]
