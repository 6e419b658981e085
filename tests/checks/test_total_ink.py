"""Total ink: places over the limit on real plates, with size and inks, and the harmless heights that must stay silent.

Limits of coated stock are 300 (note) and 330 % (stop), of newsprint 220 and 240; the tolerance is 2 percent points (contract).
"""

from __future__ import annotations

import io
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from artwork import Book, mm, rectangle
from by_hand import job_of, judged, not_judged, page_answers, page_of, painted
from pikepdf import Array, Dictionary, Name
from PIL import Image
from plated import GHOSTSCRIPT_CMYK, needs_profiles, plated_page

from preflight.findings import Finding, Found
from preflight.inventory.model import PROCESS_INKS, Colour, ImageUse, Painted, Shape

PATCH = rectangle(30, 20, 20, 10)
RGB = Colour("rgb", space="DeviceRGB", values=(0.0, 0.0, 0.0))


def answers(
    content: str,
    folder: Path,
    *,
    rules: str = "sheetfed-coated",
    resources: Any = None,
    seen: tuple[Painted, ...] = (),
    intent: bool = False,
    **page: Any,
) -> list[Finding]:
    book = Book()
    book.page(content, resources=resources(book) if resources else None, **page)
    if intent:
        book.output_intent("CGATS TR 001", GHOSTSCRIPT_CMYK)
    job = job_of(rules)
    return judged("total-ink", page_answers("total-ink", plated_page(book, folder, 1, job, seen), job), job)


def ids(findings: list[Finding]) -> list[str]:
    return [f"{finding.id} {finding.severity.value}" for finding in findings]


@pytest.mark.parametrize(
    ("rules", "total", "expected"),
    [
        ("sheetfed-coated", 300, []),
        ("sheetfed-coated", 301.5, []),
        ("sheetfed-coated", 304, ["total-ink.near note"]),
        ("sheetfed-coated", 330, ["total-ink.near note"]),
        ("sheetfed-coated", 331.5, ["total-ink.near note"]),
        ("sheetfed-coated", 334, ["total-ink.high stop"]),
        ("sheetfed-coated", 400, ["total-ink.high stop"]),
        ("sheetfed-uncoated", 280, []),
        ("sheetfed-uncoated", 290, ["total-ink.near note"]),
        ("sheetfed-uncoated", 310, ["total-ink.high stop"]),
        ("heatset-web", 300, ["total-ink.near note"]),
        ("heatset-web", 304, ["total-ink.high stop"]),
        ("newsprint", 220, []),
        ("newsprint", 225, ["total-ink.near ask"]),
        ("newsprint", 245, ["total-ink.high stop"]),
    ],
)
def test_limits_of_each_stock(rules: str, total: float, expected: list[str], tmp_path: Path) -> None:
    """A ground whose inks sum to ``total``: profile blacks that reach a limit exactly pass."""
    inks = " ".join(f"{min(1.0, total / 400):.5f}" for _ in range(4))
    found = answers(f"{inks} k {PATCH} f", tmp_path, rules=rules)
    assert ids(found) == expected
    for finding in found:
        # The engine cuts a tint to the next lower of 255 steps of 0.4 %, here on four plates.
        assert total - 1.6 <= (finding.measured or 0.0) <= total
        assert finding.unit == "percent"


def test_place_area_and_inks(tmp_path: Path) -> None:
    (finding,) = answers(f"1 0.9 0.8 0.9 k {PATCH} f", tmp_path)
    assert finding.measured == pytest.approx(360, abs=0.8)
    assert finding.limit == 330
    assert finding.box_mm == pytest.approx([30, 50, 50, 60], abs=0.2)
    assert finding.details["area_mm2"] == pytest.approx(20 * 10, rel=0.02)
    assert finding.details["inks_percent"] == pytest.approx(
        {"Cyan": 100, "Black": 90, "Magenta": 90, "Yellow": 80}, abs=0.3
    )
    assert finding.details["estimated"] is False


