"""Pictures that were blown up, and those that only look as if: truth by construction (the factor they were enlarged by)."""

from __future__ import annotations

import numpy as np
import pytest
from pictured import enlarged, packed, texture, tiles_of
from PIL import Image, ImageFilter

from preflight.inventory.halftone import halftone
from preflight.inventory.spectrum import LENGTH, agreement, true_resolution

KERNELS = {
    "repeated": Image.Resampling.NEAREST,
    "bilinear": Image.Resampling.BILINEAR,
    "bicubic": Image.Resampling.BICUBIC,
    "lanczos": Image.Resampling.LANCZOS,
    "box": Image.Resampling.BOX,
    "hamming": Image.Resampling.HAMMING,
}


def asked(picture: np.ndarray) -> tuple[float, float] | None:
    return true_resolution(tiles_of(picture)[:5])


@pytest.mark.parametrize("factor", [1.5, 2.0, 2.37, 2.4, 4.0, 7.3])
@pytest.mark.parametrize("kernel", KERNELS)
def test_the_factor_is_found_whatever_the_kernel(kernel: str, factor: float) -> None:
    side = int(1060 / factor)
    found = asked(enlarged(texture(side, side), factor, KERNELS[kernel]))
    assert found is not None
    assert found[0] == pytest.approx(1.0 / factor, rel=0.03)
    assert found[1] >= 0.5


@pytest.mark.parametrize("kernel", KERNELS)
@pytest.mark.parametrize("when", ["before", "after"])
def test_sharpening_does_not_hide_it(kernel: str, when: str) -> None:
    sharpen = ImageFilter.UnsharpMask(radius=2, percent=150, threshold=2)
    source = texture(520, 520, seed=2)
    if when == "before":
        source = np.asarray(Image.fromarray(source).filter(sharpen))
    picture = enlarged(source, 2.0, KERNELS[kernel])
    if when == "after":
        picture = np.asarray(Image.fromarray(picture).filter(sharpen))
    found = asked(picture)
    assert found is not None
    assert found[0] == pytest.approx(0.5, rel=0.03)


@pytest.mark.parametrize("quality", [95, 85, 75])
@pytest.mark.parametrize("factor", [2.0, 2.37, 3.0, 4.0])
def test_nor_does_jpeg(factor: float, quality: int) -> None:
    side = int(1060 / factor)
    found = asked(packed(enlarged(texture(side, side, seed=3), factor, KERNELS["bicubic"]), quality))
    assert found is not None
    assert found[0] == pytest.approx(1.0 / factor, rel=0.03)


@pytest.mark.parametrize("quality", [None, 95, 75, 50])
def test_a_sharp_picture_is_as_stated(quality: int | None) -> None:
    picture = texture(1060, 1060, seed=4)
    assert asked(picture if quality is None else packed(picture, quality)) is None


@pytest.mark.parametrize("factor", [1.8, 2.4, 2.6])
def test_repeated_pixels_of_a_soft_picture(factor: float) -> None:
    """Their mirrored sum (1 - 1/f) agrees better than 1/f: the count of pixels that are alike decides."""
    noise = np.random.default_rng(0).normal(128, 60, (360, 360)).clip(0, 255).astype(np.uint8)
    soft = np.asarray(Image.fromarray(noise).filter(ImageFilter.GaussianBlur(0.7)))
    found = asked(enlarged(soft, factor, KERNELS["repeated"]))
    assert found is not None
    assert found[0] == pytest.approx(1.0 / factor, rel=0.03)


@pytest.mark.parametrize("radius", [0.8, 1.5, 3.0, 6.0])
@pytest.mark.parametrize("quality", [None, 90, 60, 45])
def test_softness_alone_says_nothing(radius: float, quality: int | None) -> None:
    soft = np.asarray(Image.fromarray(texture(1060, 1060, seed=5)).filter(ImageFilter.GaussianBlur(radius)))
    assert asked(soft if quality is None else packed(soft, quality)) is None


@pytest.mark.parametrize("quality", [20, 30, 45])
@pytest.mark.parametrize("radius", [1.0, 1.2, 1.6])
def test_packed_hard_is_not_blown_up(radius: float, quality: int) -> None:
    """Noise as nature has it (amplitude 1/f), softened: what packing leaves of it agrees at the sums of its blocks."""
    rng = np.random.default_rng(round(100 * radius) + quality)
    frequency = np.maximum(np.hypot(np.fft.fftfreq(700)[:, None], np.fft.rfftfreq(800)[None, :]), 1 / 800)
    field = np.fft.irfft2(np.fft.rfft2(rng.normal(size=(700, 800))) / frequency, (700, 800))
    gravel = np.clip(128 + 45 * field / field.std(), 0, 255).astype(np.uint8)
    soft = np.asarray(Image.fromarray(gravel).filter(ImageFilter.GaussianBlur(radius)))
    assert asked(packed(soft, quality)) is None


