"""Bleed: faults found edge by edge in real plates, and the harmless ends that must stay silent.

Pages are 100 x 80 mm with 10 mm of room around the trim and a BleedBox of 3 mm unless said otherwise. Expected figures are the
artwork's own lengths; limits are 2 and 3 mm for an ordered bleed of 3 (contract).
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest
from artwork import Book, mm, rectangle
from by_hand import job_of, judged, not_judged, page_answers, page_of, painted
from pikepdf import Array, Dictionary, Name
from plated import plated_page

from preflight.findings import Finding, Found
from preflight.inventory.model import Colour, ImageUse, Painted, TextRun
from preflight.units import Box

GREEN = "0.6 0 0.8 0 k"
FULL = f"{GREEN} {rectangle(-3, -3, 106, 86)} f"
EDGES = ("left", "top", "right", "bottom")


def answers(
    content: str,
    folder: Path,
    *,
    resources: Any = None,
    order: dict[str, Any] | None = None,
    seen: tuple[Painted, ...] = (),
    number: int = 1,
    **page: Any,
) -> list[Finding]:
    book = Book()
    for _ in range(number):
        book.page(content, resources=resources(book) if resources else None, **page)
    job = job_of(**(order or {}))
    return judged("bleed", page_answers("bleed", plated_page(book, folder, number, job, seen), job), job)


def by_edge(findings: list[Finding]) -> dict[str, tuple[str, float | None]]:
    """Edge: kind with severity, and what was measured to a tenth."""
    return {
        finding.details["edge"]: (f"{finding.id} {finding.severity.value}", round(finding.measured or 0.0, 1))
        for finding in findings
    }


# --- no room, too little room ---------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("margin", "expected"),
    [
        (0.0, ("bleed.missing stop", 0.0)),
        (1.5, ("bleed.missing stop", 1.5)),
        (1.9, ("bleed.missing stop", 1.9)),
        (2.0, ("bleed.short ask", 2.0)),
        (2.5, ("bleed.short ask", 2.5)),
        (3.0, None),
        (3.175, None),
        (5.0, None),
    ],
)
def test_room_past_the_trim(margin: float, expected: Any, tmp_path: Path) -> None:
    """The page ends ``margin`` past the trim and the ground fills it all."""
    ground = f"{GREEN} {rectangle(-9, -9, 118, 98)} f"
    found = by_edge(answers(ground, tmp_path, margin_mm=margin, bleed_mm=None))
    assert found == ({} if expected is None else dict.fromkeys(EDGES, expected))


def test_one_finding_an_edge_with_its_strip(tmp_path: Path) -> None:
    found = answers(f"{GREEN} {rectangle(0, 0, 100, 80)} f", tmp_path)
    assert by_edge(found) == dict.fromkeys(EDGES, ("bleed.empty stop", 0.0))
    boxes = {finding.details["edge"]: Box(*finding.box_mm or ()) for finding in found}
    assert boxes["left"] == pytest.approx(Box(-3, 0, 0, 80), abs=0.2)
    assert boxes["top"] == pytest.approx(Box(0, -3, 100, 0), abs=0.2)
    assert boxes["right"] == pytest.approx(Box(100, 0, 103, 80), abs=0.2)
    assert boxes["bottom"] == pytest.approx(Box(0, 80, 100, 83), abs=0.2)
    assert {finding.limit for finding in found} == {2.0}
    assert {finding.unit for finding in found} == {"mm"}
    assert found[0].details["length_mm"] in (pytest.approx(80, abs=0.4), pytest.approx(100, abs=0.4))


# --- room, but ink stops in it ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("past", "expected"),
    [
        (0.0, ("bleed.empty stop", 0.0)),
        (1.0, ("bleed.empty stop", 1.0)),
        (1.83, ("bleed.empty stop", 1.8)),
        (2.0, ("bleed.short ask", 2.0)),
        (2.5, ("bleed.short ask", 2.5)),
        (2.8, ("bleed.short ask", 2.8)),
        (3.0, None),
        (6.0, None),
    ],
)
def test_ground_that_stops_short(past: float, expected: Any, tmp_path: Path) -> None:
    ground = f"{GREEN} {rectangle(-past, -past, 100 + 2 * past, 80 + 2 * past)} f"
    assert by_edge(answers(ground, tmp_path)) == ({} if expected is None else dict.fromkeys(EDGES, expected))


@pytest.mark.parametrize("dress", ["form", "pattern", "image", "spot", "rgb", "tint", "thin rules"])
def test_whatever_the_ink_comes_from(dress: str, tmp_path: Path) -> None:
    """Ink that ends at the left trim, one millimetre past the right one, and runs off nowhere else."""
    box = rectangle(0, 20, 101, 40)

    def resources(book: Book) -> dict[str, Any]:
        return {
            "form": lambda: {"It": book.form(f"{GREEN} {box} f")},
            "pattern": lambda: {"It": book.tiling("0.5 0 0 0 k 0 0 7 7 re f", cell=(7, 7))},
            "image": lambda: {"It": book.image(300, 120)},
            "spot": lambda: {"It": book.spot("Fern Green")},
        }.get(dress, dict)()

    content = {
        "form": "/It Do",
        "pattern": f"/Pattern cs /It scn {box} f",
        "image": f"q {mm(101)} 0 0 {mm(40)} 0 {mm(20)} cm /It Do Q",
        "spot": f"/It cs 0.8 scn {box} f",
        "rgb": f"0.2 0.6 0.3 rg {box} f",
        "tint": f"0 0 0.03 0 k {box} f",
        "thin rules": " ".join(f"0 0 0 1 k {rectangle(0, y, 101, 0.35)} f" for y in range(20, 60, 2)),
    }[dress]
    found = answers(content, tmp_path, resources=resources)
    assert {edge: kind for edge, (kind, _) in by_edge(found).items()} == dict.fromkeys(
        ("left", "right"), "bleed.empty stop"
    )
    measured = {edge: value for edge, (_, value) in by_edge(found).items()}
    # One pixel is 0.17 mm.
    assert measured["left"] == pytest.approx(0.0, abs=0.2)
    assert measured["right"] == pytest.approx(1.0, abs=0.2)
    for finding in found:
        assert finding.box_mm is not None
        assert finding.box_mm[1:4:2] == pytest.approx([20, 60], abs=1.0 if dress != "thin rules" else 2.1)


@pytest.mark.parametrize("turn", [0, 90, 180, 270])
def test_edges_turn_with_the_page(turn: int, tmp_path: Path) -> None:
    ground = f"{GREEN} {rectangle(0, 20, 40, 63)} f"  # stops at the left trim, runs off the top
    found = by_edge(answers(ground, tmp_path, Rotate=turn))
    assert found == {EDGES[turn // 90]: ("bleed.empty stop", 0.0)}


def test_only_part_of_an_edge_is_short(tmp_path: Path) -> None:
    found = answers(f"{GREEN} {rectangle(-3, -3, 106, 43)} f {rectangle(0, 50, 30, 20)} f", tmp_path)
    assert by_edge(found) == {"left": ("bleed.empty stop", 0.0)}
    assert found[0].box_mm == pytest.approx([-3, 10, 0, 30], abs=0.3)
    assert found[0].details["length_mm"] == pytest.approx(20, abs=0.4)


@pytest.mark.parametrize("length", [3, 5, 20])
@pytest.mark.parametrize("past", [0, 1])
def test_a_picture_short_between_two_that_bleed(length: float, past: float, tmp_path: Path) -> None:
    content = f"{GREEN} {rectangle(-3, -3, 43, 23)} f 0 0.5 0 0 k {rectangle(-past, 20, 40, length)} f "
    content += f"{GREEN} {rectangle(-3, 20 + length, 43, 63 - length)} f"
    found = answers(content, tmp_path)
    assert by_edge(found) == {"left": ("bleed.empty stop", float(past))}
    assert found[0].details["length_mm"] == pytest.approx(length, abs=0.4)
    assert found[0].box_mm == pytest.approx([-3, 60 - length, 0, 60], abs=0.3)


def test_a_crooked_picture_whose_edge_crosses_the_trim_slowly(tmp_path: Path) -> None:
    """Turned by one degree about the corner, its left side is 0 to 1.4 mm past the trim: slivers of paper."""
    content = f"{GREEN} {mm(0)} {mm(-3)} m {mm(60)} {mm(-3)} l {mm(60)} {mm(83)} l {mm(-1.5)} {mm(83)} l f"
    assert by_edge(answers(content, tmp_path)) == {"left": ("bleed.empty stop", 0.0)}


def test_a_rule_that_ends_at_the_trim(tmp_path: Path) -> None:
    content = f"0 0 0 1 K 1 w 0 {mm(40)} m {mm(100.5)} {mm(40)} l S"
    assert by_edge(answers(content, tmp_path)) == {
        "left": ("bleed.empty stop", 0.0),
        "right": ("bleed.empty stop", 0.5),
    }


def test_a_frame_in_the_bleed_makes_up_for_nothing(tmp_path: Path) -> None:
    content = f"{GREEN} {rectangle(0, 0, 100, 80)} f 0 0 0 1 K 0.5 w {rectangle(-2.6, -2.6, 105.2, 85.2)} S"
    assert by_edge(answers(content, tmp_path)) == dict.fromkeys(EDGES, ("bleed.empty stop", 0.0))


def test_ink_just_inside_the_trim_still_reaches_it(tmp_path: Path) -> None:
    """Rounding of sizes leaves a tenth of a millimetre: nobody means that as a margin."""
    assert by_edge(answers(f"{GREEN} {rectangle(0.2, 20, 50, 30)} f", tmp_path)) == {"left": ("bleed.empty stop", 0.0)}


# --- another ordered bleed ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("ordered", "past", "expected"),
    [
        (5.0, 3.0, ("bleed.empty stop", 3.0, 3.333)),
        (5.0, 4.0, ("bleed.short ask", 4.0, 5.0)),
        (5.0, 5.0, None),
        (2.0, 1.0, ("bleed.empty stop", 1.0, 1.333)),
        (2.0, 1.5, ("bleed.short ask", 1.5, 2.0)),
        (2.0, 2.0, None),
        (0.0, 0.0, None),
    ],
)
def test_the_limits_scale_with_the_ordered_bleed(ordered: float, past: float, expected: Any, tmp_path: Path) -> None:
    ground = f"{GREEN} {rectangle(-past, -past, 100 + 2 * past, 80 + 2 * past)} f"
    found = answers(ground, tmp_path, order={"bleed_mm": ordered}, bleed_mm=None)
    assert len(found) == (4 if expected else 0)
    for finding in found:
        assert f"{finding.id} {finding.severity.value}" == expected[0]
        assert finding.measured == pytest.approx(expected[1], abs=0.1)
        assert finding.limit == pytest.approx(expected[2], abs=0.001)


# --- a BleedBox that is tighter than the page -----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("boxed", "past", "expected"),
    [
        (0.0, 3.0, ("bleed.missing note", 0.0)),
        (2.5, 3.0, ("bleed.short note", 2.5)),
        (0.0, 2.5, ("bleed.short ask", 2.5)),
        (0.0, 1.0, ("bleed.missing stop", 1.0)),
        (0.0, 0.0, ("bleed.missing stop", 0.0)),
        (2.5, 0.0, ("bleed.empty stop", 0.0)),
        (3.0, 3.0, None),
    ],
)
def test_ink_beyond_a_tight_bleed_box_is_on_offer(boxed: float, past: float, expected: Any, tmp_path: Path) -> None:
    ground = f"{GREEN} {rectangle(-past, -past, 100 + 2 * past, 80 + 2 * past)} f"
    found = answers(ground, tmp_path, bleed_mm=boxed)
    assert by_edge(found) == ({} if expected is None else dict.fromkeys(EDGES, expected))
    assert all(finding.details.get("mild", False) is (finding.severity.value == "note") for finding in found)
    # Nobody is asked to mend what needs no mending.
    assert all(finding.remedy.startswith("Nothing needs") is (finding.severity.value == "note") for finding in found)


def test_a_bleed_box_larger_than_the_page_offers_no_more_than_the_page(tmp_path: Path) -> None:
    ground = f"{GREEN} {rectangle(-9, -9, 118, 98)} f"
    box = [mm(-5), mm(-5), mm(107), mm(87)]
    found = answers(ground, tmp_path, margin_mm=1.0, boxes={"BleedBox": box})
    assert by_edge(found) == dict.fromkeys(EDGES, ("bleed.missing stop", 1.0))


# --- what is left alone ---------------------------------------------------------------------------------------------------


def circle(x: float, y: float, radius: float) -> str:
    def at(right: float, up: float) -> str:
        return f"{mm(x + right * radius)} {mm(y + up * radius)}"

    k = 0.5523
    return (
        f"{at(1, 0)} m {at(1, k)} {at(k, 1)} {at(0, 1)} c {at(-k, 1)} {at(-1, k)} {at(-1, 0)} c "
        f"{at(-1, -k)} {at(-k, -1)} {at(0, -1)} c {at(k, -1)} {at(1, -k)} {at(1, 0)} c"
    )


def slanted(angle_deg: float) -> str:
    """A band of 12 mm that crosses the left trim at an angle to it, far out on both sides."""
    down = np.deg2rad(angle_deg)
    across, up = 40 * np.sin(down), 40 * np.cos(down)
    wide = 12 / np.sin(down)
    return (
        f"{GREEN} {mm(-across)} {mm(40 - up)} m {mm(across)} {mm(40 + up)} l "
        f"{mm(across)} {mm(40 + up + wide)} l {mm(-across)} {mm(40 - up + wide)} l f"
    )


SILENT = {
    "nothing at the edges": f"{GREEN} {rectangle(10, 10, 80, 60)} f",
    "a margin of a millimetre": f"{GREEN} {rectangle(1, 1, 98, 78)} f",
    "white ground to the trim": f"0 0 0 0 k {rectangle(0, 0, 100, 80)} f",
    "a faint tone under two percent": f"0.01 0.01 0 0 k {rectangle(0, 0, 100, 80)} f",
    "full bleed": FULL,
    "full bleed and marks outside": FULL
    + " 1 1 1 1 K 0.25 w "
    + " ".join(f"{mm(x)} {mm(-9)} m {mm(x)} {mm(-4)} l S {mm(x)} {mm(84)} m {mm(x)} {mm(89)} l S" for x in (0, 100)),
    "marks alone, 2 mm off the trim": "0 0 0 1 K 0.25 w "
    + " ".join(
        f"{mm(x)} {mm(-9)} m {mm(x)} {mm(-2)} l S {mm(-9)} {mm(y)} m {mm(-2)} {mm(y)} l S"
        for x in (0, 100)
        for y in (0, 80)
    ),
    "a rule that crosses": f"0 0 0 1 K 0.5 w {mm(-3)} {mm(40)} m {mm(103)} {mm(40)} l S",
    "a slanted rule that crosses": f"0 0 0 1 K 0.5 w {mm(-9)} {mm(20)} m {mm(109)} {mm(70)} l S",
    "a steep slanted rule": f"0 0 0 1 K 1 w {mm(-9)} {mm(10)} m {mm(20)} {mm(79)} l S",
    "a circle across the trim": f"{GREEN} {circle(0, 40, 15)} f",
    "a circle mostly inside": f"{GREEN} {circle(8, 40, 15)} f",
    "a ring across a corner": f"{GREEN} {circle(0, 0, 20)} {circle(0, 0, 15)} f*",
    "a white hair at the trim between two tiles": f"{GREEN} {rectangle(0, 0, 50, 80)} f {rectangle(-3, -3, 53, 86)} f 0 0 0 0 k {rectangle(-0.05, -3, 0.1, 86)} f",
    "a speck": f"0 0 0 1 k {rectangle(0, 30, 0.2, 0.2)} f",
    **{f"a band at {angle} degrees": slanted(angle) for angle in (12, 15, 20, 45, 70)},
}


@pytest.mark.parametrize("art", SILENT)
def test_harmless_ends_are_silent(art: str, tmp_path: Path) -> None:
    assert by_edge(answers(SILENT[art], tmp_path)) == {}


def test_type_that_crosses_the_trim(tmp_path: Path) -> None:
    """Letters end where they end: large type cut by the trim, its strokes run 1 to 3 mm past it."""
    content = f"0 0 0 1 k BT /F 60 Tf {mm(-1.8)} {mm(30)} Td (HEM) Tj ET"
    text = TextRun(font="F", size_pt=60, glyphs=3, inked_glyphs=3)
    seen = painted(Colour("cmyk", inks=("Black",), values=(1.0,)), (-1.8, 35.0, 60.0, 51.0), kind="text", text=text)
    fonts = {"resources": lambda book: {"F": book.base_font("Helvetica-Bold")}}
    assert by_edge(answers(content, tmp_path, seen=(seen,), **fonts)) == {}
    # The same letters do not excuse the ground under them.
    ground = f"{GREEN} {rectangle(0, 0, 50, 80)} f {content}"
    assert by_edge(answers(ground, tmp_path, seen=(seen,), **fonts))["left"] == ("bleed.empty stop", 0.0)


def photograph(folder: Path, past: float) -> tuple[Any, str]:
    """A picture with white spots and a white sky that runs off the left edge ``past`` millimetres."""
    draw = np.random.default_rng(4)
    rows, columns = 400, 600
    tones = draw.integers(10, 160, (rows, columns, 4), dtype=np.uint8)
    for _ in range(400):
        row, column, size = draw.integers(0, rows), draw.integers(0, columns), draw.integers(1, 9)
        tones[row : row + size, column : column + size] = 0
    content = f"q {mm(60 + past)} 0 0 {mm(40)} {mm(-past)} {mm(20)} cm /I Do Q"
    return (lambda book: {"I": book.image(columns, rows, data=tones.tobytes())}), content


def test_white_spots_in_a_picture_that_runs_on(tmp_path: Path) -> None:
    resources, content = photograph(tmp_path, 3.0)
    assert by_edge(answers(content, tmp_path, resources=resources)) == {}


def test_the_same_picture_stopping_short(tmp_path: Path) -> None:
    resources, content = photograph(tmp_path, 1.0)
    assert {edge: kind for edge, (kind, _) in by_edge(answers(content, tmp_path, resources=resources)).items()} == {
        "left": "bleed.empty stop"
    }


def snow(past: float) -> tuple[Any, Painted, str]:
    """A picture whose ink ends at the trim in a white field that runs on: snow to the picture's own edge."""
    pixels = np.zeros((100, 160, 4), dtype=np.uint8)
    pixels[:, 30:] = (90, 40, 10, 20)
    content = f"q {mm(160 * 0.4)} 0 0 {mm(40)} {mm(-12)} {mm(20)} cm /I Do Q"
    if past < 12:
        content = f"q {rectangle(-past, 0, 110, 80)} W n {content} Q"
    use = ImageUse(160, 100, 8, 63.5, 63.5, (64.0, 40.0))
    zone = Box(-past, -3.0, 103.0, 83.0)
    thing = painted(Colour("cmyk"), (-12.0, 20.0, 52.0, 60.0), kind="image", image=use, zone=zone)
    return (lambda book: {"I": book.image(160, 100, data=pixels.tobytes())}), thing, content