@pytest.mark.parametrize("dress", ["form", "rotated", "pattern", "image", "overprint", "multiply", "spots", "device-n"])
def test_whatever_the_ink_comes_from(dress: str, tmp_path: Path) -> None:
    """360 % on 20 x 10 mm, made up in different ways."""

    def resources(book: Book) -> dict[str, Any]:
        keep = book.state(OP=True, op=True, OPM=1)
        return {
            "form": lambda: {"It": book.form(f"0.9 0.9 0.9 0.9 k {PATCH} f")},
            "pattern": lambda: {"It": book.tiling("0.9 0.9 0.9 0.9 k 0 0 5 5 re f", cell=(5, 5))},
            "image": lambda: {"It": book.image(40, 20, data=bytes([230] * 4 * 800))},
            "overprint": lambda: {"Keep": keep},
            "multiply": lambda: {"Keep": book.state(BM=Name.Multiply)},
            "spots": lambda: {"Keep": keep, "S": book.spot("Fern Green"), "T": book.spot("Pond Blue")},
            "device-n": lambda: {"N": book.device_n(["Cyan", "Fern Green", "Black", "Pond Blue"])},
        }.get(dress, dict)()

    content = {
        "form": "/It Do",
        "rotated": f"0.9 0.9 0.9 0.9 k {PATCH} f",
        "pattern": f"/Pattern cs /It scn {PATCH} f",
        "image": f"q {mm(20)} 0 0 {mm(10)} {mm(30)} {mm(20)} cm /It Do Q",
        "overprint": f"0.9 0.9 0 0 k {PATCH} f /Keep gs 0 0 0.9 0.9 k {PATCH} f",
        "multiply": f"0.9 0.9 0 0 k {PATCH} f /Keep gs 0 0 0.9 0.9 k {PATCH} f",
        "spots": f"0.9 0 0.9 0 k {PATCH} f /Keep gs /S cs 0.9 scn {PATCH} f /T cs 0.9 scn {PATCH} f",
        "device-n": f"/N cs 0.9 0.9 0.9 0.9 scn {PATCH} f",
    }[dress]
    page = {"Rotate": 90} if dress == "rotated" else {}
    (finding,) = answers(content, tmp_path, resources=resources, **page)
    assert finding.id == "total-ink.high"
    assert finding.measured == pytest.approx(360, rel=0.02)
    place = [20, 30, 30, 50] if dress == "rotated" else [30, 50, 50, 60]
    assert finding.box_mm == pytest.approx(place, abs=1.0)


def test_in_the_bleed_too_but_not_past_it(tmp_path: Path) -> None:
    inside = f"1 1 1 1 k {rectangle(-3, 20, 4, 20)} f"
    assert ids(answers(inside, tmp_path)) == ["total-ink.high stop"]
    assert answers(f"1 1 1 1 k {rectangle(-9, 20, 6, 20)} f", tmp_path) == []


def test_a_high_place_silences_the_rim_and_not_another_place(tmp_path: Path) -> None:
    content = f"0.8 0.8 0.8 0.8 k {rectangle(5, 5, 40, 40)} f 0.9 0.9 0.9 0.9 k {rectangle(15, 15, 10, 10)} f "
    content += f"0.8 0.8 0.8 0.8 k {rectangle(60, 10, 20, 20)} f"
    found = answers(content, tmp_path)
    assert ids(found) == ["total-ink.high stop", "total-ink.near note"]
    assert found[0].box_mm == pytest.approx([15, 55, 25, 65], abs=0.2)
    assert found[1].box_mm == pytest.approx([60, 50, 80, 70], abs=0.2)


def test_two_places_are_two_findings(tmp_path: Path) -> None:
    content = " ".join(f"1 1 1 0.8 k {rectangle(x, 20, 8, 8)} f" for x in (10, 40, 70))
    assert ids(answers(content, tmp_path)) == ["total-ink.high stop"] * 3


def test_many_places_become_one_finding(tmp_path: Path) -> None:
    content = " ".join(f"1 1 1 0.8 k {rectangle(2 + x * 12, 2 + y * 12, 6, 6)} f" for x in range(8) for y in range(6))
    (finding,) = answers(content, tmp_path)
    assert finding.count == 48
    assert len(finding.details["boxes_mm"]) == 48


