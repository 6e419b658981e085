"""For every other id that judges an object: found however it is drawn, silent wherever nobody can see it.

Lines and pictures have the same in their own tests. That a hidden thing leaves no mark, and a reported one does, is proved on
the plates (``twins.leaves_mark``), not looked up.
"""

from __future__ import annotations

from typing import Any

import pytest
import twins
from artwork import Book, mm
from pikepdf import Array, Dictionary, Name
from whole import found_in

BLOCK = f"{mm(10)} {mm(10)} {mm(20)} {mm(15)} re f"
LETTERS = f"BT /Type {mm(6)} Tf {mm(11)} {mm(12)} Td (HHH) Tj ET"
PLACE = (10.0, 10.0, 20.0, 15.0)


def lab(book: Book) -> dict[str, Any]:
    return {"Seen": Array([Name.Lab, Dictionary(WhitePoint=[0.9642, 1, 0.8249], Range=[-128, 127, -128, 127])])}


def bitmap_letters(book: Book) -> dict[str, Any]:
    """Glyphs made of 20 x 20 dots: at 17 pt, 6 mm high, 85 ppi."""
    dots = (
        "1000 0 0 0 1000 1000 d1 q 1000 0 0 1000 0 0 cm BI /W 20 /H 20 /IM true /BPC 1 ID "
        + "\xaa\xaa\xa0" * 20
        + " EI Q"
    )
    return {"Type": book.type3_font({"H": dots})}


#: id -> thing. Ids whose check only looks at a ticket's inks are asked with one.
THINGS = {
    "colour.rgb": twins.Thing(f"0.8 0.2 0.1 rg {BLOCK}", PLACE),
    "colour.rgb picture": twins.Thing(
        f"q {mm(20)} 0 0 {mm(15)} {mm(10)} {mm(10)} cm /Photo Do Q",
        PLACE,
        resources=lambda book: {"Photo": book.image(300, 225, space=Name.DeviceRGB)},
    ),
    "colour.lab": twins.Thing(f"/Seen cs 60 40 10 scn {BLOCK}", PLACE, resources=lab),
    "colour.registration": twins.Thing(
        f"/Seen cs 1 scn {BLOCK}", PLACE, resources=lambda book: {"Seen": book.spot("All", (1, 1, 1, 1))}
    ),
    "colour.unexpected-ink": twins.Thing(
        f"/Seen cs 1 scn {BLOCK}", PLACE, resources=lambda book: {"Seen": book.spot("Fern Green")}
    ),
    "font.not-embedded": twins.Thing(f"0 0 0 1 k {LETTERS}", PLACE, resources=lambda book: {"Type": book.base_font()}),
    "black.many-inks": twins.Thing(
        f"0.6 0.5 0.5 1 k BT /Type 9 Tf {mm(11)} {mm(12)} Td (HHH) Tj ET",
        PLACE,
        resources=lambda book: {"Type": book.base_font()},
    ),
    "type.small": twins.Thing(
        f"0 0 0 1 k BT /Type 3 Tf {mm(11)} {mm(12)} Td (HHH) Tj ET",
        PLACE,
        resources=lambda book: {"Type": book.base_font()},
    ),
    "type.small-many-inks": twins.Thing(
        f"0.5 1 0 0 k BT /Type 6 Tf {mm(11)} {mm(12)} Td (HHH) Tj ET",
        PLACE,
        resources=lambda book: {"Type": book.base_font()},
    ),
    "tint.too-light": twins.Thing(f"0.02 0 0 0 k {BLOCK}", PLACE),
}
TEXT = {"font.not-embedded", "black.many-inks", "type.small", "type.small-many-inks"}
ORDERED = {"inks": ("Cyan", "Magenta", "Yellow", "Black")}


def ids(name: str, twin: str, folder) -> set[str]:
    identifier = name.partition(" ")[0]
    found = found_in(twins.book(THINGS[name], twin), folder, identifier.partition(".")[0], **ORDERED)
    return {each.id for each in found} & {identifier}


@pytest.mark.parametrize("name", THINGS)
@pytest.mark.parametrize("twin", twins.NESTED)
def test_found_however_it_is_drawn(name, twin, tmp_path) -> None:
    assert ids(name, twin, tmp_path) == {name.partition(" ")[0]}
    assert twins.leaves_mark(THINGS[name], twin, tmp_path)


@pytest.mark.parametrize(
    ("name", "twin"),
    [(name, twin) for name in THINGS for twin in (twins.HIDDEN_TEXT if name in TEXT else twins.HIDDEN)],
)
def test_silent_where_nobody_sees_it(name, twin, tmp_path) -> None:
    assert ids(name, twin, tmp_path) == set()
    assert not twins.leaves_mark(THINGS[name], twin, tmp_path)


def test_bitmap_letters_found_and_hidden(tmp_path) -> None:
    thing = twins.Thing(f"0 0 0 1 k {LETTERS}", PLACE, resources=bitmap_letters)
    for twin in ("plain", "form", "pattern"):
        found = found_in(twins.book(thing, twin), tmp_path, "font")
        assert "font.type3-bitmap" in {each.id for each in found}, twin
    for twin in twins.HIDDEN_TEXT:
        assert found_in(twins.book(thing, twin), tmp_path, "font") == [], twin
