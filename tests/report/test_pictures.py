"""Pictures of pages and findings: what they show, where the lines lie, and how large they get."""

from __future__ import annotations

import io
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from PIL import Image
from report.sample import finding, page, report

from preflight.report.illustrate import picture_file_findings
from preflight.report.pictures import (
    CONTEXT_MM,
    FINDING_BYTES,
    FINDING_LONG_PX,
    PAGE_BYTES,
    PAGE_HEIGHT_PX,
    PAGE_WIDTH_PX,
    PLATE_BYTES,
    PLATE_HEIGHT_PX,
    finding_picture,
    page_picture,
    picture_box_mm,
    plate_picture,
    window_mm,
)
from preflight.units import Box

PIXELS_PER_MM = 6
ORIGIN = (-3.0, -3.0)
TRIM = (100.0, 80.0)


def ground(level: int, width_mm: float = 106.0, height_mm: float = 86.0) -> np.ndarray:
    return np.full((round(height_mm * PIXELS_PER_MM), round(width_mm * PIXELS_PER_MM), 3), level, dtype=np.uint8)


def noise(width_mm: float, height_mm: float) -> np.ndarray:
    """The hardest thing to compress."""
    shape = (round(height_mm * PIXELS_PER_MM), round(width_mm * PIXELS_PER_MM), 3)
    return np.random.default_rng(7).integers(0, 256, shape, dtype=np.uint8)


def opened(data: bytes) -> Image.Image:
    image = Image.open(io.BytesIO(data))
    image.load()
    assert image.format == "JPEG"
    return image.convert("RGB")


def levels(image: Image.Image) -> np.ndarray:
    return np.asarray(image.convert("L")).astype(int)


def test_a_page_is_about_nine_hundred_pixels_high() -> None:
    image = opened(page_picture(ground(200, 216, 303)))

    assert abs(image.height - PAGE_HEIGHT_PX) <= 1
    assert image.width / image.height == pytest.approx(216 / 303, rel=0.01)


def test_a_wide_page_keeps_within_its_width_and_a_small_one_is_not_blown_up() -> None:
    wide = opened(page_picture(ground(200, 600, 100)))
    small = opened(page_picture(ground(200, 56, 36)))

    assert abs(wide.width - PAGE_WIDTH_PX) <= 1
    assert small.size == (336, 216)


def test_a_page_is_shown_without_lines() -> None:
    """Trim, cut and marks are laid over it by the report, so that they can be taken off."""
    assert np.ptp(levels(opened(page_picture(ground(128))))) <= 2


def test_the_trim_line_lies_on_the_trim() -> None:
    """Of a finding's picture that shows the whole page, 6 pixels a millimetre made 636 long: 3 mm of bleed are 18 pixels."""
    data = finding_picture(ground(128), ORIGIN, PIXELS_PER_MM, [6, 6, 94, 74], TRIM)
    grey = levels(opened(data))

    spread = np.ptp(grey[25:45], axis=0)
    assert set(np.flatnonzero(spread > 60)) <= set(range(15, 23)) | set(range(614, 626))
    assert spread[16:21].max() > 100
    assert spread[615:625].max() > 100


