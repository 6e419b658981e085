"""Ink figures of plates: arithmetic on artwork of known ink, another renderer, and the same page turned, moved and scaled."""

from __future__ import annotations

import os
import shutil
import subprocess
from pathlib import Path
from typing import Any

import numpy as np
import pikepdf
import pytest
from artwork import Book, mm, rectangle
from by_hand import job_of
from PIL import Image
from plated import look, measured, measured_page, opened

from preflight.errors import ToolFault
from preflight.inventory.edges import LEAST_INK
from preflight.inventory.model import Plates
from preflight.inventory.preview import preview_rgb
from preflight.units import Box


def coverage(plates: Plates) -> dict[str, float]:
    return {plate.ink: plate.coverage_percent for plate in plates.plates if plate.coverage_percent}


def need(program: str) -> str:
    path = shutil.which(program)
    if path is None:
        if os.environ.get("CI") == "true":
            pytest.fail(f"{program} is not installed")
        pytest.skip(f"{program} is not installed")
    return path


# --- worked examples ------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("colour", "total"),
    [
        ("1 1 0.5 0.5 k", 300.0),
        ("0.75 0.68 0.67 0.9 k", 300.0),
        ("0 0 0 1 k", 100.0),
        ("0.6 0.6 0.6 0.6 k", 240.0),
        ("1 1 1 1 k", 400.0),
    ],
)
def test_total_ink_of_flat_grounds(colour: str, total: float, tmp_path: Path) -> None:
    """Arithmetic; C100 M100 Y50 K50 and C75 M68 Y67 K90 are 300 % (printers' public pages). A plate has 256 steps of 0.4 %."""
    book = Book()
    book.page(f"{colour} {rectangle(-3, -3, 106, 86)} f")
    plates, _ = measured(book, tmp_path)
    assert plates.max_total_percent == pytest.approx(total, abs=0.8)


@pytest.mark.parametrize(("overprints", "total"), [(True, 230.0), (False, 100.0)])
def test_black_over_a_tint_counts_as_it_prints(overprints: bool, total: float, tmp_path: Path) -> None:
    """K 100 over 70/60/0/0: 230 % where it overprints, 100 where it knocks out (ISO 32000-2, Table 146). Outside: 130."""
    book = Book()
    state = book.state(OP=overprints, op=overprints, OPM=1)
    book.page(
        f"0.7 0.6 0 0 k {rectangle(40, 40, 20, 20)} f /S gs 0 0 0 1 k {rectangle(40, 40, 20, 20)} f",
        resources={"S": state},
    )
    plates, _ = measured(book, tmp_path)
    assert plates.max_total_percent == pytest.approx(total, abs=0.8)


def test_coverage_is_the_mean_inside_the_trim(tmp_path: Path) -> None:
    book = Book()
    # 50 x 40 of 100 x 80 mm is a quarter; the magenta lies in the bleed only, the spot is half a tint on half the page.
    content = f"1 0 0 0 k {rectangle(0, 0, 50, 40)} f 0 1 0 0 k {rectangle(-3, -3, 3, 86)} f "
    content += f"/S cs 0.5 scn {rectangle(50, 0, 50, 80)} f"
    book.page(content, resources={"S": book.spot("Fern Green")})
    plates, _ = measured(book, tmp_path)
    # 128 of 255 is the nearest step to a half.
    assert coverage(plates) == pytest.approx({"Cyan": 25.0, "Fern Green": 25.0}, abs=0.15)
    by_ink = {plate.ink: plate for plate in plates.plates}
    assert by_ink["Magenta"].zone_coverage_percent == pytest.approx(100 * 3 * 86 / (106 * 86), abs=0.01)
    assert by_ink["Magenta"].marked_mm2 == pytest.approx(3 * 86)
    assert by_ink["Magenta"].box_mm == pytest.approx(Box(-3, -3, 0, 83))
    assert by_ink["Cyan"].box_mm == pytest.approx(Box(0, 40, 50, 80))
    assert by_ink["Fern Green"].kind == "spot"
    assert by_ink["Fern Green"].highest_cell_percent == pytest.approx(50.0, abs=0.3)
    assert by_ink["Yellow"].box_mm is None
    assert not plates.blank_trim


