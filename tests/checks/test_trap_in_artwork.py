"""Edges with no overlap found in PDFs: lengths against geometry, traps that must be seen, and edges that show no paper."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from artwork import Book, mm, rectangle
from pikepdf import Array, Dictionary, Name
from twins import HIDDEN_TEXT, NESTED, Thing, book
from whole import found_in

from preflight.findings import Finding
from preflight.ticket import Finishing

C, M, Y, K = "1 0 0 0 k", "0 1 0 0 k", "0 0 1 0 k", "0 0 0 1 k"
GROUND = f"{C} {rectangle(10, 20, 60, 40)} f"
#: A patch that knocks out of the ground, from the trim's lower left (the trim is 80 mm high), its outline 60 mm.
PATCH = rectangle(20, 30, 20, 10)
PATCH_MM = [20.0, 40.0, 40.0, 50.0]


def page(content: str, **resources: Any) -> Book:
    made = Book()
    given = {name: thing(made) if callable(thing) else thing for name, thing in resources.items()}
    made.page(content, resources={"On": made.state(OP=True, op=True, OPM=1), **given})
    return made


def found(made: Book, folder: Any, **order: Any) -> list[Finding]:
    return found_in(made, folder, "trap", **order)


def circle(x: float, y: float, radius: float) -> str:
    """A circle of four curves (within 0.03 %)."""
    k = 4.0 / 3.0 * (math.sqrt(2.0) - 1.0) * radius

    def point(across: float, up: float) -> str:
        return f"{mm(x + across)} {mm(y + up)}"

    r = radius
    return (
        f"{point(r, 0)} m {point(r, k)} {point(k, r)} {point(0, r)} c {point(-k, r)} {point(-r, k)} {point(-r, 0)} c "
        f"{point(-r, -k)} {point(-k, -r)} {point(0, -r)} c {point(k, -r)} {point(r, -k)} {point(r, 0)} c h"
    )


def polygon(*points: tuple[float, float]) -> str:
    first, *others = points
    lines = " ".join(f"{mm(x)} {mm(y)} l" for x, y in others)
    return f"{mm(first[0])} {mm(first[1])} m {lines} h"


# --- lengths --------------------------------------------------------------------------------------------------------------

SLANT = ((20.0, 25.0), (60.0, 35.0), (60.0, 55.0), (20.0, 45.0))
SHAPES = {
    "rectangle": (PATCH, 60.0, PATCH_MM),
    "circle": (circle(40, 40, 10), 2 * math.pi * 10, [30.0, 30.0, 50.0, 50.0]),
    "slanted": (polygon(*SLANT), 2 * math.hypot(40, 10) + 2 * 20, [20.0, 25.0, 60.0, 55.0]),
    "triangle": (polygon((20, 25), (60, 25), (40, 55)), 40 + 2 * math.hypot(20, 30), [20.0, 25.0, 60.0, 55.0]),
    "ring": (f"{circle(40, 40, 12)} {circle(40, 40, 6)}", 2 * math.pi * 18, [28.0, 28.0, 52.0, 52.0]),
}


@pytest.mark.parametrize("name", SHAPES)
def test_a_shape_that_knocks_out(name: str, tmp_path: Any) -> None:
    path, length, box = SHAPES[name]
    (finding,) = found(page(f"{GROUND} {M} {path} f*"), tmp_path)
    assert (finding.id, finding.severity, finding.unit) == ("trap.gap", "note", "mm")
    assert finding.measured == pytest.approx(length, rel=0.02)
    assert finding.box_mm == pytest.approx(box, abs=0.1)
    assert finding.details["inks"] == ["Cyan", "Magenta"]
    assert finding.details["common_ink_percent"] == 0.0


def test_a_shared_border(tmp_path: Any) -> None:
    (finding,) = found(page(f"{C} {rectangle(10, 20, 30, 20)} f {M} {rectangle(40, 25, 30, 20)} f"), tmp_path)
    assert finding.measured == pytest.approx(15.0, abs=0.05)
    assert finding.box_mm == pytest.approx([40.0, 40.0, 40.0, 55.0], abs=0.05)
    assert finding.details["at_mm"] == pytest.approx([40.0, 47.5], abs=0.1)
    assert finding.details["towards"] == [1, 0]


def test_more_than_can_be_drawn_again_is_taken_for_the_same(tmp_path: Any) -> None:
    """285 discs all over a page: 285 x 2 pi 2 mm."""
    discs = " ".join(circle(3 + 5 * i, 3 + 5 * j, 2) for i in range(19) for j in range(15))
    (finding,) = found(page(f"{C} {rectangle(-3, -3, 106, 86)} f {M} {discs} f"), tmp_path)
    assert finding.measured == pytest.approx(285 * 4 * math.pi, rel=0.03)


# --- overlaps and gaps ----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("shift", [0.0, 0.013, 0.029])
@pytest.mark.parametrize(("overlap", "silent"), [(0.08, True), (0.15, True), (0.0, False), (-0.05, False)])
def test_a_trap_is_seen_wherever_it_lies_on_the_grid(overlap: float, silent: bool, shift: float, tmp_path: Any) -> None:
    """0.08 mm: the usual trap at 150 lines an inch. Paper narrower than the misregister is no design."""
    made = page(f"{C} {rectangle(10, 20, 30 + shift + overlap, 20)} f /On gs {M} {rectangle(40 + shift, 20, 30, 20)} f")
    assert (found(made, tmp_path) == []) is silent


@pytest.mark.parametrize("angle", [10.0, 33.0, 45.0, 71.0])
@pytest.mark.parametrize(("overlap", "silent"), [(0.08, True), (0.0, False)])
def test_slanted_traps(overlap: float, silent: bool, angle: float, tmp_path: Any) -> None:
    turn = math.radians(angle)
    across, up = math.sin(turn), math.cos(turn)  # along the edge
    out, down = math.cos(turn), -math.sin(turn)  # across it

    def strip(start: float, end: float) -> str:
        corners = ((start, -15), (end, -15), (end, 15), (start, 15))
        return polygon(*((50 + s * out + t * across, 40 + s * down + t * up) for s, t in corners))

    made = page(f"{C} {strip(-20, overlap)} f /On gs {M} {strip(0, 20)} f")
    findings = found(made, tmp_path)
    assert (findings == []) is silent
    for finding in findings:
        assert finding.measured == pytest.approx(30.0, rel=0.02)


def test_a_trap_line_around_a_shape(tmp_path: Any) -> None:
    """The shape knocks out and is rimmed in its own ink, overprinting by half the line's width of 0.16 mm."""
    rim = f"/On gs 0 1 0 0 K {mm(0.16)} w {PATCH} S"
    assert found(page(f"{GROUND} {M} {PATCH} f {rim}"), tmp_path) == []


