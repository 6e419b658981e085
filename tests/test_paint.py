"""The paint trace: where things lie and show, how many pixels they have, and that nothing of it depends on how the file nests them.

Held against plain arithmetic, poppler's list of images, and another interpreter's bounding box.
"""

from __future__ import annotations

import math
import re
import subprocess
from dataclasses import fields, is_dataclass

import numpy as np
import pikepdf
import pytest
from artwork import Book, mm, rectangle
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from opened import DEJAVU, needs, output_of
from pikepdf import Array, Dictionary, Name
from plated import opened
from traced import only, painted, traced, traced_file
from work import calls_made_by

from preflight.inventory import paint_device
from preflight.inventory.paint_images import is_rectangles
from preflight.units import MM_PER_PT, Box

PT = MM_PER_PT


def close(box: Box | None, expected: tuple[float, float, float, float], within: float = 0.002) -> bool:
    return box is not None and all(abs(a - b) <= within for a, b in zip(box, expected, strict=True))


# --- pictures ---

#: Contents that place a picture of 300 x 200 pixels, with pixels an inch from the matrix: 72 x pixels / length of the axis.
PLACED = {
    # 1200 px over 288 pt are 300 ppi: here 300 px over 72 pt
    "upright": ("q 72 0 0 48 50 50 cm /P Do Q", 300.0, 300.0),
    "at a scale of one and a half": ("q 1.5 0 0 1.5 0 0 cm 72 0 0 48 50 50 cm /P Do Q", 200.0, 200.0),
    # turned by 30 degrees: a = 216 cos 30 = 187.061, b = 216 sin 30 = 108: still 216 pt long
    "turned": ("q 187.0615 108 -72 124.7077 150 50 cm /P Do Q", 100.0, 100.0),
    # leaning: the second axis is (72, 144), 160.997 pt long
    "leaning": ("q 216 0 72 144 50 50 cm /P Do Q", 100.0, 72.0 * 200 / math.hypot(72, 144)),
    "mirrored": ("q -72 0 0 -48 150 150 cm /P Do Q", 300.0, 300.0),
    "uneven": ("q 72 0 0 96 50 50 cm /P Do Q", 300.0, 150.0),
}


@pytest.mark.parametrize("name", PLACED)
def test_pixels_an_inch(name, tmp_path) -> None:
    content, x_ppi, y_ppi = PLACED[name]
    book = Book()
    book.page(content, resources={"P": book.image(300, 200)}, trim_mm=(120, 100))
    image = only(book, tmp_path, "image").image
    assert image is not None
    assert (image.x_ppi, image.y_ppi) == (pytest.approx(x_ppi, abs=0.05), pytest.approx(y_ppi, abs=0.05))


@needs("pdfimages")
def test_pixels_an_inch_agree_with_poppler(tmp_path) -> None:
    """Where poppler is right: it leaves out pictures in patterns and does not know the user unit."""
    book = Book()
    photo, soft = book.image(300, 200), book.image(150, 80, space=Name.DeviceGray)
    masked = book.image(120, 90, SMask=soft)
    inner = book.form(
        "q 0.5 0 0 0.4 10 10 cm /P Do Q", resources={"P": photo}, Matrix=Array([100, 20, -30, 90, 40, 40])
    )
    content = " ".join(content for content, _, _ in PLACED.values())
    content += " q 200 0 0 100 40 40 cm /M Do Q q 1.2 0 0 1.2 5 5 cm /F Do Q"
    content += " q 36 0 0 18 60 60 cm BI /W 8 /H 4 /BPC 8 /CS /G ID " + "0123456789abcdefghijklmnopqrstuv" + " EI Q"
    book.page(content, resources={"P": photo, "M": masked, "F": inner}, trim_mm=(120, 100))
    path = book.save(tmp_path / "a.pdf")
    listed = []
    for line in output_of("pdfimages", "-list", path).splitlines()[2:]:
        words = line.split()
        # page num type width height color comp bpc enc interp object ID (or "[inline]") x-ppi y-ppi size ratio
        listed.append((int(words[3]), int(words[4]), int(words[-4]), int(words[-3])))
    ours = []
    for thing in traced_file(path).painted:
        if thing.image is None:
            continue
        image = thing.image
        ours.append((image.width_px, image.height_px, round(image.x_ppi), round(image.y_ppi)))
        if image.mask_px and image.mask_ppi:
            ours.append((*image.mask_px, round(image.mask_ppi[0]), round(image.mask_ppi[1])))
    assert len(listed) == len(PLACED) + 4
    for one, other in zip(sorted(listed), sorted(ours), strict=True):
        assert one[:2] == other[:2]
        assert one[2:] == pytest.approx(other[2:], abs=1)


