"""A supplied picture whose pixels the engine holds gives the same answers as one that it reads from the wrapped file."""

from __future__ import annotations

import io
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from opened import CMYK_PROFILE, RGB_PROFILE, needs, opened
from pictured import texture
from PIL import Image, ImageDraw
from pymupdf import mupdf
from symbols import ean_13, qr
from whole import job_for

from preflight.inventory import held_picture, imagefile, picture_view
from preflight.inventory.reading import PageReading, read_page
from preflight.units import Box

NEEDS = frozenset(("paint", "pictures", "barcodes", "overprint", "trap"))


def picture(mode: str, width: int = 700, height: int = 500) -> Image.Image:
    """Texture in every part, a flat corner and a thin line."""
    bands = {"L": 1, "RGB": 3, "CMYK": 4}[mode]
    parts = [Image.fromarray(texture(width, height, seed)) for seed in range(bands)]
    made = parts[0] if bands == 1 else Image.merge(mode, parts)
    draw = ImageDraw.Draw(made)
    draw.rectangle((0, 0, 90, 70), fill=(40,) * bands if bands > 1 else 40)
    draw.line((0, height // 2, width, height // 2), fill=(250,) * bands if bands > 1 else 250)
    return made


def saved(image: Image.Image, kind: str, **options: object) -> bytes:
    out = io.BytesIO()
    image.save(out, kind, **options)
    return out.getvalue()


def read(data: bytes, folder: Path, **order: object) -> tuple[PageReading, bool]:
    """The first page, and whether the engine held its picture."""
    with opened(data, folder, "picture", **order) as artwork:
        is_held = artwork.held_picture is not None
        return read_page(artwork, 1, job_for(**order), NEEDS), is_held


def read_both_ways(data: bytes, folder: Path, monkeypatch: pytest.MonkeyPatch, **order: object) -> list[PageReading]:
    held, is_held = read(data, folder, **order)
    assert is_held
    monkeypatch.setattr(imagefile, "hold_picture", lambda *_: None)
    left, is_held = read(data, folder, **order)
    assert not is_held
    return [held, left]


def assert_same(held: PageReading, left: PageReading) -> None:
    assert held.pixels.inks == left.pixels.inks
    assert all((one == other).all() for one, other in zip(held.pixels.planes, left.pixels.planes, strict=True))
    assert any(plane.any() for plane in held.pixels.planes)
    for of_held, of_left in zip(held.page.painted, left.page.painted, strict=True):
        assert of_held == of_left
    # Cells of plates are arrays, compared above as pixels.
    assert replace(held.page, plates=None) == replace(left.page, plates=None)
    assert held.page.plates.plates == left.page.plates.plates
    assert held.page.plates.fingerprint == left.page.plates.fingerprint


@pytest.mark.parametrize("ppi", [300.0, 225.0, 160.0])
@pytest.mark.parametrize(("mode", "kind"), [("L", "TIFF"), ("RGB", "PNG"), ("CMYK", "TIFF")])
def test_a_held_picture_gives_the_same_plates_and_facts(mode, kind, ppi, tmp_path, monkeypatch):
    assert_same(*read_both_ways(saved(picture(mode), kind, dpi=(ppi, ppi)), tmp_path, monkeypatch))


@pytest.mark.parametrize("orientation", [1, 3, 6])
def test_a_turned_picture_too(orientation, tmp_path, monkeypatch):
    exif = Image.Exif()
    exif[274] = orientation
    data = saved(picture("RGB"), "PNG", dpi=(300, 300), exif=exif)
    assert_same(*read_both_ways(data, tmp_path, monkeypatch, trim_mm=(55.0, 40.0)))


@pytest.mark.parametrize(("mode", "profile"), [("CMYK", CMYK_PROFILE), ("RGB", RGB_PROFILE)])
def test_a_picture_with_a_profile_too(mode, profile, tmp_path, monkeypatch):
    needs(profile)
    data = saved(picture(mode), "TIFF", dpi=(300, 300), icc_profile=profile.read_bytes())
    assert_same(*read_both_ways(data, tmp_path, monkeypatch))


@pytest.mark.parametrize("turn_deg", [0.0, 7.0])
def test_codes_in_a_picture_are_read_the_same(turn_deg, tmp_path, monkeypatch):
    """Places of codes are drawn anew, larger: the picture is let go before, or they would lie a part of a pixel elsewhere."""
    sheet = picture("L", 900, 700)
    for symbol, scale, height, place in ((ean_13(), 4, 260, (60, 60)), (qr("Fernhollow"), 9, 1, (600, 380))):
        dark = Image.fromarray(np.where(symbol.pixels(scale, height, quiet=4), 0, 255).astype(np.uint8))
        code = Image.new("L", (dark.width + 80, dark.height + 80), 255)
        code.paste(dark, (40, 40))
        sheet.paste(code.rotate(turn_deg, Image.Resampling.BICUBIC, expand=True, fillcolor=255), place)
    held, left = read_both_ways(saved(sheet.convert("CMYK"), "TIFF", dpi=(300, 300)), tmp_path, monkeypatch)
    assert len(left.page.barcodes) == 2
    assert_same(held, left)


@pytest.mark.parametrize("kept_below", [0, 128 << 20], ids=["too large for the store", "kept in the store"])
@pytest.mark.parametrize("pixels_per_mm", [3.0, 6.0, 12.0, 24.0])
def test_parts_of_the_page_are_drawn_the_same(pixels_per_mm, kept_below, tmp_path, monkeypatch):
    """Once it has unpacked a picture the engine scales all of it for any part, else only that part: some pixels differ."""
    data = saved(picture("CMYK"), "TIFF", dpi=(300, 300))
    monkeypatch.setattr(held_picture, "KEPT_BELOW_BYTES", kept_below)
    drawn = []
    for hold in (held_picture.hold_picture, lambda *_: None):
        monkeypatch.setattr(imagefile, "hold_picture", hold)
        with opened(data, tmp_path, "picture") as artwork:
            reading = read_page(artwork, 1, job_for(), NEEDS)
            if kept_below == 0:
                mupdf.fz_empty_store()
            drawn.append(reading.draw(Box(7.3, 9.1, 40.2, 30.6), pixels_per_mm, True))
    held, left = drawn
    assert all((one == other).all() for one, other in zip(held.planes, left.planes, strict=True))


@pytest.mark.parametrize("spoilt", [False, True], ids=["flat", "one pixel is not"])
def test_a_large_flat_picture_is_known_as_flat(spoilt, tmp_path, monkeypatch):
    """Large ones are looked at in a reduced size; a single pixel is off the sample that is looked at first."""
    image = Image.new("RGB", (4500, 4100), (200, 180, 160))
    if spoilt:
        image.paste((0, 0, 0), (1501, 1503, 1504, 1506))
    held, left = read_both_ways(saved(image, "TIFF", dpi=(200, 200)), tmp_path, monkeypatch)
    assert [thing.image.flat for thing in held.page.painted] == [not spoilt]
    assert [thing.image.flat for thing in left.page.painted] == [not spoilt]


def test_what_it_took_in_the_file_is_known(tmp_path):
    reading, is_held = read(saved(picture("CMYK"), "TIFF", dpi=(300, 300)), tmp_path)
    assert is_held
    assert [thing.image.stored_bytes for thing in reading.page.painted] == [700 * 500 * 4]


@pytest.mark.parametrize(
    ("what", "data"),
    [
        ("the engine halves it before it draws it", saved(picture("L"), "TIFF", dpi=(620, 620))),
        ("it is made larger for the plates", saved(picture("L"), "TIFF", dpi=(120, 120))),
        ("it has several pages", saved(picture("L"), "TIFF", dpi=(300, 300), save_all=True, append_images=[picture("L")])),
        ("its pixels are packed", saved(picture("L"), "JPEG", dpi=(300, 300))),
        ("it has one bit", saved(picture("L").convert("1"), "TIFF", dpi=(300, 300))),
        ("it is Lab", saved(Image.new("LAB", (300, 300), (128, 128, 128)), "TIFF", dpi=(300, 300))),
    ],
)  # fmt: skip
def test_a_picture_is_left_to_the_engine_where(what, data, tmp_path):
    reading, is_held = read(data, tmp_path)
    assert not is_held, what
    assert reading.pixels is not None


def test_a_picture_that_plates_do_not_hold_wholly_is_left_to_the_engine(tmp_path):
    """6 mm past the trim all round, of which 3 mm of bleed are ordered and one more is looked at."""
    data = saved(picture("L"), "TIFF", dpi=(300, 300))
    trim_mm = (700 / 300 * 25.4 - 12.0, 500 / 300 * 25.4 - 12.0)
    reading, is_held = read(data, tmp_path, trim_mm=trim_mm)
    assert reading.page.media_mm.width - reading.pixels.box_mm.width > 2.0
    assert not is_held


@pytest.mark.parametrize("size_px", [(700, 500), (4000, 4000), (6000, 7000)])
def test_plates_have_the_resolution_that_is_reckoned_with(size_px, tmp_path):
    """Without a tagged resolution a picture is drawn a point a pixel: large ones get coarser plates."""
    image = Image.new("L", size_px, 255)
    reading, _ = read(saved(image, "PNG"), tmp_path)
    sides_mm = (size_px[0] / 72 * 25.4, size_px[1] / 72 * 25.4)
    assert reading.pixels.pixels_per_mm == held_picture.DrawnAt(sides_mm).pixels_per_mm


@pytest.mark.parametrize("mode", ["L", "RGB", "CMYK"])
def test_bare_pixels_are_looked_at_where_the_engine_keeps_them(mode, tmp_path, monkeypatch):
    """Of a large picture that is not held the engine has the bytes of the file: no copy is made to look at them."""
    data = saved(picture(mode).resize((1400, 1000), Image.Resampling.NEAREST), "TIFF", dpi=(400, 400))
    monkeypatch.setattr(picture_view, "KEPT_BELOW_BYTES", 0)
    copies = []
    unpack = picture_view._pixels
    monkeypatch.setattr(picture_view, "_pixels", lambda *given: copies.append(given) or unpack(*given))
    reading, is_held = read(data, tmp_path)
    assert not is_held
    assert not copies
    assert reading.page.pictures[0].true_ppi == pytest.approx(200.0, rel=0.03)
    monkeypatch.setattr(picture_view, "_bare_pixels", lambda _: None)
    copied, _ = read(data, tmp_path)
    assert copies
    assert copied.page.pictures == reading.page.pictures


def test_the_wrapped_file_has_the_pixels_too(tmp_path):
    """An emptied store forgets what it was handed; the page is drawn all the same."""
    data = saved(picture("RGB"), "PNG", dpi=(300, 300))
    with opened(data, tmp_path, "picture") as artwork:
        mupdf.fz_empty_store()
        without_it = read_page(artwork, 1, job_for(), NEEDS)
    with_it, is_held = read(data, tmp_path)
    assert is_held
    assert_same(with_it, without_it)


def test_nothing_is_held_after_the_artwork_is_closed(tmp_path):
    data = saved(Image.fromarray(np.full((3000, 4000), 90, np.uint8)), "TIFF", dpi=(300, 300))

    def resident_mb() -> float:
        return int(Path("/proc/self/statm").read_text().split()[1]) * 4096 / 1e6

    used = []
    for _ in range(12):
        with opened(data, tmp_path, "picture") as artwork:
            assert artwork.held_picture is not None
        assert not held_picture._HELD_BYTES
        used.append(resident_mb())
    # Each that stayed would add 12 MB.
    assert used[-1] - used[1] < 60.0
