"""How builds look in print: the published FOGRA39 data and rich-black table are the judge."""

from __future__ import annotations

import pytest

from preflight.inventory.model import Colour
from preflight.press_colour import chroma, delta_e_1976, lab_of, lab_of_cmyk, lab_of_rgb, lab_of_tints

#: FOGRA39L, L*a*b* of patches that took no part in the model (characterisation data of December 2006).
PATCHES = [
    ((0, 40, 0, 80), (29.76, 9.94, -2.49)),
    ((20, 0, 100, 60), (46.10, -9.05, 44.94)),
    ((40, 70, 70, 60), (27.86, 13.93, 11.19)),
    ((70, 70, 100, 80), (16.56, 0.34, 8.21)),
    ((0, 20, 40, 0), (83.60, 8.79, 25.98)),
    ((0, 85, 85, 0), (51.83, 59.24, 44.25)),
    ((10, 55, 100, 0), (61.53, 29.49, 60.57)),
    ((100, 20, 40, 0), (47.18, -42.09, -21.88)),
    ((20, 10, 20, 0), (82.20, -3.09, 2.49)),
    ((30, 55, 0, 0), (59.97, 25.68, -19.35)),
    ((40, 20, 20, 40), (52.05, -4.40, -6.53)),
    ((50, 40, 40, 0), (58.04, 0.26, -1.13)),
    ((40, 27, 27, 100), (12.52, -0.70, -0.68)),
    ((40, 100, 0, 100), (9.02, 10.92, -1.89)),
]
#: Solids and overprints: the model's own corners.
CORNERS = [
    ((0, 0, 0, 0), (95.0, 0.0, -2.0)),
    ((100, 0, 0, 0), (55.0, -37.0, -50.0)),
    ((0, 100, 0, 0), (48.0, 74.0, -3.0)),
    ((0, 0, 100, 0), (89.0, -5.0, 93.0)),
    ((0, 0, 0, 100), (16.0, 0.0, 0.0)),
    ((100, 100, 100, 0), (23.0, 0.0, 0.0)),
    ((100, 100, 100, 100), (8.7, -0.1, 2.1)),
]
#: Lightness of rich blacks on coated paper, FOGRA39 (published recipes and patches; stated within 0.5).
RICH_BLACKS = [
    ((0, 0, 0, 100), 16.0),
    ((40, 0, 0, 100), 13.7),
    ((20, 20, 20, 100), 13.7),
    ((30, 30, 30, 100), 12.9),
    ((40, 30, 20, 100), 12.2),
    ((40, 30, 30, 100), 12.5),
    ((40, 40, 40, 100), 12.0),
    ((60, 40, 40, 100), 11.0),
    ((50, 50, 50, 100), 11.0),
    ((100, 100, 100, 100), 8.7),
]


@pytest.mark.parametrize(("inks", "lab"), PATCHES)
def test_a_published_patch_is_met_within_6(inks, lab):
    assert delta_e_1976(lab_of_cmyk(*inks), lab) < 6.0


def test_the_published_patches_are_met_within_3_on_the_mean():
    assert sum(delta_e_1976(lab_of_cmyk(*inks), lab) for inks, lab in PATCHES) / len(PATCHES) < 3.0


@pytest.mark.parametrize(("inks", "lab"), CORNERS)
def test_a_solid_is_met_exactly(inks, lab):
    assert delta_e_1976(lab_of_cmyk(*inks), lab) < 0.3


@pytest.mark.parametrize(("inks", "lightness"), RICH_BLACKS)
def test_a_rich_black_is_as_dark_as_published(inks, lightness):
    assert lab_of_cmyk(*inks)[0] == pytest.approx(lightness, abs=0.6)


@pytest.mark.parametrize(
    ("rgb", "lab"),
    [  # sRGB primaries under D50 (Bradford), as colour science tables give them
        ((1.0, 1.0, 1.0), (100.0, 0.0, 0.0)),
        ((0.0, 0.0, 0.0), (0.0, 0.0, 0.0)),
        ((1.0, 0.0, 0.0), (54.29, 80.81, 69.89)),
        ((0.0, 1.0, 0.0), (87.82, -79.29, 80.99)),
        ((0.0, 0.0, 1.0), (29.57, 68.30, -112.03)),
    ],
)
def test_rgb_looks_as_the_standard_says(rgb, lab):
    assert delta_e_1976(lab_of_rgb(*rgb), lab) < 0.1


def test_more_ink_than_there_is_counts_as_full():
    assert lab_of_cmyk(0, 0, 0, 140) == lab_of_cmyk(0, 0, 0, 100)
    assert lab_of_rgb(-1, 0, 2) == lab_of_rgb(0, 0, 1)


def test_a_spot_ink_has_no_known_look():
    assert lab_of_tints({"Fern Green": 100.0, "Black": 100.0}) is None
    assert lab_of(Colour("separation", inks=("Fern Green",), values=(1.0,))) is None


def test_a_colour_is_looked_up_by_its_family():
    assert lab_of(Colour("gray", values=(0.0,))) == lab_of_cmyk(0, 0, 0, 100)
    assert lab_of(
        Colour("cmyk", inks=("Cyan", "Magenta", "Yellow", "Black"), values=(0.0, 0.0, 0.0, 1.0))
    ) == lab_of_cmyk(0, 0, 0, 100)
    assert lab_of(Colour("lab", values=(20.0, 1.0, 2.0))) == (20.0, 1.0, 2.0)
    assert chroma((20.0, 3.0, 4.0)) == 5.0
    assert lab_of(Colour("unknown")) is None