def test_the_user_unit_halves_the_resolution(tmp_path) -> None:
    book = Book()
    book.page("q 72 0 0 48 20 20 cm /P Do Q", resources={"P": book.image(300, 200)}, UserUnit=2)
    image = only(book, tmp_path, "image").image
    assert image is not None
    assert image.x_ppi == pytest.approx(150.0, abs=0.05)


def test_a_picture_in_a_pattern(tmp_path) -> None:
    """20 px over 20 pt are 72 ppi; the pattern shows all over the filled area."""
    book = Book()
    tile = book.tiling("q 20 0 0 20 0 0 cm /P Do Q", cell=(25, 25), resources={"P": book.image(20, 20)})
    book.page(f"/Pattern cs /T scn {rectangle(10, 10, 40, 30)} f", resources={"T": tile})
    thing = only(book, tmp_path, "image")
    assert thing.image is not None
    assert thing.image.x_ppi == pytest.approx(72.0, abs=0.05)
    assert thing.inside == ("pattern",)
    shown = thing.visible_mm
    assert shown is not None
    assert Box(10, 40, 50, 70).contains(shown, 0.01)
    # the gaps of 5 pt between the tiles may lie at the edges, no more
    assert shown.width >= 40 - 2 * 5 * PT
    assert shown.height >= 30 - 2 * 5 * PT


def test_a_pattern_whose_picture_misses_the_filled_area(tmp_path) -> None:
    book = Book()
    tile = book.tiling(
        "q 10 0 0 10 150 150 cm /P Do Q",
        cell=(200, 200),
        resources={"P": book.image(20, 20)},
        Matrix=Array([1, 0, 0, 1, 0, 0]),
    )
    book.page(f"/Pattern cs /T scn {rectangle(0, 0, 30, 30)} f", resources={"T": tile})
    assert [thing for thing in painted(book, tmp_path) if thing.is_visible] == []


def test_masks_bits_and_what_pixels_show(tmp_path) -> None:
    book = Book()
    stencil = book.image(8, 8, bits=1, ImageMask=True, data=bytes([0xAA, 0x55] * 4))
    bars = book.image(8, 8, bits=1, ImageMask=True, data=bytes([0xF0] * 8))
    flat = book.image(20, 20, data=bytes([10, 200, 30, 0] * 400))
    noisy = book.image(20, 20)
    book.page(
        "q 30 0 0 30 10 10 cm /S Do Q q 30 0 0 30 50 10 cm /B Do Q q 30 0 0 30 90 10 cm /F Do Q q 30 0 0 30 130 10 cm /N Do Q",
        resources={"S": stencil, "B": bars, "F": flat, "N": noisy},
    )
    uses = [thing.image for thing in painted(book, tmp_path) if thing.image]
    assert [use.bits for use in uses] == [1, 1, 8, 8]
    assert [use.only_rectangles for use in uses] == [False, True, None, None]
    assert [use.flat for use in uses] == [False, False, True, False]


def test_pixels_are_not_looked_at_where_nobody_asks(tmp_path) -> None:
    book = Book()
    book.page("q 10 0 0 10 10 10 cm /N Do Q", resources={"N": book.image(200, 200)})
    assert only(book, tmp_path, "image", look_below_ppi=100.0).image.flat is None


@pytest.mark.parametrize(
    ("rows", "expected"),
    [
        (["1111", "1111"], True),
        (["0110", "0110", "0000"], True),
        (["1100", "1100", "0011"], False),  # two that touch at a corner
        (["1000", "1100", "1110"], False),  # a slanting edge
        (["1101", "1101", "0000"], True),
        (["1111", "1001", "1111"], True),  # a frame: its hole is a rectangle
    ],
)
def test_which_bits_are_nothing_but_rectangles(rows, expected) -> None:
    assert is_rectangles(np.array([[cell == "1" for cell in row] for row in rows])) is expected


