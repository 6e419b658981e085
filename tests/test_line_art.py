"""Paper, ink and what lies between them: drawings made here, and photographs that must not pass for one."""

from __future__ import annotations

import numpy as np
import pytest
from PIL import Image, ImageFilter
from test_jpeg_traces import hills
from test_tilt import typed

from preflight.inventory.line_art import drawing_in


def scanned(paper: float = 240.0, ink: float = 30.0, grain: float = 2.0) -> np.ndarray:
    random = np.random.default_rng(4)
    light = paper - (paper - ink) * typed(0.7)
    return np.clip(light + random.normal(0.0, grain, light.shape), 0, 255).round().astype(np.float32)


def drawing(light: np.ndarray):
    parts = [light[y : y + 384, x : x + 384] for y in (0, 350, 700) for x in (0, 400)]
    return drawing_in(light[::2, ::2], parts)


@pytest.mark.parametrize("paper", [200.0, 232.0, 250.0])
def test_a_scan_with_its_paper(paper):
    found = drawing(scanned(paper))
    assert found is not None
    assert found.is_soft
    assert found.has_grain
    assert found.paper_percent == pytest.approx(100.0 * (1.0 - paper / 255.0), abs=1.0)


def test_two_levels_have_no_soft_edges():
    found = drawing(np.where(typed(0.0) > 0.5, 0.0, 255.0).astype(np.float32))
    assert found is not None
    assert not found.is_soft
    assert not found.has_grain


def test_photographs_are_none():
    for seed in (1, 2, 3):
        assert drawing(np.asarray(hills(seed)).astype(np.float32)) is None


def test_a_thing_cut_out_on_white_is_a_photograph():
    light = np.full((1100, 800), 255.0, np.float32)
    light[300:700, 200:600] = np.asarray(hills(), dtype=np.float32)[:400, :400] * 0.7
    assert drawing(light) is None


def test_a_light_sky_over_hills_is_a_photograph():
    rows, columns = np.mgrid[0:1100, 0:800]
    light = 225.0 - 0.01 * rows
    ground = rows > 750 + 60 * np.sin(columns / 90.0)
    light[ground] = (np.resize(np.asarray(hills(2)), (1100, 800)) * 0.8)[ground]
    image = Image.fromarray(light.astype(np.uint8)).filter(ImageFilter.GaussianBlur(1.0))
    assert drawing(np.asarray(image).astype(np.float32)) is None


def test_empty_and_tiny():
    assert drawing(np.full((1100, 800), 240.0, np.float32)) is None
    assert drawing_in(np.zeros((4, 4), np.float32), []) is None