def test_finishing_plates_are_listed_and_not_counted(tmp_path: Path) -> None:
    book = Book()
    keep = book.state(OP=True, op=True, OPM=1)
    content = f"1 1 0 0 k {rectangle(0, 0, 100, 80)} f /Keep gs "
    content += f"/V cs 1 scn {rectangle(0, 0, 100, 80)} f /F cs 1 scn {rectangle(0, 0, 100, 80)} f"
    book.page(content, resources={"V": book.spot("Spot Varnish"), "F": book.spot("Fern Green"), "Keep": keep})
    plates, _ = measured(book, tmp_path)
    assert {plate.ink: plate.kind for plate in plates.plates} == {
        "Cyan": "process",
        "Magenta": "process",
        "Yellow": "process",
        "Black": "process",
        "Spot Varnish": "finishing",
        "Fern Green": "spot",
    }
    assert plates.max_total_percent == pytest.approx(300.0)


def test_an_empty_page_is_blank(tmp_path: Path) -> None:
    book = Book()
    book.page(f"0 0 0 1 k {rectangle(-9, -9, 5, 5)} f")
    plates, _ = measured(book, tmp_path)
    assert plates.blank_trim
    assert coverage(plates) == {}
    assert plates.max_total_percent == 0.0
    assert [any(edge.at_trim) for edge in plates.edges] == [False] * 4


def test_unknown_size_leaves_out_what_needs_millimetres(tmp_path: Path) -> None:
    from types import SimpleNamespace

    from preflight.inventory.plates import measure_plates

    book = Book()
    book.page(f"1 1 1 1 k {rectangle(0, 0, 50, 80)} f", trim_mm=None, bleed_mm=None, margin_mm=0)
    it = opened(book.save(tmp_path / "art.pdf"))
    artwork = SimpleNamespace(document=it.document)
    plates, _ = measure_plates(artwork, it.page, it.frame, None, None, None, job_of(), ())
    assert coverage(plates) == pytest.approx(dict.fromkeys(("Cyan", "Magenta", "Yellow", "Black"), 50.0), abs=0.1)
    assert plates.max_total_percent is None
    assert plates.edges == ()
    assert plates.ink_areas == ()


def test_a_trim_outside_the_page_is_told(tmp_path: Path) -> None:
    book = Book()
    book.page("", boxes={"TrimBox": [2000, 2000, 2100, 2100], "BleedBox": None})
    with pytest.raises(ToolFault, match="outside the page"):
        measured(book, tmp_path)


def test_a_very_large_sheet_is_measured_more_coarsely(tmp_path: Path) -> None:
    """2 x 1.5 m: 4 pixels a millimetre, a square of 15 pixels, cells of 0.75 mm."""
    book = Book()
    book.page(f"1 1 1 0.8 k {rectangle(500, 400, 100, 50)} f", trim_mm=(2000.0, 1500.0))
    plates, pixels = measured(book, tmp_path)
    assert pixels.pixels_per_mm == 4
    assert plates.cells is not None
    assert plates.cells.cell_mm == 0.75
    assert plates.max_total_percent == pytest.approx(380)
    assert plates.ink_areas[0].box_mm == pytest.approx(Box(500, 1050, 600, 1100), abs=0.3)
    assert plates.ink_areas[0].area_mm2 == pytest.approx(5000, rel=0.01)


# --- the measuring square on artwork ------------------------------------------------------------------------------------


@pytest.mark.parametrize("shift", [0.0, 0.021, 0.05, 0.0833, 0.11, 0.149, 0.9167])
def test_a_patch_of_the_measuring_area_is_seen_whole_wherever_it_lies(shift: float, tmp_path: Path) -> None:
    """A square of exactly 15 mm2 at 340 % on white: cells alone would misread it by up to 15 %."""
    side = 15.0**0.5
    book = Book()
    book.page(f"1 1 0.7 0.7 k {rectangle(31.3 + shift, 17.77 + shift * 0.7, side, side)} f")
    plates, _ = measured(book, tmp_path)
    assert plates.max_total_percent == pytest.approx(340.0, rel=0.02)


@pytest.mark.parametrize("shift", [0.0, 0.04, 0.083, 0.12])
def test_a_smaller_patch_counts_for_its_share(shift: float, tmp_path: Path) -> None:
    """3 x 3 mm of 400 % on white, 18 x 18 of 23 x 23 pixels: 245 %."""
    book = Book()
    book.page(f"1 1 1 1 k {rectangle(31.3 + shift, 17.7 - shift, 3, 3)} f")
    plates, _ = measured(book, tmp_path)
    assert plates.max_total_percent == pytest.approx(400 * 18**2 / 23**2, rel=0.001)