def test_a_picture_placed_twice_is_one_source(tmp_path) -> None:
    book = Book()
    one, other = book.image(30, 30), book.image(30, 30)
    book.page(
        "q 50 0 0 50 0 0 cm /A Do Q q 50 0 0 50 60 0 cm /A Do Q q 50 0 0 50 120 0 cm /B Do Q",
        resources={"A": one, "B": other},
    )
    keys = [thing.object_key for thing in painted(book, tmp_path, "image")]
    assert keys[0] == keys[1] != keys[2]


def test_a_stencil_filled_with_a_pattern_is_a_picture(tmp_path) -> None:
    book = Book()
    stencil = book.image(8, 8, bits=1, ImageMask=True, data=bytes([0xAA, 0x55] * 4))
    tile = book.tiling("0 0 1 0 k 0 0 5 5 re f", cell=(10, 10))
    book.page("/Pattern cs /T scn q 72 0 0 72 30 30 cm /S Do Q", resources={"S": stencil, "T": tile})
    thing = only(book, tmp_path, "image-mask")
    assert thing.image is not None
    assert thing.image.x_ppi == pytest.approx(8.0, abs=0.05)
    assert thing.is_visible


# --- where things lie ---


@pytest.mark.parametrize("rotate", [0, 90, 180, 270])
def test_trim_space_as_a_reader_sees_the_page(rotate, tmp_path) -> None:
    """A patch 10 mm from the left and 5 mm from the foot of the unturned page, 20 x 8 mm, on a trim of 100 x 80 mm."""
    book = Book()
    book.page(f"0 g {rectangle(10, 5, 20, 8)} f", Rotate=rotate)
    expected = {
        0: (10, 67, 30, 75),
        90: (5, 10, 13, 30),
        180: (70, 5, 90, 13),
        270: (67, 70, 75, 90),
    }[rotate]
    assert close(only(book, tmp_path, "fill").box_mm, expected)


@needs("gs", DEJAVU)
def test_boxes_agree_with_another_interpreter(tmp_path) -> None:
    """Ghostscript's bounding box of the marks, in points from the corner of the media box, at 4000 dots an inch."""
    contents = {
        "curve": "0 g 40 40 m 90 160 150 20 170 130 c h f",
        "stroke": "0 G 6 w 1 J 1 j 40 40 m 90 120 l 160 60 l S",
        "line under a scale": "0 G q 2 0 0 0.5 0 0 cm 10 w 20 60 m 80 200 l S Q",
        "turned picture": "q 80 30 -30 80 80 40 cm /P Do Q",
        "text": "BT /F 24 Tf 0.9 0.3 -0.3 0.9 60 60 Tm (Garden) Tj ET",
        "clipped": f"q {rectangle(20, 20, 20, 10)} W n 0 g {rectangle(10, 25, 40, 40)} f Q",
    }
    for name, content in contents.items():
        book = Book()
        resources = {"P": book.image(30, 30), "F": book.embedded_font(DEJAVU)}
        book.page(content, resources=resources, margin_mm=10)
        path = book.save(tmp_path / f"{name}.pdf")
        command = ["gs", "-q", "-dNOPAUSE", "-dBATCH", "-sDEVICE=bbox", "-r4000", path]
        said = subprocess.run(command, capture_output=True, text=True, check=True).stderr
        found = re.search(r"%%HiResBoundingBox: (\S+) (\S+) (\S+) (\S+)", said)
        assert found, said
        x0, y0, x1, y1 = (float(value) * PT for value in found.groups())
        theirs = Box(x0 - 10, 90 - y1, x1 - 10, 90 - y0)
        visible = [thing.visible_mm for thing in traced_file(path, bleed_mm=10).painted if thing.visible_mm]
        assert len(visible) == 1, name
        assert close(visible[0], theirs, within=0.05), (name, visible[0], theirs)


