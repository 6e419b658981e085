"""What hides what, each case proved on the plates; and what lies under fine things.

``covered`` must be told only where taking the thing away changes no plate; where it is not told although nothing changes, that is
doubt, and doubt is visible.
"""

from __future__ import annotations

import numpy as np
import pytest
from artwork import Book, mm, rectangle
from pikepdf import Array, Dictionary, Name
from plated import look
from traced import painted

from preflight.inventory.regions import Lattice, Region
from preflight.units import Box

#: The thing in question: a magenta patch of 30 x 20 mm at (20, 20).
THING = f"0 1 0 0 k {rectangle(20, 20, 30, 20)} f "


def circle(x: float, y: float, radius: float) -> str:
    x, y, r = mm(x), mm(y), mm(radius)
    k = 0.5523 * r
    return (
        f"{x + r} {y} m {x + r} {y + k} {x + k} {y + r} {x} {y + r} c {x - k} {y + r} {x - r} {y + k} {x - r} {y} c "
        f"{x - r} {y - k} {x - k} {y - r} {x} {y - r} c {x + k} {y - r} {x + r} {y - k} {x + r} {y} c h"
    )


def turned(x: float, y: float, width: float, height: float) -> str:
    """A diamond through the middles of a rectangle's sides."""
    middle = (x + width / 2, y + height / 2)
    points = [(x, middle[1]), (middle[0], y), (x + width, middle[1]), (middle[0], y + height)]
    return " ".join(f"{mm(a)} {mm(b)} {'l' if index else 'm'}" for index, (a, b) in enumerate(points)) + " h"