@pytest.mark.parametrize("level", [0, 128, 255])
def test_the_box_shows_on_any_ground(level: int) -> None:
    """A light line and a dark one around the place, nothing in it."""
    data = finding_picture(ground(level), ORIGIN, PIXELS_PER_MM, [40, 30, 60, 50], None)
    grey = levels(opened(data))
    middle = grey[grey.shape[0] // 2]

    side = middle[: len(middle) // 2]
    assert side.max() > 215
    assert side.min() < 60
    scale = len(middle) / (20 + 2 * CONTEXT_MM)
    inside = grey[:, round((CONTEXT_MM + 2) * scale) : round((CONTEXT_MM + 18) * scale)][grey.shape[0] // 2]
    assert np.ptp(inside) <= 12


def test_a_hairline_is_framed_and_not_covered() -> None:
    rgb = ground(255)
    rgb[(30 + 3) * PIXELS_PER_MM, (20 + 3) * PIXELS_PER_MM : (80 + 3) * PIXELS_PER_MM] = (200, 0, 0)

    image = opened(finding_picture(rgb, ORIGIN, PIXELS_PER_MM, [20, 30, 80, 30.07], None))
    red, _, blue = (np.asarray(image).astype(int)[:, image.width // 2, part] for part in range(3))

    assert (red - blue).max() > 60


def test_the_surroundings_are_shown() -> None:
    """At least 12 mm around the box, cut where the page ends (contract of the reports)."""
    whole = Box(-3, -3, 103, 83)

    assert window_mm(Box(40, 30, 60, 50), whole) == Box(28, 18, 72, 62)
    assert window_mm(Box(-3, -3, 0, 83), whole) == Box(-3, -3, 21, 83)
    assert window_mm(Box(0, 0, 100, 80), whole) == whole


def test_the_edge_of_a_large_page_is_shown_with_what_it_is_the_edge_of() -> None:
    poster = Box(-3, -3, 300, 423)

    # The strip of 3 by 426 mm with a tenth of its length around it is 88.2 by 511.2 mm, made 0.3 x 511.2 wide: from -45.6 to 107.76.
    left, right = window_mm(Box(-3, -3, 0, 423), poster), window_mm(Box(297, -3, 300, 423), poster)
    assert tuple(left) == pytest.approx((-3, -3, 107.76, 423))
    assert tuple(right) == pytest.approx((297 - 107.76, -3, 300, 423))


@pytest.mark.parametrize("box", [[-90, -90, -80, -80], [300, 300, 310, 310], [50, 40, 50, 40], [-1e9, -1e9, 1e9, 1e9]])
def test_a_place_beyond_the_picture_is_no_fault(box: list[float]) -> None:
    image = opened(finding_picture(ground(200), ORIGIN, PIXELS_PER_MM, box, TRIM))

    assert min(image.size) >= 16


def test_single_places_are_each_framed() -> None:
    boxes = [[20.0, y, 60.0, y + 6.0] for y in (10.0, 30.0, 50.0)]

    grey = levels(opened(finding_picture(ground(255), ORIGIN, PIXELS_PER_MM, [20, 10, 60, 56], None, boxes)))

    column = grey[:, grey.shape[1] // 2]
    dark = np.flatnonzero(column < 140)
    assert np.count_nonzero(np.diff(dark) > 4) + 1 == 6  # the upper and the lower line of three frames


@pytest.mark.parametrize("size", [(216.0, 303.0), (106.0, 154.0)])
def test_pages_and_findings_stay_small_enough_for_one_file(size: tuple[float, float]) -> None:
    """64 pages of the worst kind: 64 x 110 kB, a third more as text, are under 15 MB."""
    rgb = noise(*size)

    assert len(page_picture(rgb)) <= PAGE_BYTES
    assert len(finding_picture(rgb, ORIGIN, PIXELS_PER_MM, [10, 10, 60, 90], None)) <= FINDING_BYTES
    assert 64 * PAGE_BYTES * 4 / 3 < 15e6


def test_a_poster_is_averaged_and_not_thinned_out() -> None:
    """A chequerboard of single pixels becomes an even grey; every second pixel taken would be black or white."""
    rgb = ground(0, 500, 700)
    rgb[::2, ::2] = 255
    rgb[1::2, 1::2] = 255

    grey = levels(opened(page_picture(rgb)))

    assert abs(grey.mean() - 127.5) < 4
    assert grey.std() < 6


def test_a_finding_is_not_wider_than_a_reports_column() -> None:
    image = opened(finding_picture(ground(200, 606, 406), ORIGIN, PIXELS_PER_MM, [0, 0, 600, 400], TRIM))

    assert max(image.size) <= FINDING_LONG_PX + 1


def test_what_a_picture_shows_is_told_in_millimetres() -> None:
    assert picture_box_mm(ground(0), ORIGIN, PIXELS_PER_MM) == Box(-3, -3, 103, 83)


def test_the_same_page_gives_the_same_bytes() -> None:
    first, second = (page_picture(noise(50, 50)) for _ in range(2))

    assert first == second


def test_a_finding_of_the_whole_file_is_cut_from_its_pages_picture(tmp_path: Path) -> None:
    """It is known when all pages are through and their plates are gone; the box is where it was found."""
    rgb = ground(255)
    rgb[33 * 6 : 43 * 6, 43 * 6 : 63 * 6] = 0  # 10 mm high, 20 mm wide, at 40 and 30 mm from the trim
    (tmp_path / "page-0001.jpg").write_bytes(page_picture(rgb))
    shown = picture_box_mm(rgb, ORIGIN, PIXELS_PER_MM).rounded(3)
    pages = [replace(page(1), picture="page-0001.jpg", picture_mm=shown, trim_mm=list(TRIM))]
    found = finding("binding.spine-width", page=1, box=[40, 30, 60, 40])
    lost = finding("binding.spine-width", page=2, box=[40, 30, 60, 40])
    whole = replace(report(pages=2), pages=pages, findings=[found, lost])

    pictured, without = picture_file_findings(whole, tmp_path).findings

    image = levels(opened((tmp_path / pictured.details["picture"]).read_bytes()))
    assert image[image.shape[0] // 2, image.shape[1] // 2] < 40
    assert image[4:12, 4:12].min() > 200
    assert "picture" not in without.details
    # A picture that is gone is a picture less.
    (tmp_path / "page-0001.jpg").unlink()
    assert "picture" not in picture_file_findings(whole, tmp_path).findings[0].details


def test_a_plate_is_black_where_it_is_full() -> None:
    plane = np.zeros((1800, 1200), dtype=np.uint8)
    plane[:900] = 255

    image = Image.open(io.BytesIO(plate_picture(plane)))

    assert (image.mode, image.size) == ("L", (360, PLATE_HEIGHT_PX))
    assert np.asarray(image)[100].max() < 8
    assert np.asarray(image)[400].min() > 247
    noisy = np.random.default_rng(7).integers(0, 256, (1800, 1200), dtype=np.uint8)
    assert len(plate_picture(noisy)) <= PLATE_BYTES