# --- left alone -----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "content",
    [
        f"1 1 1 1 k {rectangle(30, 20, 2, 2)} f",  # 107 %
        f"1 1 1 1 k {rectangle(10, 20, 80, 1)} f",  # a rule of a millimetre: 104 %
        f"1 1 1 1 k {rectangle(30, 20, 3.2, 3.2)} f",  # 10.2 of 15 mm2: 273 %
        " ".join(
            f"1 1 1 1 k {rectangle(10 + i * 0.9, 20 + j * 0.9, 0.4, 0.4)} f" for i in range(20) for j in range(20)
        ),
        "1 1 1 1 k BT /F 9 Tf 60 120 Td (fernhollow) Tj ET",
        "1 1 1 1 K 0.3 w " + " ".join(f"0 {y} m 280 {y} l S" for y in range(0, 200, 8)),
    ],
    ids=["dot", "rule", "patch under the area", "grid of dots", "type", "marks"],
)
def test_small_heights_average_out(content: str, tmp_path: Path) -> None:
    assert answers(content, tmp_path, resources=lambda book: {"F": book.base_font("Helvetica-Bold")}) == []


@pytest.mark.parametrize("quality", [60, 75, 85])
def test_the_ringing_of_jpeg_pictures_is_silent(quality: int, tmp_path: Path) -> None:
    """Hard-edged dark art of at most 296 %: recompressed, single pixels pass 330 %, no 15 mm2 passes 302 %."""
    draw = np.random.default_rng(7)
    tones = np.zeros((600, 600, 4), dtype=np.uint8)
    for _ in range(260):
        row, column = draw.integers(0, 600, 2)
        height, width = draw.integers(4, 70, 2)
        dark = draw.dirichlet((4, 4, 4, 4)) * draw.uniform(0.2, 2.96)
        tones[row : row + height, column : column + width] = np.clip(dark, 0, 1) * 255
    stored = io.BytesIO()
    Image.fromarray(tones, mode="CMYK").save(stored, "JPEG", quality=quality)
    again = np.asarray(Image.open(io.BytesIO(stored.getvalue())))
    assert again.astype(int).sum(axis=2).max() / 2.55 > 300

    def resources(book: Book) -> dict[str, Any]:
        return {"I": book.image(600, 600, data=again.tobytes())}

    assert answers(f"q {mm(50)} 0 0 {mm(50)} {mm(20)} {mm(10)} cm /I Do Q", tmp_path, resources=resources) == []


@pytest.mark.parametrize("ink", ["Varnish", "Die line", "Hot foil"])
def test_finishing_plates_do_not_count(ink: str, tmp_path: Path) -> None:
    content = f"0.75 0.75 0.75 0.75 k {PATCH} f /Keep gs /V cs 1 scn {PATCH} f"

    def resources(book: Book, name: str) -> dict[str, Any]:
        return {"V": book.spot(name), "Keep": book.state(OP=True, op=True, OPM=1)}

    assert answers(content, tmp_path, resources=lambda book: resources(book, ink)) == []
    fern = answers(content, tmp_path, resources=lambda book: resources(book, "Fern Green"))
    assert ids(fern) == ["total-ink.high stop"]


def test_white_overprint_and_knocked_out_ground_do_not_count(tmp_path: Path) -> None:
    content = f"1 1 0.6 0.4 k {PATCH} f 0 0 0 1 k {PATCH} f"
    assert answers(content, tmp_path) == []


# --- estimates ------------------------------------------------------------------------------------------------------------


def rgb_thing(**facts: Any) -> Painted:
    facts.setdefault("shape", Shape(None, 200.0, is_rectangle=True))
    return painted(RGB, (30.0, 50.0, 50.0, 60.0), **facts)


def test_rgb_without_a_profile_is_an_estimate(tmp_path: Path) -> None:
    """RGB black becomes about 296 % in the engine's own profile: over newsprint's limit, but nobody's ink yet."""
    found = answers(f"0 0 0 rg {PATCH} f", tmp_path, rules="newsprint", seen=(rgb_thing(),))
    assert ids(found) == ["total-ink.high note"]
    assert found[0].details["mild"] is True
    assert found[0].details["estimated"] is True
    assert "estimated" in found[0].message


