"""Pictures supplied as files: what their header says, at what size they print, and that their pixels reach the page unchanged.

Truth: pictures made here; sizes by pixels / resolution; pixels as Pillow decodes them (``ImageOps.exif_transpose`` for orientation).
"""

from __future__ import annotations

import io
import struct
import zlib

import numpy as np
import pytest
from opened import CMYK_PROFILE, RGB_PROFILE, geometry_of, needs, opened
from pictured import tiff
from PIL import Image, ImageOps
from pymupdf import mupdf
from whole import job_for

from preflight.inventory.opening import open_artwork
from preflight.inventory.picture_header import estimated_quality
from preflight.inventory.picture_layout import place_picture
from preflight.inventory.warnings import take_warnings

#: A picture of blocks, so that a pixel's neighbourhood has its colour.
BLOCK = 12


def blocks(mode: str, columns: int = 4, rows: int = 3) -> Image.Image:
    """Every block another colour; the picture has no symmetry at all."""
    bands = {"1": 1, "L": 1, "RGB": 3, "CMYK": 4, "LAB": 3, "RGBA": 4}[mode]
    values = np.zeros((rows, columns, bands), np.uint8)
    for row in range(rows):
        for column in range(columns):
            for band in range(bands):
                values[row, column, band] = (row * 61 + column * 37 + band * 83 + row * column * 17) % 231
    data = values.repeat(BLOCK, 0).repeat(BLOCK, 1)
    if mode == "1":
        return Image.fromarray(data[:, :, 0]).point(lambda value: 255 * (value % 2)).convert("1")
    return Image.frombytes(mode, data.shape[1::-1], data.tobytes())


def saved(image: Image.Image, kind: str, **options) -> bytes:
    out = io.BytesIO()
    image.save(out, kind, **options)
    return out.getvalue()


def drawn(artwork, space: str, number: int = 1) -> np.ndarray:
    """The page as the engine draws it, a pixel a point, in a device space."""
    target = {"CMYK": mupdf.fz_device_cmyk, "RGB": mupdf.fz_device_rgb, "L": mupdf.fz_device_gray}[space]()
    pixels = mupdf.fz_new_pixmap_from_page(artwork.mupdf_page(number).super(), mupdf.FzMatrix(), target, 0)
    data = np.frombuffer(mupdf.ll_fz_pixmap_samples_memoryview(pixels.m_internal), np.uint8)
    return data.reshape(pixels.h(), pixels.w(), -1)


def centres(data: np.ndarray) -> np.ndarray:
    return data[BLOCK // 2 :: BLOCK, BLOCK // 2 :: BLOCK].astype(int)


def facts_of(data: bytes, folder, **order):
    with opened(data, folder, "picture", **order) as artwork:
        return artwork.facts


# --- pixels ----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("kind", "mode", "options", "off_by"),
    [
        ("TIFF", "CMYK", {}, 0), ("TIFF", "CMYK", {"compression": "tiff_lzw"}, 0), ("TIFF", "RGB", {"compression": "tiff_deflate"}, 0),
        ("TIFF", "L", {}, 0), ("TIFF", "1", {"compression": "group4"}, 0), ("TIFF", "1", {}, 0), ("PNG", "RGB", {}, 0), ("PNG", "L", {}, 0),
        ("PNG", "1", {}, 0), ("JPEG", "CMYK", {"quality": 100}, 3), ("JPEG", "RGB", {"quality": 100, "subsampling": 0}, 4), ("JPEG", "L", {"quality": 100}, 3),
        ("JPEG", "CMYK", {"quality": 100, "progressive": True}, 3), ("WEBP", "RGB", {"lossless": True}, 0),
    ],
)  # fmt: skip
def test_pixels_reach_the_page_unchanged(kind, mode, options, off_by, tmp_path):
    data = saved(blocks(mode), kind, **options)
    with opened(data, tmp_path, "picture") as artwork:
        assert artwork.facts.kind == kind.lower()
        space = "L" if mode == "1" else mode
        shown = centres(drawn(artwork, space))
    wanted = centres(np.asarray(Image.open(io.BytesIO(data)).convert(space)).reshape(*blocks(mode).size[::-1], -1))
    assert shown.shape == wanted.shape
    assert np.abs(shown - wanted).max() <= off_by