# --- disguises ------------------------------------------------------------------------------------------------------------


def half(made: Book) -> Any:
    return made.tiling("0 1 0 0 k 0 0 200 200 re f", cell=(200, 200))


DISGUISES: dict[str, tuple[str, dict[str, Any]]] = {
    "form in a form": (
        f"{GROUND} /X Do",
        {"X": lambda made: made.form("/Y Do", resources={"Y": made.form(f"{M} {PATCH} f")})},
    ),
    "spot": (f"{GROUND} /S cs 1 scn {PATCH} f", {"S": lambda made: made.spot("Fern Green")}),
    "two spots": (
        f"/T cs 1 scn {rectangle(10, 20, 60, 40)} f /S cs 1 scn {PATCH} f",
        {"S": lambda made: made.spot("Fern Green"), "T": lambda made: made.spot("Bark")},
    ),
    "DeviceN": (f"{GROUND} /N cs 0 1 scn {PATCH} f", {"N": lambda made: made.device_n(["Cyan", "Fern Green"])}),
    "Separation Magenta": (f"{GROUND} /S cs 1 scn {PATCH} f", {"S": lambda made: made.spot("Magenta")}),
    "RGB": (f"0 1 1 rg {rectangle(10, 20, 60, 40)} f 1 0 0 rg {PATCH} f", {}),
    "pattern": (f"{GROUND} /Pattern cs /P scn {PATCH} f", {"P": half}),
    "stroke": (f"{GROUND} 0 1 0 0 K {mm(10)} w {mm(20)} {mm(35)} m {mm(40)} {mm(35)} l S", {}),
    "stencil": (
        f"{GROUND} {M} q {mm(20)} 0 0 {mm(10)} {mm(20)} {mm(30)} cm /Im Do Q",
        {"Im": lambda made: made.image(8, 8, bits=1, data=bytes(8), ImageMask=True)},
    ),
    "clip": (f"{GROUND} q {PATCH} W n {M} {rectangle(0, 0, 100, 80)} f Q", {}),
    "letter that is a drawing": (
        f"{GROUND} {M} BT /F {mm(10) / 0.7:.4f} Tf {20 / 9 * 0.7:.6f} 0 0 1 {mm(20)} {mm(30)} Tm (I) Tj ET",
        {"F": lambda made: made.type3_font({"I": "1000 0 0 0 1000 1000 d1 0 0 900 700 re f"})},
    ),
    "over a picture": (
        f"q {mm(90)} 0 0 {mm(70)} {mm(5)} {mm(5)} cm /Im Do Q {GROUND} {M} {PATCH} f",
        {"Im": lambda made: made.image(90, 70)},
    ),
}