def test_a_picture_whose_own_white_lies_past_the_trim(tmp_path: Path) -> None:
    resources, thing, content = snow(12.0)
    assert by_edge(answers(content, tmp_path, resources=resources, seen=(thing,))) == {}
    assert by_edge(answers(content, tmp_path, resources=resources)) == {"left": ("bleed.empty stop", 0.0)}


def test_a_picture_cut_at_the_trim_is_not_excused_by_its_whole_box(tmp_path: Path) -> None:
    resources, thing, content = snow(0.0)
    assert by_edge(answers(content, tmp_path, resources=resources, seen=(thing,))) == {
        "left": ("bleed.empty stop", 0.0)
    }


@pytest.mark.parametrize("ink", ["Dieline", "Spot UV", "Stanzkontur"])
def test_finishing_plates_need_no_bleed(ink: str, tmp_path: Path) -> None:
    content = f"/D CS 1 SCN 1 w {rectangle(0, 0, 100, 80)} S /D cs 0.5 scn {rectangle(0, 0, 100, 80)} f"
    assert answers(content, tmp_path, resources=lambda book: {"D": book.spot(ink)}) == []
    fern = answers(content, tmp_path, resources=lambda book: {"D": book.spot("Fern Green")})
    assert set(by_edge(fern)) == set(EDGES)


