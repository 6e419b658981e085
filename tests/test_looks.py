"""Colour differences of whole rows of pixels: the same as reckoned one by one, and what a spot takes from the light."""

from __future__ import annotations

import itertools

import numpy as np
import pytest

from preflight.inventory.looks import delta_e
from preflight.press_colour import delta_e_1976, lab_of_cmyk

RANDOM = np.random.default_rng(39)
PAPER = np.zeros((4, 1), dtype=np.uint8)


def rows(*builds: tuple[int, ...]) -> list[np.ndarray]:
    return [np.array(row, dtype=np.uint8) for row in zip(*builds, strict=True)]


def one_by_one(build: tuple[int, ...]) -> tuple[float, float, float]:
    return lab_of_cmyk(*(byte / 2.55 for byte in build[:4]))


def test_as_reckoned_one_by_one():
    """All corners, and builds at random: the published solids stand behind ``lab_of_cmyk`` (``tests/test_press_colour.py``)."""
    corners = list(itertools.product((0, 255), repeat=4))
    builds = [*corners, *(tuple(row) for row in RANDOM.integers(0, 256, (200, 4)).tolist())]
    others = builds[::-1]
    expected = [delta_e_1976(one_by_one(a), one_by_one(b)) for a, b in zip(builds, others, strict=True)]
    assert delta_e(rows(*builds), rows(*others), ()) == pytest.approx(expected, abs=0.2)


def test_more_pixels_than_are_reckoned_at_once():
    plane = np.arange(300_000, dtype=np.uint32).astype(np.uint8)
    nothing = np.zeros_like(plane)
    found = delta_e([plane, nothing, nothing, nothing], [nothing] * 4, ())
    assert np.array_equal(found[:256], found[256:512])
    assert found[299_999] == found[299_999 % 256]
    assert found[255] == pytest.approx(delta_e_1976(lab_of_cmyk(100, 0, 0, 0), lab_of_cmyk(0, 0, 0, 0)), abs=0.2)


def test_a_spot_that_takes_no_light_is_not_seen():
    found = delta_e(
        [*PAPER, np.array([255], dtype=np.uint8)], [*PAPER, np.array([0], dtype=np.uint8)], ((255, 255, 255),)
    )
    assert found[0] == pytest.approx(0.0, abs=0.05)


def test_a_spot_that_takes_all_light_is_black_and_half_of_it_gray():
    """Paper has L* 95.0 (FOGRA39, white backing 94 to 95); half its light, (95 + 16) / 116 cubed halved, is L* 72.1."""
    full, half, none = (np.array([byte], dtype=np.uint8) for byte in (255, 128, 0))
    black = ((0, 0, 0),)
    white = lab_of_cmyk(0, 0, 0, 0)
    assert delta_e([*PAPER, full], [*PAPER, none], black)[0] == pytest.approx(
        delta_e_1976(white, (0.0, 0.0, 0.0)), abs=0.2
    )
    lightness = 116.0 * (((white[0] + 16.0) / 116.0) ** 3 * (1.0 - 128 / 255)) ** (1.0 / 3.0) - 16.0
    assert delta_e([*PAPER, half], [*PAPER, none], black)[0] == pytest.approx(white[0] - lightness, abs=0.3)


def test_spots_lie_over_the_process_inks():
    ink, none = np.array([255], dtype=np.uint8), np.array([0], dtype=np.uint8)
    red = ((255, 0, 0),)
    on_black = delta_e([none, none, none, ink, ink], [none, none, none, ink, none], red)[0]
    on_paper = delta_e([*PAPER, ink], [*PAPER, none], red)[0]
    assert on_black < 0.4 * on_paper