@pytest.mark.parametrize("name", DISGUISES)
def test_wherever_the_inks_come_from(name: str, tmp_path: Any) -> None:
    content, resources = DISGUISES[name]
    (finding,) = found(page(content, **resources), tmp_path)
    assert finding.measured == pytest.approx(60.0, rel=0.03)
    assert finding.box_mm == pytest.approx(PATCH_MM, abs=0.15)


def test_type_of_a_real_font_is_one_place(tmp_path: Any) -> None:
    made = page(
        f"{GROUND} {M} BT /F 40 Tf {mm(20)} {mm(35)} Td (Garden) Tj ET",
        F=lambda made: made.base_font("Helvetica-Bold"),
    )
    (finding,) = found(made, tmp_path)
    assert finding.measured > 200.0


@pytest.mark.parametrize("twin", HIDDEN_TEXT)
def test_what_leaves_no_mark_has_no_edges(twin: str, tmp_path: Any) -> None:
    thing = Thing(
        f"{M} BT /F 30 Tf {mm(12)} {mm(8)} Td (III) Tj ET",
        (10.0, 5.0, 36.0, 12.0),
        lambda made: {"F": made.base_font("Helvetica-Bold")},
        f"{C} {mm(-10)} {mm(-20)} {mm(130)} {mm(120)} re f",
    )
    assert found(book(thing, twin), tmp_path) == []


@pytest.mark.parametrize("twin", NESTED)
def test_the_same_wherever_it_is_nested(twin: str, tmp_path: Any) -> None:
    thing = Thing(
        f"{M} {rectangle(12, 8, 20, 5)} f",
        (10.0, 5.0, 36.0, 12.0),
        ground=f"{C} {mm(-10)} {mm(-20)} {mm(130)} {mm(120)} re f",
    )
    findings = found(book(thing, twin), tmp_path)
    assert findings
    assert sum(finding.measured for finding in findings) == pytest.approx(
        50.0 * (2 if twin == "pattern" else 1), rel=0.03
    )


# --- left alone -----------------------------------------------------------------------------------------------------------