@needs_profiles
def test_rgb_through_the_files_profile_counts(tmp_path: Path) -> None:
    found = answers(f"0 0 0 rg {PATCH} f", tmp_path, rules="newsprint", seen=(rgb_thing(),), intent=True)
    assert ids(found) == ["total-ink.high stop"]
    assert found[0].details["estimated"] is False


@pytest.mark.parametrize("family", ["cal-rgb", "icc-rgb", "lab"])
def test_other_converted_colours_are_estimates_too(family: str, tmp_path: Path) -> None:
    thing = painted(Colour(family), (30.0, 50.0, 50.0, 60.0), kind="image", image=ImageUse(9, 9, 8, 72, 72, (20, 10)))  # type: ignore[arg-type]
    assert ids(answers(f"0 0 0 rg {PATCH} f", tmp_path, rules="newsprint", seen=(thing,))) == ["total-ink.high note"]


def test_cmyk_over_an_rgb_picture_is_no_estimate(tmp_path: Path) -> None:
    dark = Colour("cmyk", inks=PROCESS_INKS, values=(0.9, 0.9, 0.9, 0.9))
    over = painted(dark, (30.0, 50.0, 50.0, 60.0), order=2, shape=Shape(None, 200.0, is_rectangle=True))
    content = f"0 0 0 rg {rectangle(0, 0, 100, 80)} f 0.9 0.9 0.9 0.9 k {PATCH} f"
    under = painted(RGB, (0.0, 0.0, 100.0, 80.0), order=1, shape=Shape(None, 8000.0, is_rectangle=True))
    assert ids(answers(content, tmp_path, seen=(under, over))) == ["total-ink.high stop"]


def test_rgb_elsewhere_does_not_soften_a_cmyk_place(tmp_path: Path) -> None:
    elsewhere = painted(RGB, (70.0, 10.0, 90.0, 20.0))
    dark = painted(Colour("cmyk", inks=PROCESS_INKS, values=(0.9, 0.9, 0.9, 0.9)), (30.0, 50.0, 50.0, 60.0))
    content = f"0.9 0.9 0.9 0.9 k {PATCH} f 0 0 0 rg {rectangle(70, 60, 20, 10)} f"
    assert ids(answers(content, tmp_path, seen=(elsewhere, dark))) == ["total-ink.high stop"]


def test_a_cmyk_picture_under_rgb_type_is_no_estimate(tmp_path: Path) -> None:
    picture = painted(
        Colour("cmyk"), (30.0, 50.0, 50.0, 60.0), kind="image", image=ImageUse(40, 20, 8, 50, 50, (20, 10))
    )
    type_over = painted(RGB, (31.0, 51.0, 49.0, 59.0), order=1, kind="text")

    def resources(book: Book) -> dict[str, Any]:
        return {"It": book.image(40, 20, data=bytes([230] * 4 * 800))}

    content = f"q {mm(20)} 0 0 {mm(10)} {mm(30)} {mm(20)} cm /It Do Q"
    assert ids(answers(content, tmp_path, resources=resources, seen=(picture, type_over))) == ["total-ink.high stop"]


def test_where_the_size_is_not_known_nothing_is_judged() -> None:
    found = page_answers("total-ink", page_of(trim_mm=None, bleed_mm=None), job_of())
    assert not_judged(found) == ["the printed size is not known"]
    assert not any(isinstance(answer, Found) for answer in found)


def test_soft_shadows_count_where_they_add_up(tmp_path: Path) -> None:
    """A shadow of 60 % K through a soft mask over 280 %: inks of both layers as Multiply leaves them."""
    mask = Dictionary(S=Name.Luminosity)

    def resources(book: Book) -> dict[str, Any]:
        group = Dictionary(S=Name.Transparency, CS=Name.DeviceGray)
        mask.G = book.form(f"1 g {rectangle(0, 0, 100, 80)} f", Group=group, BBox=Array([-50, -50, 900, 900]))
        return {"Shadow": book.state(SMask=mask, BM=Name.Multiply, ca=0.6)}

    content = f"1 1 0.8 0 k {PATCH} f /Shadow gs 0 0 0 1 k {PATCH} f"
    (finding,) = answers(content, tmp_path, resources=resources)
    assert finding.id == "total-ink.high"
    assert finding.measured == pytest.approx(340, abs=2)