def test_lab_keeps_its_numbers(tmp_path):
    """Lab 0/0 in a and b is neutral gray: the byte 128 in Pillow, 0 in the file."""
    image = Image.new("LAB", (20, 20), (128, 128, 128))
    with opened(saved(image, "TIFF"), tmp_path, "picture") as artwork:
        red, green, blue = drawn(artwork, "RGB")[10, 10].astype(int)
    assert max(red, green, blue) - min(red, green, blue) <= 3
    assert 110 < green < 130  # L* 50 is sRGB 119


@pytest.mark.parametrize("mode", ["P", "RGBA", "LA"])
def test_palettes_become_rgb_and_transparency_is_noted(mode, tmp_path):
    image = blocks("RGB").convert("P" if mode == "P" else mode)
    facts = facts_of(saved(image, "PNG"), tmp_path).image_file
    assert (facts.palette, facts.alpha) == (mode == "P", mode != "P")
    with opened(saved(image, "PNG"), tmp_path, "picture") as artwork:
        shown = centres(drawn(artwork, "RGB"))
    assert np.abs(shown - centres(np.asarray(image.convert("RGB")))).max() <= 1


@pytest.mark.parametrize(("bits", "scale"), [(16, 257), (12, 16)])
def test_deep_gray_is_cut_to_eight_bits(bits, scale, tmp_path):
    values = np.arange(0, 240, 10, dtype=np.uint16).repeat(BLOCK)[None, :].repeat(BLOCK, 0) * np.uint16(scale)
    pixels = values.astype("<u2").tobytes() if bits == 16 else twelve_bits(values)
    data = tiff(values.shape[1], BLOCK, pixels, bits=(bits,), photometric=1)
    with opened(data, tmp_path, "picture") as artwork:
        assert artwork.facts.image_file.bits == bits
        shown = drawn(artwork, "L")[BLOCK // 2, BLOCK // 2 :: BLOCK, 0]
    assert np.abs(shown.astype(int) - np.arange(0, 240, 10)).max() <= 1


def twelve_bits(values: np.ndarray) -> bytes:
    """Two values in three bytes."""
    pairs = values.reshape(-1, 2).astype(int)
    return b"".join(bytes([a >> 4, (a & 15) << 4 | b >> 8, b & 255]) for a, b in pairs)


@pytest.mark.parametrize("orientation", range(1, 9))
@pytest.mark.parametrize("kind", ["JPEG", "TIFF", "PNG"])
def test_the_orientation_is_applied_first(orientation, kind, tmp_path):
    exif = Image.Exif()
    exif[274] = orientation
    extra = {"exif": exif} if kind != "TIFF" else {"tiffinfo": {274: orientation}}
    data = saved(blocks("RGB"), kind, **extra, **({"quality": 100, "subsampling": 0} if kind == "JPEG" else {}))
    turned = ImageOps.exif_transpose(Image.open(io.BytesIO(data)))
    with opened(data, tmp_path, "picture") as artwork:
        facts = artwork.facts.image_file
        assert (facts.width_px, facts.height_px, facts.orientation) == (*turned.size, orientation)
        shown = centres(drawn(artwork, "RGB"))
    assert np.abs(shown - centres(np.asarray(turned.convert("RGB")))).max() <= 6


def test_resolution_turns_with_the_orientation(tmp_path):
    for kind, extra in (("TIFF", {"tiffinfo": {274: 6, 282: 200.0, 283: 400.0, 296: 2}}),):
        facts = facts_of(saved(blocks("L"), kind, **extra), tmp_path)
        # 48 x 36 pixels as stored at 200 x 400 ppi: 6.096 x 2.286 mm, on its side
        assert (facts.image_file.x_ppi, facts.image_file.y_ppi) == (400.0, 200.0)


# --- the header ------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("data", "expected"),
    [
        (saved(blocks("RGB"), "JPEG", dpi=(300, 300)), (300.0, 300.0, "JFIF")),
        (saved(blocks("RGB"), "JPEG"), (None, None, None)),
        (saved(blocks("RGB"), "TIFF", dpi=(240, 240)), (240.0, 240.0, "TIFF tag")),
        (saved(blocks("RGB"), "TIFF"), (None, None, None)),
        (saved(blocks("RGB"), "TIFF", tiffinfo={282: 118.11, 283: 118.11, 296: 3}), (299.9994, 299.9994, "TIFF tag")),
        (saved(blocks("RGB"), "TIFF", tiffinfo={282: 300.0, 283: 300.0, 296: 1}), (None, None, None)),
        (saved(blocks("RGB"), "TIFF", dpi=(1, 1)), (None, None, None)),
        (saved(blocks("RGB"), "PNG", dpi=(300, 300)), (299.9994, 299.9994, "PNG pHYs")),
        (saved(blocks("RGB"), "PNG"), (None, None, None)),
    ],
    ids=["JFIF", "JPEG without", "TIFF inch", "TIFF without", "TIFF cm", "TIFF without unit", "one to the inch", "PNG metre", "PNG without"],
)  # fmt: skip
def test_resolution_by_its_tag(data, expected, tmp_path):
    facts = facts_of(data, tmp_path).image_file
    assert (facts.x_ppi, facts.y_ppi) == tuple(
        None if value is None else pytest.approx(value, abs=0.01) for value in expected[:2]
    )
    assert facts.ppi_from == expected[2]


