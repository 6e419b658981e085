"""Traces of JPEG packing: truth is the quality that Pillow's encoder (the usual one) was told."""

from __future__ import annotations

import io

import numpy as np
import pytest
from PIL import Image

from preflight.inventory.jpeg_traces import Blocks, Tile, blocks_in, packed_quality, quality_in, table_quality


def hills(seed: int = 5) -> Image.Image:
    """Slopes and grain with detail at every scale, as a photograph has."""
    random = np.random.default_rng(seed)
    light = np.full((512, 640), 128.0)
    for side in (4, 8, 16, 32, 64):
        coarse = Image.fromarray(random.normal(0.0, 1.0, (512 // side, 640 // side)).astype(np.float32))
        light += side**0.7 * 2.5 * np.asarray(coarse.resize((640, 512), Image.Resampling.BICUBIC))
    light += random.normal(0.0, 1.5, light.shape)
    return Image.fromarray(np.clip(light, 8, 247).astype(np.uint8))


def packed(image: Image.Image, quality: int, **options) -> bytes:
    out = io.BytesIO()
    image.save(out, "JPEG", quality=quality, **options)
    return out.getvalue()


def tiles_of(data: np.ndarray) -> list[Tile]:
    light = data.astype(np.float32)
    return [Tile(x, y, light[y : y + 190, x : x + 190]) for y in (3, 150, 300) for x in (5, 201, 410)]


@pytest.mark.parametrize("quality", [5, 10, 25, 50, 74, 75, 76, 90, 100])
@pytest.mark.parametrize("options", [{}, {"progressive": True}, {"subsampling": 0}])
def test_quality_from_the_tables(quality, options):
    assert packed_quality(packed(hills().convert("RGB"), quality, **options)) == quality


def test_no_table_no_quality():
    assert table_quality([1, 2, 3]) is None
    for data in (b"", b"\xff\xd8", b"\x89PNG\r\n\x1a\n", b"\xff\xd8\xff\xdb\xff\xff\0", b"\xff\xd8" + b"\xff" * 50):
        assert packed_quality(data) is None


def test_cut_off_data_never_fails():
    data = packed(hills(), 60)
    for length in range(0, 700, 7):
        assert packed_quality(data[:length]) in (None, 60.0)


@pytest.mark.parametrize("quality", [30, 50, 60, 70])
def test_quality_and_grid_from_the_pixels_wherever_the_picture_was_cut(quality):
    data = np.asarray(Image.open(io.BytesIO(packed(hills(), quality))))
    for left, top in ((0, 0), (3, 5)):
        tiles = tiles_of(data[top:, left:])
        blocks = blocks_in(tiles)
        assert blocks is not None
        assert (blocks.column, blocks.row) == ((8 - left) % 8, (8 - top) % 8)
        assert quality_in(tiles, blocks) == pytest.approx(quality, abs=5)


def test_never_packed_no_grid():
    for seed in (1, 2, 3):
        assert blocks_in(tiles_of(np.asarray(hills(seed)))) is None
    assert blocks_in([]) is None
    assert blocks_in(tiles_of(np.full((512, 640), 200))) is None


def test_scaled_after_packing_no_grid_of_eight():
    image = Image.open(io.BytesIO(packed(hills(), 85)))
    assert blocks_in(tiles_of(np.asarray(image.resize((700, 560), Image.Resampling.LANCZOS)))) is None


def test_a_fence_has_its_edges_one_way():
    fence = np.asarray(hills()).astype(float)
    fence[:, ::8] = np.clip(fence[:, ::8] + 12, 0, 255)
    assert blocks_in(tiles_of(fence)) is None


def test_enlarged_eightfold_by_whole_pixels_is_no_packing():
    small = np.asarray(hills())[:64, :80]
    assert blocks_in(tiles_of(small.repeat(8, 0).repeat(8, 1))) is None


def test_a_grid_without_steps_tells_no_quality():
    assert quality_in(tiles_of(np.asarray(hills())), Blocks(0, 0, 1.0, 20.0)) is None