def test_a_finishing_ink_by_the_ticket(tmp_path: Path) -> None:
    from preflight.ticket import Finishing

    content = f"/D cs 1 scn {rectangle(0, 0, 100, 80)} f"
    order = {"finishing": (Finishing("foil", "Pond Gold"),)}
    assert answers(content, tmp_path, resources=lambda book: {"D": book.spot("Pond Gold")}, order=order) == []


@pytest.mark.parametrize(("number", "spine"), [(1, "left"), (2, "right"), (3, "left")])
def test_the_spine_of_a_stitched_page_needs_none(number: int, spine: str, tmp_path: Path) -> None:
    ground = f"{GREEN} {rectangle(0, 0, 100, 80)} f"
    stitched = by_edge(answers(ground, tmp_path, number=number, order={"binding": "saddle-stitch"}))
    assert set(stitched) == set(EDGES) - {spine}


@pytest.mark.parametrize("binding", ["perfect", "wire", "none"])
def test_other_bindings_need_bleed_all_round(binding: str, tmp_path: Path) -> None:
    ground = f"{GREEN} {rectangle(0, 0, 100, 80)} f"
    assert set(by_edge(answers(ground, tmp_path, order={"binding": binding}))) == set(EDGES)


def test_a_shading_that_runs_out_to_white_at_the_trim(tmp_path: Path) -> None:
    function = Dictionary(FunctionType=2, Domain=Array([0, 1]), C0=Array([0, 0, 0, 0]), C1=Array([1, 0, 0, 0]), N=1)
    ramp = Dictionary(ShadingType=2, ColorSpace=Name.DeviceCMYK, Coords=Array([0, 0, mm(50), 0]), Function=function)
    content = f"q {rectangle(0, -3, 50, 86)} W n /R sh Q"
    assert answers(content, tmp_path, resources=lambda book: {"R": ramp}) == []