def test_what_a_clip_leaves(tmp_path) -> None:
    book = Book()
    book.page(
        f"q {rectangle(10, 10, 30, 30)} W n q {rectangle(20, 20, 40, 40)} W n 0 g {rectangle(0, 0, 100, 80)} f Q "
        f"0.5 g {rectangle(30, 0, 50, 20)} f Q {rectangle(50, 50, 10, 10)} f"
    )
    visible = [thing.visible_mm for thing in painted(book, tmp_path, "fill")]
    assert close(visible[0], (20, 40, 40, 60))
    assert close(visible[1], (30, 60, 40, 70))
    assert close(visible[2], (50, 20, 60, 30))


def test_the_bleed_area_cuts_what_shows(tmp_path) -> None:
    book = Book()
    book.page(f"0 g {rectangle(-8, -8, 20, 20)} f {rectangle(-9, 20, 4, 4)} f")
    corner, outside = painted(book, tmp_path, "fill")
    assert close(corner.box_mm, (-8, 68, 12, 88))
    assert close(corner.visible_mm, (-3, 68, 12, 83))
    assert outside.visible_mm is None
    assert not outside.is_visible


def test_a_shared_edge_is_not_seen(tmp_path) -> None:
    book = Book()
    book.page(f"q {rectangle(10, 10, 10, 10)} W n 0 g {rectangle(20, 10, 10, 10)} f Q")
    assert not only(book, tmp_path, "fill").is_visible


def test_layers_that_do_not_print(tmp_path) -> None:
    book = Book()
    layers = {
        "On": book.layer("Garden plan"),
        "Off": book.layer("Notes", on=False),
        "ShownOnly": book.layer("Grid", Usage=Dictionary(Print=Dictionary(PrintState=Name.OFF))),
    }
    book.pdf.Root.OCProperties.D.AS = Array(
        [Dictionary(Event=Name.Print, OCGs=Array([layers["ShownOnly"]]), Category=Array([Name.Print]))]
    )
    book.page(
        f"/OC /On BDC 0 g {rectangle(10, 10, 5, 5)} f EMC /OC /Off BDC {rectangle(20, 10, 5, 5)} f EMC "
        f"/OC /ShownOnly BDC {rectangle(30, 10, 5, 5)} f EMC",
        resources=layers,
    )
    trace = traced(book, tmp_path)
    assert [thing.layers for thing in trace.painted] == [("Garden plan",)]
    assert trace.layers_used == ("Garden plan",)


def test_annotations_that_print(tmp_path) -> None:
    book = Book()
    page = book.page("")

    def stamp(flags: int, x: float):
        look = book.form(f"1 0 0 rg 0 0 {mm(10)} {mm(10)} re f", BBox=Array([0, 0, mm(10), mm(10)]))
        left = mm(10 + x)
        return book.pdf.make_indirect(
            Dictionary(
                Type=Name.Annot, Subtype=Name.Stamp, F=flags, Rect=Array([left, mm(20), left + mm(10), mm(30)]),
                AP=Dictionary(N=look),
            )
        )  # fmt: skip

    page.obj.Annots = Array([stamp(4, 20), stamp(0, 40), stamp(6, 60)])  # print; no print; print, but hidden
    things = painted(book, tmp_path)
    assert [thing.inside for thing in things] == [("annotation",)]
    assert close(things[0].visible_mm, (20, 60, 30, 70))


def test_pieces_of_one_path(tmp_path) -> None:
    book = Book()
    book.page(f"0 G 2 w {mm(10)} {mm(10)} m {mm(30)} {mm(10)} l {mm(50)} {mm(20)} m {mm(50)} {mm(40)} l S")
    thing = only(book, tmp_path, "stroke")
    assert [
        close(box, expected)
        for box, expected in zip(
            thing.parts_mm, [(10 - PT, 70 - PT, 30 + PT, 70 + PT), (50 - PT, 40 - PT, 50 + PT, 60 + PT)], strict=True
        )
    ] == [True, True]


# --- transparency ---