COVERS = {
    "one patch": f"0 0 1 0 k {rectangle(19, 19, 32, 22)} f",
    "exactly as large": f"0 0 1 0 k {rectangle(20, 20, 30, 20)} f",
    "paper": f"0 0 0 0 k {rectangle(19, 19, 32, 22)} f",
    "paper of gray": f"1 g {rectangle(19, 19, 32, 22)} f",
    "a spot ink": f"/Spot cs 1 scn {rectangle(19, 19, 32, 22)} f",
    "two that meet": f"0 0 1 0 k {rectangle(19, 19, 16, 22)} f {rectangle(35, 19, 16, 22)} f",
    "two that overlap": f"0 0 1 0 k {rectangle(19, 19, 20, 22)} f {rectangle(30, 19, 21, 22)} f",
    "many tiles": "0 0 1 0 k "
    + " ".join(f"{rectangle(19 + 4 * i, 19 + 4 * j, 4, 4)} f" for i in range(8) for j in range(6)),
    "a picture": f"q {mm(32)} 0 0 {mm(22)} {mm(19)} {mm(19)} cm /Photo Do Q",
    "strips of a picture": " ".join(
        f"q {mm(8)} 0 0 {mm(22)} {mm(19 + 8 * i)} {mm(19)} cm /Photo Do Q" for i in range(4)
    ),
    "a disc": f"0 0 1 0 k {circle(35, 30, 25)} f",
    "a diamond": f"0 0 1 0 k {turned(-15, -10, 100, 80)} f",
    "a thick line": f"0 0 1 0 K {mm(24)} w {mm(15)} {mm(30)} m {mm(55)} {mm(30)} l S",
    "a slanting thick line": f"0 0 1 0 K {mm(50)} w {mm(0)} {mm(20)} m {mm(70)} {mm(40)} l S",
    "in a form": "/Form Do",
    "in a turned form": "q 0.8 0.6 -0.6 0.8 40 -30 cm 0 0 1 0 k -300 -300 900 900 re f Q",
    "inside a clip that is large enough": f"q {rectangle(10, 10, 50, 50)} W n 0 0 1 0 k {rectangle(0, 0, 100, 80)} f Q",
    "inside a round clip that is large enough": f"q {circle(35, 30, 25)} W n 0 0 1 0 k {rectangle(0, 0, 100, 80)} f Q",
    "set to overprint off again": f"/Over gs /Plain gs 0 0 1 0 k {rectangle(19, 19, 32, 22)} f",
    "in a plain group": "/Group Do",
    "an annotation's worth of opaque white": f"1 1 1 rg {rectangle(19, 19, 32, 22)} f",
}
NO_COVERS = {
    "nothing": "",
    "painted before": None,
    "a little too small": f"0 0 1 0 k {rectangle(19, 19, 30.5, 22)} f",
    "two with a gap": f"0 0 1 0 k {rectangle(19, 19, 15.6, 22)} f {rectangle(35, 19, 16, 22)} f",
    "tiles with one missing": "0 0 1 0 k "
    + " ".join(f"{rectangle(19 + 4 * i, 19 + 4 * j, 4, 4)} f" for i in range(8) for j in range(6) if (i, j) != (4, 3)),
    "set to overprint": f"/Over gs 0 0 1 0 k {rectangle(19, 19, 32, 22)} f",
    "see-through": f"/Half gs 0 0 1 0 k {rectangle(19, 19, 32, 22)} f",
    "multiplied": f"/Times gs 0 0 1 0 k {rectangle(19, 19, 32, 22)} f",
    "in a see-through group": "/Half gs /Group Do",
    "through a soft mask": f"/Soft gs 0 0 1 0 k {rectangle(19, 19, 32, 22)} f",
    "a picture with a soft mask": f"q {mm(32)} 0 0 {mm(22)} {mm(19)} {mm(19)} cm /Masked Do Q",
    "a picture with a colour key": f"q {mm(32)} 0 0 {mm(22)} {mm(19)} {mm(19)} cm /Keyed Do Q",
    "a stencil": f"q 0 0 1 0 k {mm(32)} 0 0 {mm(22)} {mm(19)} {mm(19)} cm /Stencil Do Q",
    "a disc that leaves the corners": f"0 0 1 0 k {circle(35, 30, 16)} f",
    "a ring around it": f"0 0 1 0 k {circle(35, 30, 30)} {circle(35, 30, 12)} f*",
    "a frame": f"0 0 1 0 k {rectangle(15, 15, 40, 30)} {rectangle(19, 19, 32, 22)} f*",
    "a diamond that leaves the corners": f"0 0 1 0 k {turned(18, 18, 34, 24)} f",
    "cut by a round clip": f"q {circle(35, 30, 16)} W n 0 0 1 0 k {rectangle(0, 0, 100, 80)} f Q",
    "cut by letters": f"q BT 7 Tr /Type 90 Tf {mm(18)} {mm(18)} Td (MM) Tj ET 0 0 1 0 k {rectangle(0, 0, 100, 80)} f Q",
    "a dashed line": f"0 0 1 0 K [9 3] 0 d {mm(24)} w {mm(15)} {mm(30)} m {mm(55)} {mm(30)} l S",
    "a hidden layer": f"/OC /Off BDC 0 0 1 0 k {rectangle(19, 19, 32, 22)} f EMC",
    "a pattern with gaps": f"/Pattern cs /Tile scn {rectangle(19, 19, 32, 22)} f",
    "no ink at all": f"/None cs 1 scn {rectangle(19, 19, 32, 22)} f",
}


def page(before: str, after: str, thing: str = THING) -> Book:
    book = Book()
    group = Dictionary(S=Name.Transparency, CS=Name.DeviceCMYK)
    patch = f"0 0 1 0 k {rectangle(19, 19, 32, 22)} f"
    soft = book.form("0.6 g -500 -500 2000 2000 re f", Group=Dictionary(S=Name.Transparency, CS=Name.DeviceGray))
    none = book.spot("None")
    resources = {
        "Spot": book.spot("Fern Green"),
        "None": none,
        "Photo": book.image(40, 30),
        "Masked": book.image(40, 30, SMask=book.image(20, 20, space=Name.DeviceGray)),
        "Keyed": book.image(40, 30, Mask=Array([0, 240] * 4)),
        "Stencil": book.image(16, 16, bits=1, ImageMask=True),
        "Type": book.base_font("Helvetica-Bold"),
        "Form": book.form(f"q 1 0 0 1 {mm(4)} {mm(9)} cm 0 0 1 0 k {rectangle(15, 10, 32, 22)} f Q"),
        "Group": book.form(patch, Group=group),
        "Over": book.state(OP=True, op=True, OPM=1),
        "Plain": book.state(OP=False, op=False),
        "Half": book.state(ca=0.5),
        "Times": book.state(BM=Name.Multiply),
        "Soft": book.state(SMask=Dictionary(Type=Name.Mask, S=Name.Luminosity, G=soft)),
        "Off": book.layer("Notes", on=False),
        "Tile": book.tiling("0 0 1 0 k 0 0 9 9 re f", cell=(10, 10)),
    }
    book.page(f"{before} q {thing} Q {after}", resources=resources)
    return book