SILENT: dict[str, str] = {
    "20 % in common": f"1 0.2 0 0 k {rectangle(10, 20, 60, 40)} f {M} {PATCH} f",
    "a third ink in common": f"1 0 0.5 0 k {rectangle(10, 20, 60, 40)} f 0 1 0.5 0 k {PATCH} f",
    "black in common": f"1 0 0 0.3 k {rectangle(10, 20, 60, 40)} f 0 1 0 0.3 k {PATCH} f",
    "the same ink": f"{GROUND} 0.5 0 0 0 k {PATCH} f",
    "black that knocks out": f"{GROUND} {K} {PATCH} f",
    "black that overprints": f"{GROUND} /On gs {K} {PATCH} f",
    "gray": f"{GROUND} 0.3 g {PATCH} f",
    "colour beside black": f"{K} {rectangle(10, 20, 60, 40)} f {M} {PATCH} f",
    "white": f"{GROUND} 0 0 0 0 k {PATCH} f",
    "faint ink": f"{GROUND} 0 0.15 0 0 k {PATCH} f",
    "faint ground": f"0.15 0 0 0 k {rectangle(10, 20, 60, 40)} f {M} {PATCH} f",
    "overprints": f"{GROUND} /On gs {M} {PATCH} f",
    "a white line between": f"{C} {rectangle(10, 20, 30, 20)} f {M} {rectangle(40.4, 20, 30, 20)} f",
    "a black line between": f"{C} {rectangle(10, 20, 30, 20)} f {M} {rectangle(40, 20, 30, 20)} f "
    f"0 0 0 1 K 1 w {mm(40)} {mm(19)} m {mm(40)} {mm(41)} l S",
    "far apart": f"{C} {rectangle(10, 20, 20, 20)} f {M} {rectangle(60, 20, 20, 20)} f",
    "covered edge": f"{GROUND} {M} {PATCH} f {Y} {rectangle(15, 25, 30, 20)} f 0.5 0 1 0 k {rectangle(10, 20, 60, 40)} f",
    "outside the bleed": f"{C} {rectangle(-9, 20, 3, 20)} f {M} {rectangle(-6, 20, 2, 20)} f",
    "varnish": f"{GROUND} /V cs 1 scn {PATCH} f",
    "ordered die": f"{GROUND} /D cs 1 scn {PATCH} f",
    "a short edge": f"{C} {rectangle(10, 20, 30, 1.9)} f {M} {rectangle(40, 20, 30, 1.9)} f",
    "every ink": f"{GROUND} /A cs 1 scn {PATCH} f",
}


@pytest.mark.parametrize("name", SILENT)
def test_edges_left_alone(name: str, tmp_path: Any) -> None:
    made = page(
        SILENT[name],
        V=lambda made: made.spot("Varnish"),
        D=lambda made: made.spot("Shape of the leaf"),
        A=lambda made: made.spot("All"),
    )
    assert found(made, tmp_path, finishing=(Finishing("die-cut", "Shape of the leaf"),)) == []


def patchwork(width: int, height: int, side: int) -> bytes:
    """A picture of cyan and magenta squares: nothing but such edges."""
    rows, columns = np.indices((height, width)) // side
    pixels = np.zeros((height, width, 4), dtype=np.uint8)
    odd = (rows + columns) % 2 == 1
    pixels[odd, 1] = 255
    pixels[~odd, 0] = 255
    return pixels.tobytes()


@pytest.mark.parametrize("side", [1, 8])
def test_edges_inside_pictures_and_beside_them(side: int, tmp_path: Any) -> None:
    picture = f"q {mm(60)} 0 0 {mm(40)} {mm(10)} {mm(20)} cm /Im Do Q"
    other = f"{M} {rectangle(70, 20, 10, 40)} f {C} {rectangle(10, 5, 60, 15)} f"
    made = page(f"{picture} {other}", Im=lambda made: made.image(240, 160, data=patchwork(240, 160, side)))
    assert found(made, tmp_path) == []


def test_a_gradient_from_one_ink_to_another(tmp_path: Any) -> None:
    shading = Dictionary(
        ShadingType=2,
        ColorSpace=Name.DeviceCMYK,
        Coords=Array([0, 0, 300, 0]),
        Function=Dictionary(FunctionType=2, Domain=Array([0, 1]), C0=Array([1, 0, 0, 0]), C1=Array([0, 1, 0, 0]), N=1),
        Extend=Array([True, True]),
    )
    assert (
        found(page(f"{Y} {rectangle(80, 5, 5, 5)} f q {rectangle(10, 20, 60, 40)} W n /Sh sh Q", Sh=shading), tmp_path)
        == []
    )


def test_nothing_is_drawn_again_without_two_such_colours(tmp_path: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    from preflight.inventory import trap

    def drawn(*_: Any, **__: Any) -> None:
        raise AssertionError("drawn again")

    monkeypatch.setattr(trap, "render_plates", drawn)
    for name in ("20 % in common", "black that overprints", "gray", "white", "far apart", "varnish"):
        made = page(SILENT[name], V=lambda made: made.spot("Varnish"))
        assert found(made, tmp_path) == []
