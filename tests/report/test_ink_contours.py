"""The outline of too much ink: sizes by arithmetic on cells of 0.5 mm, holes, specks, and what is written on the page."""

from __future__ import annotations

import numpy as np
import pytest
from report.sample import finding, page

from preflight.inventory.model import CellGrid, Plate, Plates
from preflight.report.docket import Place
from preflight.report.ink_contours import MOST_PATCHES, ink_patches
from preflight.report.overlays import outlines_of, reaches_of
from preflight.report.sheet import sheet_of
from preflight.units import Box

CELL_MM = 0.5
FULL = 255


def plates_with(over: np.ndarray, *, finishing: bool = False) -> Plates:
    """Four inks that are full where ``over`` holds, and empty elsewhere; the grid starts 3 mm outside the trim."""
    inks = ("Cyan", "Magenta", "Yellow", "Die" if finishing else "Black")
    kinds = ["process", "process", "process", "finishing" if finishing else "process"]
    data = np.stack([np.where(over, FULL, 0).astype(np.uint8)] * 4)
    return Plates(
        plates=tuple(Plate(ink, kind, 0, 0, 0, 0, None) for ink, kind in zip(inks, kinds, strict=True)),
        zone_mm=Box(-3, -3, 57, 47),
        max_total_percent=400.0,
        window_mm2=15.0,
        ink_areas=(),
        edges=(),
        fingerprint="",
        profile_from="built-in",
        profile_name="",
        blank_trim=False,
        cells=CellGrid(4, *over.shape, (-3.0, -3.0), CELL_MM, data.tobytes()),
    )


def cells(*rectangles_mm: tuple[float, float, float, float]) -> np.ndarray:
    mask = np.zeros((100, 120), dtype=bool)
    for x0, y0, x1, y1 in rectangles_mm:
        mask[round((y0 + 3) * 2) : round((y1 + 3) * 2), round((x0 + 3) * 2) : round((x1 + 3) * 2)] = True
    return mask


PAGE = Box(-3, -3, 57, 47)


def test_a_rectangle_is_its_four_corners_and_its_size() -> None:
    [patch] = ink_patches(plates_with(cells((10, 5, 30, 20))), PAGE, 330)

    assert patch.area_mm2 == 20 * 15
    assert set(patch.rings[0]) == {(10, 5), (30, 5), (30, 20), (10, 20)}


def test_two_patches_are_two_the_larger_first() -> None:
    patches = ink_patches(plates_with(cells((0, 0, 5, 5), (20, 0, 40, 20))), PAGE, 330)

    assert [patch.area_mm2 for patch in patches] == [400, 25]


def test_a_wide_hole_is_drawn_and_letters_reversed_out_are_not() -> None:
    mask = cells((0, 0, 50, 40)) & ~cells((5, 5, 15, 15)) & ~cells((20, 5, 22, 8))

    [patch] = ink_patches(plates_with(mask), PAGE, 330)

    assert patch.area_mm2 == 2000 - 100 - 6
    assert len(patch.rings) == 2
    assert set(patch.rings[1]) == {(5, 5), (15, 5), (15, 15), (5, 15)}


def test_a_slanted_edge_is_a_line_and_no_stair() -> None:
    rows, columns = np.mgrid[:100, :120]

    [patch] = ink_patches(plates_with(rows + columns < 90), PAGE, 330)

    # 90 cells in the first row, 89 in the second ...: 90 x 91 / 2 cells of a quarter of a square millimetre, but for its sharp tips,
    # where no measuring square is over the limit.
    assert patch.area_mm2 == pytest.approx(90 * 91 / 2 / 4, rel=0.005)
    assert len(patch.rings[0]) <= 5


def test_outside_the_limit_there_is_none() -> None:
    assert ink_patches(plates_with(cells((0, 0, 20, 20))), PAGE, 400) == []
    # A die line is no ink: three inks are 300 %.
    assert ink_patches(plates_with(cells((0, 0, 20, 20)), finishing=True), PAGE, 330) == []


def test_a_strewn_page_is_told_in_part() -> None:
    mask = np.zeros((100, 120), dtype=bool)
    for row in range(0, 90, 11):
        for column in range(0, 110, 11):
            mask[row : row + 9, column : column + 9] = True

    patches = ink_patches(plates_with(mask), PAGE, 330)

    assert len(patches) == MOST_PATCHES
    assert {patch.area_mm2 for patch in patches} == {4.5**2}