def thing_in(book: Book, folder):
    """The magenta patch, wherever it stands in the list."""
    return next(
        thing for thing in painted(book, folder) if thing.colour and thing.colour.values == (0.0, 1.0, 0.0, 0.0)
    )


def changes_plates(before: str, after: str, folder, thing: str = THING) -> bool:
    one, other = (look(page(before, after, each), folder).pixels for each in (thing, ""))
    planes, others = dict(zip(one.inks, one.planes, strict=True)), dict(zip(other.inks, other.planes, strict=True))
    return any(not np.array_equal(planes[ink], others[ink]) for ink in planes)


@pytest.mark.parametrize("name", COVERS)
def test_covered(name, tmp_path) -> None:
    assert thing_in(page("", COVERS[name]), tmp_path).covered
    assert not changes_plates("", COVERS[name], tmp_path)


@pytest.mark.parametrize("name", NO_COVERS)
def test_not_covered(name, tmp_path) -> None:
    before, after = (COVERS["one patch"], "") if NO_COVERS[name] is None else ("", NO_COVERS[name])
    assert not thing_in(page(before, after), tmp_path).covered
    # None is no ink (ISO 32000-2, 8.6.6.4); this engine paints it as paper.
    assert name == "no ink at all" or changes_plates(before, after, tmp_path)


def test_what_is_out_of_sight_needs_no_cover(tmp_path) -> None:
    """Only the part inside the clip and the bleed area has to be hidden."""
    thing = f"q {rectangle(30, 25, 5, 5)} W n {THING} Q"
    after = f"0 0 1 0 k {rectangle(29, 24, 7, 7)} f"
    assert thing_in(page("", after, thing), tmp_path).covered
    assert not changes_plates("", after, tmp_path, thing)
    thing = f"0 1 0 0 k {rectangle(-9, 20, 20, 20)} f"
    after = f"0 0 1 0 k {rectangle(-3, 20, 14, 20)} f"
    assert thing_in(page("", after, thing), tmp_path).covered


def test_a_cover_in_a_see_through_group_hides_what_is_in_the_group(tmp_path) -> None:
    book = Book()
    inner = book.form(
        f"{THING} 0 0 1 0 k {rectangle(19, 19, 32, 22)} f", Group=Dictionary(S=Name.Transparency, CS=Name.DeviceCMYK)
    )
    book.page("/Half gs /G Do", resources={"G": inner, "Half": book.state(ca=0.5)})
    assert thing_in(book, tmp_path).covered
    book = Book()
    inner = book.form(
        f"0 0 1 0 k {rectangle(19, 19, 32, 22)} f", Group=Dictionary(S=Name.Transparency, CS=Name.DeviceCMYK)
    )
    book.page(f"{THING} /Half gs /G Do", resources={"G": inner, "Half": book.state(ca=0.5)})
    assert not thing_in(book, tmp_path).covered


@pytest.mark.parametrize(
    "thing",
    [
        f"0 1 0 0 K 0.3 w {mm(25)} {mm(25)} m {mm(40)} {mm(25)} l S",
        f"0 1 0 0 k BT /Type 12 Tf {mm(25)} {mm(25)} Td (Moss) Tj ET",
        f"0 1 0 0 k {rectangle(25, 25, 0.05, 0.05)} f",
        f"q 0 1 0 0 k {mm(5)} 0 0 {mm(5)} {mm(25)} {mm(25)} cm /Stencil Do Q",
    ],
)
def test_small_things_under_a_patch(thing, tmp_path) -> None:
    assert thing_in(page("", COVERS["one patch"], thing), tmp_path).covered
    assert not thing_in(
        page("", COVERS["set to overprint off again"].replace("/Plain gs", ""), thing), tmp_path
    ).covered


# --- what lies under fine things ---