def test_a_picture_made_smaller_is_as_stated() -> None:
    for factor in (0.45, 0.5, 0.7):
        assert asked(enlarged(texture(1500, 1500, seed=6), factor, KERNELS["lanczos"])) is None


def test_a_sky_is_too_smooth_to_tell() -> None:
    """Blown up or not: there is nothing in it that would show."""
    y, x = np.mgrid[0:300, 0:300]
    sky = np.clip(210 - y * 0.2 + 3 * np.sin(x / 80), 0, 255).astype(np.uint8)
    assert asked(enlarged(sky, 2.0, KERNELS["bicubic"])) is None


def test_squared_paper_and_blinds_are_not_blown_up() -> None:
    """They repeat, at sums that belong to no one factor."""
    for pitch in (7, 11, 16):
        picture = texture(1060, 1060, seed=7).astype(int) // 3 + 120
        picture[::pitch] -= 90
        picture[:, ::pitch] -= 90
        assert asked(np.clip(picture, 0, 255).astype(np.uint8)) is None
        blinds = texture(1060, 1060, seed=8).copy()
        blinds[np.arange(1060) % pitch < pitch // 2] //= 3
        assert asked(blinds) is None


def test_one_axis_with_nothing_on_it_does_not_object() -> None:
    """Upright stripes have no texture from top to bottom."""
    row = texture(530, 4, seed=9)[:1]
    picture = enlarged(np.repeat(row, 530, axis=0), 2.0, KERNELS["bilinear"])
    picture = np.clip(picture + np.random.default_rng(0).normal(0, 0.5, picture.shape), 0, 255)
    found = asked(picture.astype(np.uint8))
    assert found is None or found[0] == pytest.approx(0.5, rel=0.03)


@pytest.mark.parametrize("shape", [(1, 100_000), (100_000, 1), (1, 1), (20, 20), (63, 500)])
def test_too_small_to_tell(shape: tuple[int, int]) -> None:
    assert true_resolution([np.zeros(shape, np.float32)]) is None
    assert true_resolution([]) is None


def test_flat_and_two_toned_tiles() -> None:
    assert true_resolution([np.full((512, 512), 77, np.float32)]) is None
    half = np.zeros((512, 512), np.float32)
    half[:, 256:] = 255
    assert true_resolution([half, half.T.copy()]) is None


def test_agreement_is_that_of_all_pairs_about_the_middle():
    """Written out for single sums: frequencies of every second row, each evened out over the rows, times their mirrors."""
    tile = texture(512, 512).astype(np.float64)
    rows = tile[::2]
    window = np.hanning(LENGTH + 2)[1:-1]
    lines = np.fft.rfft((rows - rows.mean(axis=1, keepdims=True)) * window, axis=1)
    lines = lines / np.sqrt((np.abs(lines) ** 2).mean(axis=0) + (window**2).sum())
    found = agreement(tile.astype(np.float32))
    first = round(LENGTH / 11.0)
    for total in (47, 48, 100, 171, 256, 257, 300, 348):
        low, high = max(int(total * 0.42), total - 255), total // 2
        pairs = [(lines[:, at], lines[:, total - at]) for at in range(low, high)]
        strength = sum(float((np.abs(one) * np.abs(other)).sum()) for one, other in pairs)
        assert found.numerator[total - first] == pytest.approx(
            abs(sum((one * other).sum() for one, other in pairs)), abs=1e-4 * strength
        )
        assert found.denominator[total - first] == pytest.approx(strength, rel=1e-4)
        assert found.pairs[total - first] == len(pairs) * len(rows)


def test_of_an_ordinary_picture_two_tiles_are_looked_at():
    asked = set()

    class Tiles(list):
        def __getitem__(self, index):
            asked.add(index)
            return super().__getitem__(index)

        def __iter__(self):
            return (self[index] for index in range(len(self)))

    tiles = Tiles(tiles_of(texture(1536, 1024)))
    assert len(tiles) == 6
    assert halftone(tiles) == []
    assert true_resolution(tiles) is None
    assert asked == {0, 1}