def test_channels_that_a_picture_should_not_have(tmp_path):
    spot = tiff(10, 10, bytes(500), bits=(8,) * 5, tags={338: (3, [0]), 333: (2, list(b"C\0M\0Y\0K\0Moss\0"))})
    facts = facts_of(spot, tmp_path).image_file
    assert (facts.mode, facts.channels, facts.extra_channels, facts.alpha) == ("CMYK", 5, ("Moss",), False)
    plain = facts_of(tiff(10, 10, bytes(400), bits=(8,) * 4), tmp_path).image_file
    assert (plain.channels, plain.extra_channels) == (4, ())


def test_jpeg_quality_is_that_of_the_encoder():
    """The usual encoder scales the standard table; at 50 it is the table itself (ISO/IEC 10918-1, K.1)."""
    for quality in (30, 50, 75, 90):
        tables = Image.open(io.BytesIO(saved(blocks("RGB"), "JPEG", quality=quality))).quantization
        assert estimated_quality(tables) == pytest.approx(quality, abs=1.0)
    assert estimated_quality({}) is None


def test_a_negative_looks_inverted(tmp_path):
    positive = Image.new("CMYK", (40, 40), (20, 30, 40, 10))
    negative = Image.new("CMYK", (40, 40), (235, 225, 215, 245))
    for image, expected in ((positive, False), (negative, True)):
        for kind in ("TIFF", "JPEG"):
            assert facts_of(saved(image, kind), tmp_path).image_file.looks_inverted is expected
    assert facts_of(saved(blocks("RGB"), "TIFF"), tmp_path).image_file.looks_inverted is None


@needs(CMYK_PROFILE, RGB_PROFILE)
def test_a_profile_fits_its_pixels_or_not(tmp_path):
    cmyk, rgb = CMYK_PROFILE.read_bytes(), RGB_PROFILE.read_bytes()
    cases = [("CMYK", cmyk, True), ("CMYK", rgb, False), ("RGB", rgb, True), ("RGB", cmyk, False), ("L", rgb, False)]
    for mode, profile, fits in cases:
        facts = facts_of(saved(blocks(mode), "TIFF", icc_profile=profile), tmp_path)
        assert facts.image_file.profile_fits is fits, (mode, fits)
        assert len(facts.output_intents) == (mode == "CMYK" and fits)
    assert facts_of(saved(blocks("CMYK"), "TIFF"), tmp_path).image_file.profile_fits is None


@needs(CMYK_PROFILE)
def test_numbers_of_a_cmyk_picture_with_a_profile_reach_its_plates(tmp_path):
    from preflight.inventory.press import press_condition

    data = saved(blocks("CMYK"), "TIFF", icc_profile=CMYK_PROFILE.read_bytes())
    with opened(data, tmp_path, "picture") as artwork:
        press = press_condition(artwork.document)
        assert (press.profile_from, press.profile_name) == ("file", "Artifex CMYK SWOP Profile")
        pixels = mupdf.fz_new_pixmap_from_page(artwork.mupdf_page(1).super(), mupdf.FzMatrix(), press.space, 0)
        shown = np.frombuffer(mupdf.ll_fz_pixmap_samples_memoryview(pixels.m_internal), np.uint8)
        shown = centres(shown.reshape(pixels.h(), pixels.w(), 4))
    assert np.abs(shown - centres(np.asarray(blocks("CMYK")))).max() <= 1


def test_frames_are_pages(tmp_path):
    frames = [blocks("CMYK"), blocks("L", 5, 2), blocks("1")]
    data = saved(frames[0], "TIFF", save_all=True, append_images=frames[1:])
    with opened(data, tmp_path, "picture") as artwork:
        facts = artwork.facts
        assert (facts.pages, facts.image_file.frames) == (3, 3)
        assert facts.image_file.details["frame 2"] == "L, 60 x 24 pixels"
        sizes = [geometry_of(artwork, number).frame.media for number in (1, 2, 3)]
    assert [(round(size.width), round(size.height)) for size in sizes] == [(48, 36), (60, 24), (48, 36)]