LINE = f"0 1 0 0 K 0.3 w {mm(25)} {mm(30)} m {mm(45)} {mm(30)} l S"
GROUNDS = {
    "paper": ("", set()),
    "a patch": (f"0 0 1 0 k {rectangle(10, 10, 50, 50)} f", {"Yellow"}),
    "two inks": (f"0.5 0 1 0 k {rectangle(10, 10, 50, 50)} f", {"Cyan", "Yellow"}),
    "half the line": (f"0 0 1 0 k {rectangle(10, 10, 25, 50)} f", {"Yellow"}),
    "a spot": (f"/Spot cs 1 scn {rectangle(10, 10, 50, 50)} f", {"Fern Green"}),
    "a patch beside it": (f"0 0 1 0 k {rectangle(10, 30.5, 50, 20)} f", set()),
    "a patch that was covered": (f"0 0 1 0 k {rectangle(10, 10, 50, 50)} f 1 0 0 0 k {rectangle(10, 10, 50, 50)} f", {"Cyan"}),
    "a patch that was covered with paper": (f"0 0 1 0 k {rectangle(10, 10, 50, 50)} f 1 g {rectangle(10, 10, 50, 50)} f", set()),
    "a patch with another overprinting": (
        f"0 0 1 0 k {rectangle(10, 10, 50, 50)} f /Over gs 1 0 0 0 k {rectangle(10, 10, 50, 50)} f /Plain gs",
        {"Cyan", "Yellow"},
    ),
    "the middle of a ring": (f"0 0 1 0 k {circle(35, 30, 25)} {circle(35, 30, 15)} f*", set()),
    "a picture": (f"q {mm(50)} 0 0 {mm(50)} {mm(10)} {mm(10)} cm /Photo Do Q", {"Cyan", "Magenta", "Yellow", "Black"}),
    "a picture that a round clip keeps away": (
        f"q {circle(35, 60, 20)} W n {mm(80)} 0 0 {mm(80)} 0 0 cm /Photo Do Q",
        set(),
    ),
    "a pattern": (f"/Pattern cs /Tile scn {rectangle(10, 10, 50, 50)} f", {"Yellow"}),
    "what comes later": None,
}  # fmt: skip


@pytest.mark.parametrize("name", GROUNDS)
def test_what_lies_under_a_line(name, tmp_path) -> None:
    if GROUNDS[name] is None:
        before, after, expected = "", f"/Over gs 0 0 1 0 k {rectangle(10, 10, 50, 50)} f", set()
    else:
        (before, expected), after = GROUNDS[name], ""
    assert set(thing_in(page(before, after, LINE), tmp_path).ground_inks) == expected


def test_what_lies_under_text(tmp_path) -> None:
    text = f"0 1 0 0 k BT /Type 8 Tf {mm(25)} {mm(25)} Td (Moss) Tj ET"
    assert thing_in(page("", "", text), tmp_path).ground_inks == ()
    assert thing_in(page(COVERS["one patch"], "", text), tmp_path).ground_inks == ("Yellow",)


# --- areas ---


def test_points_inside_a_polygon_by_either_rule() -> None:
    """Two squares drawn the same way round, one in the other: a hole by even-odd, none by nonzero (ISO 32000-2, 8.5.3.3)."""
    rings = [[(0.0, 0.0), (10.0, 0.0), (10.0, 10.0), (0.0, 10.0)], [(2.0, 2.0), (8.0, 2.0), (8.0, 8.0), (2.0, 8.0)]]
    lattice = Lattice.over(Box(0, 0, 10, 10), 1.0, 1000)
    for even_odd, inside in ((True, 100 - 36), (False, 100)):
        region = Region(Box(0, 0, 10, 10), rings, even_odd)
        assert region.has_point(5, 5) is not even_odd
        assert region.has_point(1, 5)
        assert region.mask(lattice)[2].sum() == inside
        assert region.holds(Box(3, 3, 7, 7)) is not even_odd
        assert region.holds(Box(0.5, 3, 1.5, 7))
        assert region.holds(Box(1, 3, 7, 7)) is False  # an edge runs through it: in doubt not held


def test_a_lattice_grows_coarser_rather_than_large() -> None:
    lattice = Lattice.over(Box(0, 0, 2000, 1000), 0.25, 1_000_000)
    assert lattice.rows * lattice.columns <= 1_010_000
    assert lattice.step_mm > 0.25
