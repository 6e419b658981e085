"""The knocked-out view: every row of ISO 32000-2, Table 146 as if nothing overprinted, and the plates untouched by having looked."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from artwork import Book, rectangle
from pikepdf import Array, Dictionary, Name
from plated import Look, opened
from test_plates import STATES, TABLE_146, UNDER, named, on_ground

from preflight.inventory.render import render_plates

FERN = "Fern Green"
PATCH = rectangle(0, 0, 50, 80)
#: Block letters of a Type 3 font at 200 pt: 63 x 49 mm from the lower left.
BLOCK = "0 0 900 700 re f"


def both(book: Book, folder: Path) -> tuple[Look, Look, Look]:
    """The plates, the knocked-out view, and the plates once more, from one open document."""
    it = opened(book.save(folder / "art.pdf"))
    views = (True, False, True)
    first, off, again = (render_plates(it.document, it.page, it.frame, it.zone(), overprint=view) for view in views)
    return Look(it, first), Look(it, off), Look(it, again)


@pytest.mark.parametrize("state", ["OPM 0", "OPM 1"])
@pytest.mark.parametrize("row", TABLE_146)
def test_table_146_without_overprint(row: str, state: str, tmp_path: Path) -> None:
    colour, what, *expected = TABLE_146[row]
    book = Book()
    # The ground's own spot overprints too: in this view it stands alone.
    on_ground(book, f"{colour} {PATCH} f", STATES[state], **named(book, what))
    plates, off, again = both(book, tmp_path)
    seen = (plates.at(30, 40), off.at(30, 40), again.at(30, 40))
    with_overprint = expected[list(STATES).index(state)]
    assert seen == (with_overprint, expected[0], with_overprint)
    assert (plates.at(90, 40), off.at(90, 40)) == (UNDER, {FERN: 50})


def white(state: str) -> str:
    return f"{state} 0 0 0 0 k {PATCH} f"


def keep(book: Book) -> Dictionary:
    return book.state(OP=True, op=True, OPM=1)


def forms(book: Book) -> tuple[str, dict[str, Any]]:
    inner = book.form(white("/Own gs"), resources={"Own": keep(book)})
    return "/Outer Do", {"Outer": book.form("/Inner Do", resources={"Inner": inner})}


def inherited(book: Book) -> tuple[str, dict[str, Any]]:
    """One dictionary switches overprint on, another sets its mode; the form that is painted has neither."""
    return "/On gs /Mode gs /It Do", {
        "On": book.state(op=True),
        "Mode": book.state(OPM=1),
        "It": book.form(white("")),
    }


def glyphs_with_a_colour(book: Book) -> tuple[str, dict[str, Any]]:
    font = book.type3_font({"I": f"1000 0 d0 /Own gs 0 0 0 0 k {BLOCK}"}, resources={"Own": keep(book)})
    return "BT /Face 200 Tf (I) Tj ET", {"Face": font}


def glyphs_without(book: Book) -> tuple[str, dict[str, Any]]:
    font = book.type3_font({"I": f"1000 0 0 0 1000 1000 d1 {BLOCK}"})
    return "/On gs BT 0 0 0 0 k /Face 200 Tf (I) Tj ET", {"Face": font, "On": keep(book)}


def groups(book: Book) -> tuple[str, dict[str, Any]]:
    group = Dictionary(S=Name.Transparency)
    return "/It Do", {"It": book.form(white("/Own gs"), resources={"Own": keep(book)}, Group=group)}


def stencils(book: Book) -> tuple[str, dict[str, Any]]:
    picture = book.image(8, 8, bits=1, data=bytes(8), ImageMask=True)
    return "/On gs 0 0 0 0 k q 142 0 0 227 0 0 cm /It Do Q", {"It": picture, "On": keep(book)}


@pytest.mark.parametrize("dress", [forms, inherited, glyphs_with_a_colour, glyphs_without, groups, stencils])
def test_white_is_white_wherever_it_is_switched_on(dress: Any, tmp_path: Path) -> None:
    """The plates keep C 70 in every one of them (a PostScript interpreter's separations agree)."""
    book = Book()
    painting, resources = dress(book)
    book.page(f"0.7 0 0 0 k {rectangle(0, 0, 100, 80)} f {painting}", resources=resources)
    plates, off, again = both(book, tmp_path)
    assert (plates.at(30, 40), off.at(30, 40), again.at(30, 40)) == ({"Cyan": 70}, {}, {"Cyan": 70})


def test_inside_the_cells_of_a_pattern(tmp_path: Path) -> None:
    """The engine keeps cells it has drawn: they must be drawn anew, both ways."""
    book = Book()
    cell = "0.7 0 0 0 k 0 0 20 20 re f /Own gs 0 0 0 0 k 0 0 10 20 re f"
    tile = book.tiling(cell, cell=(20, 20), resources={"Own": keep(book)})
    book.page(f"/Pattern cs /Tile scn {rectangle(0, 0, 100, 80)} f", resources={"Tile": tile})
    plates, off, again = both(book, tmp_path)
    means = [round(view.pixels.planes[0].mean() / 2.55) for view in (plates, off, again)]
    assert means[0] == means[2]
    assert means[1] == pytest.approx(means[0] / 2, abs=1)


def test_an_annotation_that_prints(tmp_path: Path) -> None:
    book = Book()
    look = book.form(f"/Own gs 0 0 0 0 k {PATCH} f", resources={"Own": keep(book)}, BBox=Array([0, 0, 150, 150]))
    page = book.page(f"0.7 0 0 0 k {rectangle(0, 0, 100, 80)} f")
    stamp = Dictionary(Type=Name.Annot, Subtype=Name.Stamp, F=4, Rect=Array([28, 28, 178, 178]), AP=Dictionary(N=look))
    page.obj.Annots = Array([book.pdf.make_indirect(stamp)])
    plates, off, again = both(book, tmp_path)
    assert (plates.at(30, 20), off.at(30, 20), again.at(30, 20)) == ({"Cyan": 70}, {}, {"Cyan": 70})