def test_smaller_copies_beside_the_picture_are_no_pages(tmp_path):
    first, second = blocks("RGB"), blocks("RGB", 2, 2)
    out = io.BytesIO()
    from PIL import TiffImagePlugin

    with TiffImagePlugin.AppendingTiffWriter(out, True) as file:
        first.save(file, "TIFF")
        file.newFrame()
        second.save(file, "TIFF", tiffinfo={254: 1})
    assert facts_of(out.getvalue(), tmp_path).pages == 1


# --- limits and damage -----------------------------------------------------------------------------------------------


def huge_png(side: int) -> bytes:
    """One colour, a few kilobytes; only the header says how large it is."""
    pack = zlib.compressobj(9)
    rows = b"".join(pack.compress(b"\0" * (1 + side)) for _ in range(50)) + pack.flush()

    def chunk(kind: bytes, body: bytes) -> bytes:
        return struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body))

    header = struct.pack(">IIBBBBB", side, side, 8, 0, 0, 0, 0)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", header) + chunk(b"IDAT", rows) + chunk(b"IEND", b"")


def test_a_picture_too_large_for_the_memory_is_refused_by_its_header(tmp_path):
    facts = facts_of(huge_png(60_000), tmp_path)
    assert facts.unreadable is None
    assert "60000 x 60000 pixels need" in (facts.not_supported or "")


def test_the_memory_limit_decides(tmp_path):
    path = tmp_path / "picture"
    path.write_bytes(saved(Image.new("CMYK", (1000, 1000)), "TIFF"))
    for limit, refused in ((4_000_000, True), (40_000_000, False)):
        with open_artwork(path, job=job_for(), memory_limit_bytes=limit) as artwork:
            assert (artwork.facts.not_supported is not None) is refused


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (tiff(10, 10, bytes(700), bits=(8,) * 7, tags={338: (3, [0, 0, 0])}), "7 channels"),
        (b"8BPS\0\1" + bytes(6) + struct.pack(">HIIHH", 4, 10, 10, 16, 4), "16 bits"),
        (b"8BPS\0\1" + bytes(6) + struct.pack(">HIIHH", 1, 10, 10, 8, 8), "duotone"),
        (saved(Image.new("F", (10, 10)), "TIFF"), "pixels of the form F"),
    ],
)
def test_kinds_that_cannot_be_read_here_are_no_fault_of_the_file(data, words, tmp_path):
    facts = facts_of(data, tmp_path)
    assert facts.unreadable is None
    assert words in (facts.not_supported or "")
    assert "kind not supported" in (facts.not_supported or "")