def test_strength_and_blend_modes_add_up(tmp_path) -> None:
    book = Book()
    group = book.form(
        f"/Half gs 0 g {rectangle(10, 10, 10, 10)} f /Times gs {rectangle(30, 10, 10, 10)} f",
        resources={"Half": book.state(ca=0.5), "Times": book.state(BM=Name.Multiply)},
        Group=Dictionary(S=Name.Transparency, CS=Name.DeviceCMYK, I=True),
    )
    book.page("/Half gs /G Do", resources={"G": group, "Half": book.state(ca=0.5)})
    trace = traced(book, tmp_path)
    one, other = (thing for thing in trace.painted if thing.kind == "fill")
    assert (one.alpha, one.blend, one.inside) == (pytest.approx(0.25), "Normal", ("group",))
    assert (other.alpha, other.blend) == (pytest.approx(0.25), "Multiply")
    assert set(trace.transparency) == {"opacity under 100 %", "blend mode Multiply"}
    assert [thing.colour.family for thing in trace.painted if thing.kind == "group"] == ["cmyk"]


@pytest.mark.parametrize(("space", "expected"), [(Name.DeviceCMYK, "cmyk"), (Name.DeviceRGB, "rgb"), (None, None)])
def test_the_page_group(space, expected, tmp_path) -> None:
    book = Book()
    group = Dictionary(S=Name.Transparency)
    if space is not None:
        group.CS = space
    book.page(f"/M gs 0 g {rectangle(0, 0, 10, 10)} f", resources={"M": book.state(BM=Name.Multiply)}, Group=group)
    trace = traced(book, tmp_path)
    assert (trace.has_group, trace.group_family) == (True, expected)
    assert [thing.kind for thing in trace.painted] == ["fill"]  # the page's own group is no painted thing
    book = Book()
    book.page("")
    assert (traced(book, tmp_path).has_group, traced(book, tmp_path).group_family) == (False, None)


def test_what_is_painted_in_a_soft_mask_is_no_ink(tmp_path) -> None:
    book = Book()
    shape = book.form(
        "q 100 0 0 100 0 0 cm /P Do Q",
        resources={"P": book.image(50, 50, space=Name.DeviceGray)},
        Group=Dictionary(S=Name.Transparency, CS=Name.DeviceRGB),
    )
    mask = book.state(SMask=Dictionary(Type=Name.Mask, S=Name.Luminosity, G=shape))
    book.page("/S gs 0 g 0 0 100 100 re f", resources={"S": mask})
    trace = traced(book, tmp_path)
    kinds = {thing.kind: thing for thing in trace.painted}
    assert kinds["mask"].colour.family == "rgb"
    assert "soft-mask" in kinds["image"].inside
    assert kinds["image"].image.x_ppi == pytest.approx(36.0, abs=0.05)
    assert kinds["fill"].inside == ()
    assert "soft mask" in trace.transparency


def test_nothing_shows_through_an_empty_soft_mask(tmp_path) -> None:
    book = Book()
    group = Dictionary(S=Name.Transparency, CS=Name.DeviceGray)
    for backdrop, expected in ((None, 0.0), (1.0, 1.0)):
        mask = Dictionary(Type=Name.Mask, S=Name.Luminosity, G=book.form("", Group=group))
        if backdrop is not None:
            mask.BC = Array([backdrop])
        book.page("/S gs 0 g 0 0 100 100 re f 0 0 50 50 re f", resources={"S": book.state(SMask=mask)})
        number = len(book.pdf.pages)
        alphas = {thing.alpha for thing in traced(book, tmp_path, number).painted if thing.kind == "fill"}
        assert alphas == {expected}


# --- the trace as a whole ---


def test_a_fault_in_the_watching_is_raised(tmp_path, monkeypatch) -> None:
    """It must not vanish inside the engine: a trace is whole or there is none."""

    class Odd(Exception):
        pass

    def broken(*_args, **_more):
        raise Odd("measuring failed")

    monkeypatch.setattr(paint_device.ShapeMeasurer, "measure", broken)
    book = Book()
    book.page(f"0 g {rectangle(0, 0, 10, 10)} f {rectangle(20, 0, 10, 10)} f")
    with pytest.raises(Odd):
        traced(book, tmp_path)