def test_places_over_the_limits_are_boxed_and_sized(tmp_path: Path) -> None:
    book = Book()
    content = f"1 1 0.6 0.6 k {rectangle(20, 50, 25, 12)} f 1 1 1 0.8 k {rectangle(60, 20, 10, 10)} f "
    content += f"1 1 0.4 0.4 k {rectangle(5, 5, 20, 10)} f 0.4 0 0 0 k {rectangle(80, 60, 2, 2)} f"
    book.page(content)
    plates, _ = measured(book, tmp_path)
    high = [area for area in plates.ink_areas if area.above_percent == 330]
    near = [area for area in plates.ink_areas if area.above_percent == 300]
    assert [round(area.worst_percent) for area in high] == [380]
    assert [round(area.worst_percent) for area in near] == [380, 320]
    assert high[0].box_mm == pytest.approx(Box(60, 50, 70, 60), abs=0.01)
    assert near[1].box_mm == pytest.approx(Box(20, 18, 45, 30), abs=0.01)
    assert near[1].area_mm2 == pytest.approx(25 * 12, rel=0.01)
    assert near[1].worst_mm.width == pytest.approx(23 / 6)
    assert near[1].inks_percent == pytest.approx({"Cyan": 100, "Magenta": 100, "Yellow": 60, "Black": 60}, abs=0.3)
    assert not any(area.estimated for area in plates.ink_areas)


def test_the_square_stays_inside_the_bleed_area(tmp_path: Path) -> None:
    """A strip of 400 % whose outer 5 mm lie past the bleed: only 3 of 8 mm can be measured, the square holds 3 of 3.83."""
    book = Book()
    book.page(f"1 1 1 1 k {rectangle(-8, -10, 8, 100)} f")
    plates, _ = measured(book, tmp_path)
    assert plates.max_total_percent == pytest.approx(400 * 18 / 23, rel=0.01)


# --- another renderer -----------------------------------------------------------------------------------------------------

VECTOR_ART = {
    "circles": " ".join(
        f"{0.1 * (i % 10):.1f} {0.07 * i % 1:.2f} 0.2 0.1 k {rectangle(3 + i % 8 * 12, 2 + i // 8 * 11, 9, 8)} f"
        for i in range(56)
    ),
    "strokes": "0 0.8 0.9 0 K "
    + " ".join(f"{0.3 + i / 5} w {mm(5)} {mm(4 + i * 2.4)} m {mm(95)} {mm(2 + i * 2.5)} l S" for i in range(0, 30, 3)),
    "curves": "0.9 0.1 0 0.3 k "
    + " ".join(
        f"{mm(50)} {mm(5 + i)} m {mm(95)} {mm(20 + i)} {mm(60)} {mm(70)} {mm(50)} {mm(75)} c {mm(5)} {mm(60)} {mm(30)} {mm(20)} {mm(50)} {mm(5 + i)} c f*"
        for i in range(0, 12, 3)
    ),
    "overprint": f"/Keep gs 0.6 0 0 0 k {rectangle(5, 5, 60, 60)} f 0 0.7 0 0 k {rectangle(35, 15, 60, 60)} f "
    f"0 0 0 1 k {rectangle(20, 30, 60, 20)} f /Fern cs 0.5 scn {rectangle(10, 10, 40, 60)} f",
    "text": "0 0 0 1 k BT /Face 11 Tf 13 TL 10 215 Td "
    + " ".join("(Fernhollow Botanic Garden, spring guide 0123456789) Tj T*" for _ in range(16))
    + " ET",
}


@pytest.mark.parametrize("art", VECTOR_ART)
def test_coverage_agrees_with_another_renderer_on_vector_art(art: str, tmp_path: Path) -> None:
    """Ghostscript's separation device at the same resolution, within one percent point a plate."""
    program = need("gs")
    book = Book()
    resources = {
        "Keep": book.state(OP=True, op=True, OPM=1),
        "Fern": book.spot("Fern Green"),
        "Face": book.base_font(),
    }
    book.page(VECTOR_ART[art], resources=resources, margin_mm=0, bleed_mm=None)
    path = book.save(tmp_path / "art.pdf")
    plates, _ = measured_page(opened(path), job_of())
    output = tmp_path / "plate.tif"
    subprocess.run(
        [
            program,
            "-q",
            "-dNOPAUSE",
            "-dBATCH",
            "-dSAFER",
            "-r609.6",
            "-sDEVICE=tiffsep",
            f"-sOutputFile={output}",
            str(path),
        ],
        check=True,
        capture_output=True,
    )
    expected = {}
    for ink in ("Cyan", "Magenta", "Yellow", "Black", "Fern Green"):
        plate = tmp_path / f"plate({ink}).tif"
        if plate.exists():
            mean = 100.0 - float(np.asarray(Image.open(plate), dtype=np.float64).mean()) / 2.55
            expected[ink] = mean
    seen = {plate.ink: plate.coverage_percent for plate in plates.plates}
    for ink, percent in expected.items():
        assert seen.get(ink, 0.0) == pytest.approx(percent, abs=1.0), ink
    assert any(percent > 3.0 for percent in expected.values())