@pytest.mark.parametrize("kind", ["TIFF", "PNG"])
def test_a_picture_cut_in_the_middle_is_unreadable(kind, tmp_path):
    data = saved(Image.effect_noise((200, 200), 60).convert("RGB"), kind)
    # The directory of a TIFF stands behind the pixels here: put the cut between both.
    cut = data[: len(data) // 2] if kind == "PNG" else tiff(200, 200, data[8:60_000], bits=(8, 8, 8), photometric=2)
    facts = facts_of(cut, tmp_path)
    assert "damaged" in (facts.unreadable or "")
    assert facts.pages is None


def test_a_jpeg_cut_in_the_middle_is_told_on_its_page(tmp_path):
    from preflight.inventory.damage import page_damage

    data = saved(Image.effect_noise((200, 200), 60).convert("RGB"), "JPEG")
    for sample, expected in ((data, False), (data[: len(data) // 2], True)):
        with opened(sample, tmp_path, "picture") as artwork:
            take_warnings()
            drawn(artwork, "RGB")
            broken, _ = page_damage(artwork, 1, take_warnings())
        assert bool(broken) is expected


def test_one_damaged_frame_leaves_the_others(tmp_path):
    from preflight.inventory.damage import page_damage

    noise = Image.effect_noise((100, 100), 60)
    data = bytearray(saved(noise, "TIFF", compression="tiff_deflate", save_all=True, append_images=[noise, noise]))
    with Image.open(io.BytesIO(bytes(data))) as whole:
        whole.seek(1)
        place = whole.tag_v2[273][0]
    data[place : place + 60] = b"\xff" * 60
    with opened(bytes(data), tmp_path, "picture") as artwork:
        assert artwork.facts.pages == 3
        assert [bool(page_damage(artwork, number, [])[0]) for number in (1, 2, 3)] == [False, True, False]


# --- the size in print -----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("pixels", "ppi", "order", "expected"),
    [
        # its own size: pixels / resolution
        ((1200, 900), 300.0, {}, (101.6, 76.2, 0, "image")),
        ((1200, 900), None, {}, (None, None, 0, "unknown")),
        ((1200, 900), 72.0, {}, (None, None, 0, "unknown")),
        ((1200, 900), 96.0, {}, (None, None, 0, "unknown")),
        # the ordered size, by its own size or by its proportions, also enlarged
        ((1181, 945), 300.0, {"trim_mm": (100, 80)}, (100, 80, 0, "ticket")),
        ((500, 400), None, {"trim_mm": (100, 80)}, (100, 80, 0, "ticket")),
        ((500, 400), 300.0, {"trim_mm": (100, 80)}, (100, 80, 0, "ticket")),
        ((400, 500), 72.0, {"trim_mm": (100, 80)}, (80, 100, 0, "ticket")),
        ((500, 400), 300.0, {"trim_mm": (210, 297), "printed_size_mm": (50, 40)}, (50, 40, 0, "ticket")),
        # larger by an even bleed: by its own size, or by its proportions
        ((1252, 1016), 300.0, {"trim_mm": (100, 80)}, (106, 86, 3, "ticket")),
        ((1300, 1063), 300.0, {"trim_mm": (100, 80)}, (110, 90, 5, "ticket")),
        ((1060, 860), None, {"trim_mm": (100, 80)}, (106, 86, 3, "ticket")),
        ((1100, 900), None, {"trim_mm": (100, 80), "bleed_mm": 5.0}, (110, 90, 5, "ticket")),
        # neither: its own size, else it covers the ordered one
        ((1200, 1200), 300.0, {"trim_mm": (100, 80)}, (101.6, 101.6, 0, "image")),
        ((1200, 1200), None, {"trim_mm": (100, 80)}, (100, 100, 0, "ticket")),
    ],
)  # fmt: skip
def test_where_a_picture_prints(pixels, ppi, order, expected):
    placed = place_picture(*pixels, ppi, ppi, job_for(**order))
    width, height, margin, size_from = expected
    assert placed.size_from == size_from
    if width is not None:
        assert (placed.width_mm, placed.height_mm) == pytest.approx((width, height), abs=0.2)
        assert placed.margin_mm == pytest.approx(margin, abs=0.1)


def test_the_page_of_a_picture_with_bleed(tmp_path):
    data = saved(Image.new("CMYK", (1252, 1016), (90, 10, 90, 0)), "TIFF", dpi=(300, 300))
    with opened(data, tmp_path, "picture", trim_mm=(100.0, 80.0)) as artwork:
        found = geometry_of(artwork)
    assert found.trim_from == "ticket"
    assert found.trim_mm == pytest.approx((100, 80), abs=0.1)
    assert found.bleed_mm == pytest.approx((3, 3, 3, 3), abs=0.1)


def test_the_page_of_a_picture_of_unknown_size(tmp_path):
    with opened(saved(blocks("CMYK"), "TIFF"), tmp_path, "picture") as artwork:
        found = geometry_of(artwork)
    assert (found.trim_from, found.trim_mm, found.bleed_mm) == ("unknown", None, None)


def test_different_resolutions_along_the_sides(tmp_path):
    """A fax: 1728 x 1100 pixels at 204 x 98 ppi are 215.2 x 285.1 mm."""
    data = saved(
        Image.new("1", (1728, 1100), 1), "TIFF", compression="group3", tiffinfo={282: 204.0, 283: 98.0, 296: 2}
    )
    with opened(data, tmp_path, "picture") as artwork:
        assert geometry_of(artwork).trim_mm == pytest.approx((215.15, 285.10), abs=0.05)


def test_nothing_is_left_on_disk(tmp_path, monkeypatch):
    import tempfile

    scratch = tmp_path / "scratch"
    scratch.mkdir()
    monkeypatch.setattr(tempfile, "tempdir", str(scratch))
    with opened(saved(blocks("CMYK"), "TIFF"), tmp_path, "picture") as artwork:
        assert drawn(artwork, "CMYK").any()
        assert list(scratch.iterdir()) == []
    with opened(b"II*\0" + bytes(50), tmp_path, "broken") as artwork:
        assert artwork.facts.unreadable
    assert list(scratch.iterdir()) == []