def test_nothing_of_the_engine_is_kept(tmp_path) -> None:
    book = Book()
    font = book.type3_font({"a": "1000 0 0 0 750 750 d1 0 0 750 750 re f"})
    book.page(
        f"0 g {rectangle(0, 0, 10, 10)} B BT /F 9 Tf (abc) Tj /T 9 Tf (aa) Tj ET q 40 0 0 40 60 60 cm /P Do Q",
        resources={"F": book.base_font(), "T": font, "P": book.image(9, 9)},
    )

    def check(value) -> None:
        if is_dataclass(value):
            for each in fields(value):
                check(getattr(value, each.name))
        elif isinstance(value, tuple):
            for each in value:
                check(each)
        else:
            assert value is None or type(value) in (str, int, float, bool), type(value)

    check(traced(book, tmp_path))


def test_numbers_out_of_range_do_no_harm(tmp_path) -> None:
    book = Book()
    huge = "9" * 38
    book.page(
        f"0 G 1 w {huge} 0 m 10 10 l S {huge} w 0 0 m 10 10 l S q 0 0 0 0 0 0 cm 0 0 10 10 re f 5 w 0 0 m 9 9 l S Q "
        f"q {huge} 0 0 {huge} 0 0 cm 0 0 10 10 re f 0 0 m 1 1 l S Q -5 w 10 10 m 50 10 l S "
        "q 0 0 0 0 10 10 cm /P Do Q q 1e-30 0 0 1e-30 0 0 cm /P Do Q BT /F 0 Tf (a) Tj 0 0 0 0 0 0 Tm /F 9 Tf (a) Tj ET",
        resources={"P": book.image(9, 9), "F": book.base_font()},
    )
    for thing in painted(book, tmp_path):
        for value in (*thing.box_mm, *(thing.visible_mm or ())):
            assert math.isfinite(value)
        if thing.image:
            assert math.isfinite(thing.image.x_ppi)
        if thing.stroke:
            assert math.isfinite(thing.stroke.width_pt)


def test_work_grows_with_the_number_of_things(tmp_path) -> None:
    """Four times as many lines and areas take about four times the work, not sixteen."""

    def page(count: int):
        book = Book()
        lines = " ".join(
            f"{index % 200} {index // 200} m {(index * 7) % 250} {(index * 13) % 200} l S "
            f"{(index * 31) % 240} {(index * 17) % 190} 4 3 re f"
            for index in range(count)
        )
        book.page("0 0 0 1 K 0.5 w 0.2 0.1 0 0 k " + lines)
        it = opened(book.save(tmp_path / f"{count}.pdf"))
        from preflight.inventory.paint import trace_page

        return calls_made_by(lambda: trace_page(it.page, it.frame, it.zone()))

    page(100)
    small, large = page(1500), page(6000)
    assert large < 7 * small  # sixteen times would be every thing against every other


# --- what must not matter ---

NUMBERS = st.integers(5, 60)


@st.composite
def drawings(draw) -> str:
    parts = []
    for _ in range(draw(st.integers(1, 4))):
        x, y, width, height = (draw(NUMBERS) for _ in range(4))
        kind = draw(st.sampled_from(["patch", "line", "curve", "picture", "text", "clipped", "uneven"]))
        parts.append(
            {
                "patch": f"0 0 1 0 k {x} {y} {width} {height} re f",
                "line": f"0 0 0 1 K 0.3 w {x} {y} m {x + width} {y + height} l S",
                "curve": f"0 1 0 0 K 1 w {x} {y} m {x + width} {y} {x} {y + height} {x + width} {y + height} c S",
                "picture": f"q {width} {draw(NUMBERS) - 30} {-height} {height} {x + 60} {y} cm /P Do Q",
                "text": f"BT /F {width / 4} Tf {x} {y} Td (Moss) Tj ET",
                "clipped": f"q {x} {y} {width} {height} re W n 1 0 0 0 k 0 0 70 70 re f Q",
                "uneven": f"q 2 0 0 0.3 0 0 cm 0 G 1 w {x} {y} m {x + 20} {y} l {x + 20} {y + 90} l S Q",
            }[kind]
        )
    return "\n".join(parts)