def test_where_the_size_is_not_known_nothing_is_judged() -> None:
    found = page_answers("bleed", page_of(trim_mm=None, bleed_mm=None), job_of())
    assert not_judged(found) == ["the printed size is not known"]
    assert not any(isinstance(answer, Found) for answer in found)


def test_loosening_the_ordered_bleed_never_adds_a_finding(tmp_path: Path) -> None:
    resources, content = photograph(tmp_path, 2.2)
    content += f" {slanted(30)} {GREEN} {rectangle(60, 0, 41, 40)} f"
    counts = [
        len(answers(content, tmp_path, resources=resources, order={"bleed_mm": ordered}))
        for ordered in (5.0, 4.0, 3.0, 2.0, 1.0, 0.5)
    ]
    assert counts == sorted(counts, reverse=True)
    assert counts[0] > counts[-1]


def test_a_picture_by_itself_is_judged_only_against_an_ordered_trim(tmp_path) -> None:
    """A picture with a printed size goes into somebody's layout; one with a trim is the page itself."""
    from PIL import Image
    from whole import job_for, report_of

    path = tmp_path / "leaves.tif"
    Image.new("CMYK", (590, 413), (120, 0, 200, 20)).save(path, dpi=(300, 300))
    placed = report_of(path, job_for(printed_size_mm=(50.0, 35.0)))
    assert "bleed" not in {finding.id.partition(".")[0] for finding in placed.findings}
    assert "bleed" in {item.check for item in placed.not_judged}
    whole = report_of(path, job_for(trim_mm=(50.0, 35.0)))
    assert {finding.id for finding in whole.findings if finding.id.startswith("bleed.")} == {"bleed.missing"}