def test_noise_is_outlined_with_few_corners() -> None:
    mask = np.random.default_rng(3).random((600, 800)) < 0.7
    plates = plates_with(mask)

    [patch, *_] = ink_patches(plates, Box(-3, -3, 400, 300), 100)

    assert patch.area_mm2 == pytest.approx(mask.sum() / 4, rel=0.02)
    assert sum(len(ring) for ring in patch.rings) < 8000


# --- on the page ---------------------------------------------------------------------------------------------------------


def place(box: list[float], **details: object) -> Place:
    found = finding("total-ink.high", page=1, box=box, limit=330.0, unit="percent", details=details)
    return Place(1, found, "page 1", "")


def test_one_patch_says_the_size_that_the_finding_says() -> None:
    """Measured in pixels it is a little other than in cells; two figures for one thing would be a riddle."""
    ring = [[10, 10], [60, 10], [60, 40], [10, 40]]
    entry = place([10, 10, 60, 40], area_mm2=1493.6, patches=[{"area_mm2": 1500.0, "rings_mm": [ring]}])

    [outline] = outlines_of([entry], 1, Box(-5, -5, 153, 215), 0.4)

    assert outline.said == "1494 mm²"
    assert outline.path == "M10 10L60 10L60 40L10 40Z"
    assert outline.at is not None
    assert Box(10, 10, 60, 40).contains(Box(*outline.at, *outline.at))


def test_a_label_has_room_where_the_patch_has() -> None:
    outer = [[0, 0], [100, 0], [100, 100], [0, 100]]
    hole = [[20, 30], [80, 30], [80, 70], [20, 70]]
    entry = place([0, 0, 100, 100], patches=[{"area_mm2": 7600.0, "rings_mm": [outer, hole]}])

    [outline] = outlines_of([entry], 1, Box(-5, -5, 153, 215), 0.4)

    assert outline.at is not None
    assert not Box(20, 30, 80, 70).contains(Box(*outline.at, *outline.at))


@pytest.mark.parametrize(
    "patches", ["x", [1], [{}], [{"area_mm2": "9", "rings_mm": [[[0, 0], [1, 1], [0, 1]]]}], [{"rings_mm": [["a"]]}]]
)
def test_what_is_no_outline_is_left_out(patches: object) -> None:
    assert outlines_of([place([0, 0, 9, 9], patches=patches)], 1, Box(0, 0, 99, 99), 0.4) == ()


def test_distances_to_the_trim_and_which_edges_are_nearer() -> None:
    trim = Box(0, 0, 148, 210)

    reaches = {reach.edge: reach for reach in reaches_of(Box(12, 30.5, 90.2, 77), trim, trim.grow(8), 0.35)}

    assert {edge: reach.said for edge, reach in reaches.items()} == {
        "left": "12 mm", "top": "30 mm", "right": "58 mm", "bottom": "133 mm",
    }  # fmt: skip
    assert {edge for edge, reach in reaches.items() if reach.near} == {"left", "top"}
    assert reaches["left"].start[0] == 0
    assert reaches["left"].end[0] == 12


def test_what_runs_through_the_trim_has_no_distance_there() -> None:
    trim = Box(0, 0, 100, 100)

    assert {reach.edge for reach in reaches_of(Box(-3, -3, 20, 103), trim, trim.grow(8), 0.3)} == {"right"}


def test_units_run_in_the_order_of_the_rules_and_finishing_last() -> None:
    entry = page(1)
    plates = [*entry.plates, type(entry.plates[0])("Gold", "spot", 1.0)]
    plates[-2] = type(plates[0])("Die Line", "finishing", 0.1)
    whole = type(entry)(**{**vars(entry), "plates": plates})

    sheet = sheet_of(whole, [], None, {}, ["Black", "Cyan", "Magenta", "Yellow"])

    assert [unit.ink for unit in sheet.units] == ["Black", "Cyan", "Magenta", "Yellow", "Gold", "Die Line"]
    assert [unit.turn for unit in sheet.units] == [1, 2, 3, 4, 5, 6]
    assert not sheet.lifts  # no pictures of plates