def measures(trace) -> list[tuple]:
    """Everything measured that does not depend on where the page lies."""
    result = []
    for thing in trace.painted:
        entry = [thing.kind, thing.colour, thing.covered, thing.alpha, thing.ground_inks and sorted(thing.ground_inks)]
        sides = sorted((thing.visible_mm.width, thing.visible_mm.height)) if thing.visible_mm else [-1.0, -1.0]
        numbers = [*sides]
        if thing.stroke:
            numbers += [thing.stroke.width_pt, thing.stroke.length_mm]
        if thing.shape:
            numbers += [
                thing.shape.thickness_pt if thing.shape.thickness_pt is not None else -1.0,
                thing.shape.area_mm2,
            ]
        if thing.text:
            numbers += [thing.text.size_pt, thing.text.x_height_mm or 0.0]
        if thing.image:
            numbers += [thing.image.x_ppi, thing.image.y_ppi]
        result.append((entry, numbers))
    return result


@settings(
    max_examples=20,
    deadline=None,
    derandomize=True,
    database=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(
    content=drawings(),
    rotate=st.sampled_from([0, 90, 180, 270]),
    origin=st.sampled_from([(0.0, 0.0), (-300.0, 120.0), (1000.5, -2000.25)]),
    wraps=st.integers(0, 2),
    unit=st.sampled_from([1.0, 2.0]),
)
def test_turning_moving_and_wrapping_change_no_measure(content, rotate, origin, wraps, unit, tmp_path) -> None:
    def page(*, rotate=0, origin=(0.0, 0.0), wraps=0, unit=1.0):
        book = Book()
        resources = {"P": book.image(9, 9), "F": book.base_font()}
        text = content
        for turn in range(wraps):
            # A form that undoes what is done around it.
            form = book.form(text, resources=resources, Matrix=Array([0, 2, -2, 0, 7, 3]))
            text, resources = f"q 0 -0.5 0.5 0 -1.5 3.5 cm /Form{turn} Do Q", {f"Form{turn}": form}
        if unit != 1.0:
            text = f"q {1 / unit} 0 0 {1 / unit} 0 0 cm {text} Q"
        made = book.page(
            text,
            resources=resources,
            margin_mm=10 if unit == 1.0 else 5,
            trim_mm=(100 / unit, 80 / unit),
            bleed_mm=None,
            Rotate=rotate,
            UserUnit=unit,
        )
        if any(origin):
            for name in ("/MediaBox", "/TrimBox"):
                made.obj[name] = Array([float(value) + origin[index % 2] for index, value in enumerate(made.obj[name])])
            made.obj.Contents = book.stream(b"1 0 0 1 %.4f %.4f cm\n" % origin + made.obj.Contents.read_bytes())
        return measures(traced(book, tmp_path))

    before, after = page(), page(rotate=rotate, origin=origin, wraps=wraps, unit=unit)
    assert [entry for entry, _ in before] == [entry for entry, _ in after]
    for (entry, one), (_, other) in zip(before, after, strict=True):
        assert one == pytest.approx(other, rel=2e-3, abs=2e-3), entry


def test_which_picture_of_the_file_it_is(tmp_path) -> None:
    """Object numbers, through forms and for two pictures of one size; a picture in the contents has none."""
    book = Book()
    one, other = book.image(30, 30), book.image(30, 30, data=bytes(3600))
    form = book.form("q 50 0 0 50 60 0 cm /Inner Do Q", resources={"Inner": other})
    inline = "q 36 0 0 18 160 60 cm BI /W 8 /H 4 /BPC 8 /CS /G ID " + "0123456789abcdefghijklmnopqrstuv" + " EI Q"
    book.page(f"q 50 0 0 50 0 0 cm /A Do Q /F Do {inline}", resources={"A": one, "F": form})
    path = book.save(tmp_path / "a.pdf")
    with pikepdf.open(path) as pdf:
        named = pdf.pages[0].Resources.XObject
        expected = [named["/A"].objgen[0], named["/F"].Resources.XObject["/Inner"].objgen[0], None]
    uses = [thing.image for thing in traced_file(path).painted]
    assert [use.object_number for use in uses if use] == expected