# --- the same page in other clothes ---------------------------------------------------------------------------------------


def busy(book: Book) -> tuple[str, dict[str, Any]]:
    """Ink that runs off the left and the top, dark squares, a picture, a spot and text: each corner is different."""
    content = f"0.3 0 0.4 0 k {rectangle(-3, 20, 40, 63)} f 1 1 0.8 0.7 k {rectangle(60, 10, 12, 9)} f "
    content += (
        f"/S cs 0.7 scn {rectangle(70, 50, 20, 20)} f 0 0 0 1 k BT /F 14 Tf {mm(10)} {mm(8)} Td (Fernhollow) Tj ET "
    )
    content += f"q {mm(30)} 0 0 {mm(20)} {mm(40)} {mm(30)} cm /I Do Q"
    return content, {"S": book.spot("Fern Green"), "F": book.base_font(), "I": book.image(90, 60)}


def figures(plates: Plates) -> list[float]:
    return [plate.coverage_percent for plate in plates.plates] + [plates.max_total_percent or 0.0]


@pytest.fixture
def plain(tmp_path: Path) -> Plates:
    book = Book()
    content, resources = busy(book)
    book.page(content, resources=resources)
    return measured(book, tmp_path)[0]


@pytest.mark.parametrize("turn", [90, 180, 270])
def test_a_turned_page_has_the_same_ink(turn: int, plain: Plates, tmp_path: Path) -> None:
    book = Book()
    content, resources = busy(book)
    book.page(content, resources=resources, Rotate=turn)
    plates, _ = measured(book, tmp_path)
    assert figures(plates) == pytest.approx(figures(plain), abs=0.35)
    edges = ("left", "top", "right", "bottom")
    turned = {edges[(edges.index(edge.edge) + turn // 90) % 4]: edge for edge in plain.edges}
    for edge in plates.edges:
        before = turned[edge.edge]
        assert sum(edge.at_trim) == pytest.approx(sum(before.at_trim), abs=2)
        assert max(edge.depth_mm) == pytest.approx(max(before.depth_mm))


@pytest.mark.parametrize("origin", [(-300.0, 417.0), (1234.5678, -0.333)])
def test_any_origin_gives_the_same_plates(origin: tuple[float, float], plain: Plates, tmp_path: Path) -> None:
    book = Book()
    content, resources = busy(book)
    page = book.page(content, resources=resources)
    for key in ("/MediaBox", "/TrimBox", "/BleedBox"):
        box = [float(value) for value in page.obj[key]]
        page.obj[key] = pikepdf.Array([box[0] + origin[0], box[1] + origin[1], box[2] + origin[0], box[3] + origin[1]])
    old = page.obj.Contents.read_bytes()
    page.obj.Contents = book.stream(b"1 0 0 1 %.4f %.4f cm\n" % origin + old)
    plates, _ = measured(book, tmp_path)
    assert figures(plates) == pytest.approx(figures(plain), abs=0.2)
    assert [edge.edge for edge in plates.edges if any(edge.at_trim)] == ["left", "top"]


def test_a_user_unit_is_a_scale_like_any_other(plain: Plates, tmp_path: Path) -> None:
    """ISO 32000-2, Table 31: the same page written at half the size with UserUnit 2."""
    book = Book()
    content, resources = busy(book)
    page = book.page(content, resources=resources, UserUnit=2)
    for key in ("/MediaBox", "/TrimBox", "/BleedBox"):
        page.obj[key] = pikepdf.Array([float(value) / 2 for value in page.obj[key]])
    page.obj.Contents = book.stream(b"0.5 0 0 0.5 0 0 cm\n" + page.obj.Contents.read_bytes())
    plates, _ = measured(book, tmp_path)
    assert figures(plates) == pytest.approx(figures(plain), abs=0.2)


def test_wrapped_in_a_form_it_is_the_same(plain: Plates, tmp_path: Path) -> None:
    book = Book()
    content, resources = busy(book)
    book.page("/Whole Do", resources={"Whole": book.form(content, resources=resources)})
    plates, _ = measured(book, tmp_path)
    assert figures(plates) == pytest.approx(figures(plain), abs=0.01)


@pytest.mark.parametrize("trim_mm", [(100.0, 80.0), (99.9333, 80.08), (148.5, 105.123)])
def test_bands_give_the_same_pixels_as_one_piece(trim_mm: tuple[float, float], tmp_path: Path) -> None:
    book = Book()
    content, resources = busy(book)
    book.page(content, resources=resources, trim_mm=trim_mm)
    whole = look(book, tmp_path).pixels
    pieces = look(book, tmp_path, band_bytes=150_000).pixels
    assert whole.inks == pieces.inks
    for one, other in zip(whole.planes, pieces.planes, strict=True):
        assert np.array_equal(one, other)


def test_a_large_sheet_goes_in_bands(tmp_path: Path) -> None:
    """841 x 1189 mm is 36 million pixels, twice what is rendered at once with five plates."""
    book = Book()
    content, resources = busy(book)
    scale = 8.41
    book.page(f"q {scale} 0 0 {scale} 0 0 cm {content} Q", resources=resources, trim_mm=(841.0, 1189.0))
    plates, pixels = measured(book, tmp_path)
    assert pixels.pixels_per_mm == 6
    assert pixels.planes[0].shape == (7182, 5094)
    assert coverage(plates)["Cyan"] > 1.0


def test_the_grid_lies_on_the_trim(tmp_path: Path) -> None:
    """Odd boxes: ink that starts at the trim starts at a pixel's edge, and cells start at the bleed area's corner."""
    book = Book()
    book.page(f"0 0 0 1 k {rectangle(0, 0, 33.35, 47.77)} f", trim_mm=(77.77, 47.77), margin_mm=11.313)
    plates, pixels = measured(book, tmp_path)
    black = pixels.planes[3]
    top, bottom, left, _ = pixels.pixel_box(Box(0, 0, 77.77, 47.77))
    assert not black[:top].any()
    assert not black[:, :left].any()
    assert black[top:bottom, left].all()
    assert not black[bottom:].any()
    assert plates.cells is not None
    assert plates.cells.origin_mm == pytest.approx((-3.0, -3.0))
    data = np.frombuffer(plates.cells.data, dtype=np.uint8).reshape(plates.cells.planes, plates.cells.rows, -1)
    assert data[3, 6, 6] == 255
    assert data[3, 5, 6] == 0


def test_thin_lines_are_on_the_plates(tmp_path: Path) -> None:
    """A die line of a tenth of a point and a filled hairline still mark their plates."""
    book = Book()
    content = f"/D CS 1 SCN 0.1 w {rectangle(10.03, 10.04, 60, 50)} S 0 0 0 1 k {rectangle(20.04, 70.06, 50, 0.02)} f"
    book.page(content, resources={"D": book.spot("Die line")})
    plates, _ = measured(book, tmp_path)
    marked = {plate.ink: plate.marked_mm2 for plate in plates.plates if plate.marked_mm2}
    assert marked == pytest.approx({"Black": 50 / 6, "Die line": 220 / 6}, rel=0.03)


# --- composites -----------------------------------------------------------------------------------------------------------


def test_the_composite_shows_what_prints(tmp_path: Path) -> None:
    book = Book()
    content = f"0 1 1 0 k {rectangle(0, 0, 30, 80)} f /S cs 1 scn {rectangle(40, 0, 30, 80)} f"
    book.page(content, resources={"S": book.spot("Fern Green", (1.0, 0.0, 1.0, 0.2))})
    pixels = look(book, tmp_path).pixels
    shown = preview_rgb(pixels)
    assert shown.pixels_per_mm == 6
    assert shown.origin_mm == pixels.origin_mm

    def at(preview: Any, x_mm: float, y_mm: float) -> list[int]:
        column, row = (
            (value - start) * preview.pixels_per_mm
            for value, start in zip((x_mm, y_mm), preview.origin_mm, strict=True)
        )
        return [int(value) for value in preview.rgb[int(row), int(column)]]

    assert at(shown, 90, 40) == [255, 255, 255]
    red, green, blue = at(shown, 10, 40)
    assert red > 180 > 90 > max(green, blue)
    red, green, blue = at(shown, 50, 40)
    assert green > 90 > 60 > red
    part = preview_rgb(pixels, Box(35, 30, 75, 50), most_pixels=5_000)
    assert part.pixels_per_mm == 2
    assert at(part, 50, 40) == pytest.approx(at(shown, 50, 40), abs=2)


def test_two_percent_is_ink() -> None:
    """The least ink that counts at an edge is 2 %, as the engine writes it (2.55 bytes a percent)."""
    assert LEAST_INK == 5
