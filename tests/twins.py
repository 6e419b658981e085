"""The same fault nine times: six times where nobody can see it, three times where it only looks different in the file.

A ``Thing`` is a faulty object on a page. ``HIDDEN`` names the ways to make it leave no mark: a check that judges objects must say
nothing. ``NESTED`` names the ways to draw it that look no different on paper: the check must find it all the same. ``book`` makes the
page, ``without`` the same page with the thing left out, and ``leaves_mark`` proves on the plates, made by the engine alone, that
the thing shows or does not.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np
from artwork import Book, mm
from pikepdf import Array, Name
from plated import look

HIDDEN = ("clipped away", "layer off", "covered", "off the page", "in the slug", "zero alpha")
HIDDEN_TEXT = (*HIDDEN, "text mode 3")
NESTED = ("plain", "form", "pattern", "type 3")
#: A page of this size, with this much around the trim; things lie in its lower left quarter.
TRIM_MM, MARGIN_MM = (100.0, 80.0), 25.0


@dataclass(frozen=True)
class Thing:
    """A faulty object: its content stream and resources, and the box (x, y, width, height in mm) it lies in.

    Coordinates are points from the trim's lower left corner, as in ``artwork``; ``resources`` is called for each book. Things are at
    most 20 mm high, so that they fit below the bleed area.
    """

    content: str
    box_mm: tuple[float, float, float, float]
    resources: Any = field(default=lambda book: {})
    #: What lies under it on the page.
    ground: str = ""


def book(thing: Thing, twin: str) -> Book:
    """A page with the thing drawn in one of the ways of ``HIDDEN``, ``HIDDEN_TEXT`` or ``NESTED``."""
    made = Book()
    resources = dict(thing.resources(made))
    content = _WAYS[twin](made, thing, resources)
    made.page(f"{thing.ground}\n{content}", trim_mm=TRIM_MM, margin_mm=MARGIN_MM, resources=resources)
    return made


def without(thing: Thing, twin: str) -> Book:
    """The same page, its thing drawn as nothing."""
    return book(Thing("", thing.box_mm, thing.resources, thing.ground), twin)


def leaves_mark(thing: Thing, twin: str, folder: Path) -> bool:
    """Whether leaving the thing out changes the plates anywhere inside trim and bleed."""
    one, other = (look(made, folder).pixels for made in (book(thing, twin), without(thing, twin)))
    planes, others = dict(zip(one.inks, one.planes, strict=True)), dict(zip(other.inks, other.planes, strict=True))
    for ink in planes.keys() | others.keys():
        plane, twin_plane = planes.get(ink), others.get(ink)
        if plane is None or twin_plane is None:
            left = plane if plane is not None else twin_plane
            if left is not None and left.any():
                return True
        elif not np.array_equal(plane, twin_plane):
            return True
    return False


def _rectangle(thing: Thing, grow: float = 0.0) -> str:
    x, y, width, height = thing.box_mm
    return f"{mm(x - grow)} {mm(y - grow)} {mm(width + 2 * grow)} {mm(height + 2 * grow)} re"


def _plain(made: Book, thing: Thing, resources: dict[str, Any]) -> str:
    return f"q {thing.content} Q"


def _clipped(made: Book, thing: Thing, resources: dict[str, Any]) -> str:
    """Its clip is a triangle elsewhere on the page."""
    return f"q {mm(60)} {mm(60)} m {mm(70)} {mm(60)} l {mm(65)} {mm(70)} l h W n {thing.content} Q"


def _layer_off(made: Book, thing: Thing, resources: dict[str, Any]) -> str:
    resources["Off"] = made.layer("Notes for the garden", on=False)
    return f"/OC /Off BDC q {thing.content} Q EMC"


def _covered(made: Book, thing: Thing, resources: dict[str, Any]) -> str:
    """Two paper-coloured patches that meet in the middle."""
    x, y, width, height = thing.box_mm
    left = f"{mm(x - 1)} {mm(y - 1)} {mm(width / 2 + 1)} {mm(height + 2)} re f"
    right = f"{mm(x - 1) + mm(width / 2 + 1)} {mm(y - 1)} {mm(width / 2 + 1)} {mm(height + 2)} re f"
    return f"q {thing.content} Q 0 0 0 0 k {left} {right}"


def _off_page(made: Book, thing: Thing, resources: dict[str, Any]) -> str:
    return f"q 1 0 0 1 {mm(-500)} 0 cm {thing.content} Q"


def _in_slug(made: Book, thing: Thing, resources: dict[str, Any]) -> str:
    """On the sheet, below the bleed area."""
    down = thing.box_mm[1] + thing.box_mm[3] + 4.5
    return f"q 1 0 0 1 0 {-mm(down)} cm {thing.content} Q"


def _zero_alpha(made: Book, thing: Thing, resources: dict[str, Any]) -> str:
    resources["Clear"] = made.state(ca=0, CA=0)
    return f"q /Clear gs {thing.content} Q"


def _mode_3(made: Book, thing: Thing, resources: dict[str, Any]) -> str:
    return f"q {thing.content.replace('BT', 'BT 3 Tr')} Q"


def _form(made: Book, thing: Thing, resources: dict[str, Any]) -> str:
    """In two forms, turned and turned back, scaled and scaled back."""
    inner = made.form(f"q 0 0.25 -0.25 0 0 0 cm {thing.content} Q", resources=dict(resources))
    resources.clear()
    resources["Outer"] = made.form("q 2 0 0 2 0 0 cm /Inner Do Q", resources={"Inner": inner})
    return "q 0 -2 2 0 0 0 cm /Outer Do Q"


def _pattern(made: Book, thing: Thing, resources: dict[str, Any]) -> str:
    """The cell of a pattern that shows twice over."""
    x, y, width, height = thing.box_mm
    cell = (mm(width + 2), mm(height + 2))
    pad = mm(MARGIN_MM)
    tile = made.tiling(
        f"q 1 0 0 1 {-mm(x - 1)} {-mm(y - 1)} cm {thing.content} Q",
        cell=cell,
        resources=dict(resources),
        Matrix=Array([1, 0, 0, 1, pad + mm(x - 1), pad + mm(y - 1)]),
    )
    resources.clear()
    resources["Tile"] = tile
    return f"q /Pattern cs /Tile scn {mm(x - 1)} {mm(y - 1)} {2 * cell[0]} {cell[1]} re f Q"


def _type_3(made: Book, thing: Thing, resources: dict[str, Any]) -> str:
    """The glyph of a font whose letters are drawings."""
    font = made.type3_font({"a": f"1000 0 d0 1000 0 0 1000 0 0 cm {thing.content}"}, resources=dict(resources))
    font.FontBBox = Array([0, 0, 0, 0])
    font.Type = Name.Font
    resources.clear()
    resources["Letters"] = font
    return "BT /Letters 1 Tf (a) Tj ET"


_WAYS = {
    "plain": _plain,
    "clipped away": _clipped,
    "layer off": _layer_off,
    "covered": _covered,
    "off the page": _off_page,
    "in the slug": _in_slug,
    "zero alpha": _zero_alpha,
    "text mode 3": _mode_3,
    "form": _form,
    "pattern": _pattern,
    "type 3": _type_3,
}
