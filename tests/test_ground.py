"""What lies under a thing: painted earlier and shown by the plates, both."""

from __future__ import annotations

import pytest
from inked import (
    CYAN_70,
    GRAY_BLACK,
    K100,
    K_GROUND,
    RGB_BLACK,
    WHITE,
    Spread,
    area,
    cmyk,
    line,
    page_with,
    picture,
    spot,
    text,
)

from preflight.ground import Ground, erased, is_white, leaves_ink
from preflight.inventory.model import PROCESS_INKS, Colour, Page

BOX = (10.0, 10.0, 60.0, 40.0)
CYAN_THERE: Spread = {"Cyan": [(BOX, 70.0)]}


def under_last(page: Page) -> dict[str, float]:
    return Ground(page, 5.0).under(page.painted[-1])


def test_a_fill_below_and_its_ink_on_the_plates_are_a_ground():
    assert under_last(page_with(area(CYAN_70, BOX), text(), spread=CYAN_THERE)) == pytest.approx(
        {"Cyan": 70.0}, abs=0.5
    )


@pytest.mark.parametrize(
    "below",
    [
        pytest.param(picture(BOX), id="picture"),
        pytest.param(picture(BOX, Colour("rgb")), id="RGB picture"),
        pytest.param(area(Colour("icc-rgb", values=(0.0, 0.5, 0.9)), BOX), id="RGB fill"),
        pytest.param(area(CYAN_70, BOX, shape=None, kind="shading"), id="shading"),
        pytest.param(area(None, BOX), id="unknown colour"),
        pytest.param(line(CYAN_70, BOX, 85.0), id="thick stroke"),
    ],
)
def test_whatever_put_the_ink_there(below):
    assert "Cyan" in under_last(page_with(below, text(), spread=CYAN_THERE))


@pytest.mark.parametrize(
    ("things", "spread"),
    [
        pytest.param([text()], {"Black": [((20, 20, 50, 23), 30)]}, id="paper"),
        pytest.param([text(), area(CYAN_70, BOX)], CYAN_THERE, id="painted later"),
        pytest.param([area(CYAN_70, (10, 24, 60, 40)), text()], {"Cyan": [((10, 24, 60, 40), 70)]}, id="beside it"),
        pytest.param(
            [area(CYAN_70, BOX, shape=None), text()], {"Cyan": [((10, 30, 60, 40), 70)]}, id="empty part of its box"
        ),
        pytest.param([area(CYAN_70, BOX), area(WHITE, BOX), text()], {}, id="covered in between"),
        pytest.param(
            [line(CYAN_70, (15, 21.4, 60, 21.6), 0.5), text()], {"Cyan": [((15, 21.4, 60, 21.6), 100)]}, id="thin line"
        ),
        pytest.param([text(cmyk(100, 0, 0, 0)), text()], {"Cyan": [((20, 20, 50, 23), 30)]}, id="other text"),
        pytest.param([area(CYAN_70, BOX, inside=("soft-mask",)), text()], CYAN_THERE, id="inside a soft mask"),
        pytest.param([area(CYAN_70, BOX, alpha=0.0), text()], CYAN_THERE, id="unseen"),
    ],
)
def test_what_is_no_ground(things, spread):
    assert under_last(page_with(*things, spread=spread)) == {}


def test_a_line_that_fills_its_cells_still_has_a_ground():
    # 0.5 mm thick: not a trace of cyan is left in its own cells.
    spread: Spread = {"Cyan": [((10, 10, 60, 20), 70), ((10, 20.5, 60, 40), 70)], "Black": [((15, 20, 55, 20.5), 100)]}
    page = page_with(area(CYAN_70, BOX), line(K100, (15, 20, 55, 20.5), 0.9), spread=spread)
    assert under_last(page)["Cyan"] > 30


def test_without_plates_the_painted_things_alone_tell():
    assert under_last(page_with(area(CYAN_70, BOX), text())) == {"Cyan": 70.0}
    assert under_last(page_with(area(CYAN_70, BOX), area(WHITE, (15, 15, 55, 30)), text())) == {}


def test_what_the_reader_saw_under_a_fine_thing_counts_and_the_plates_have_their_say():
    spread: Spread = {"Cyan": [(BOX, 70.0)]}
    seen = text(ground_inks=("Cyan", "Magenta"))
    assert list(under_last(page_with(seen, spread=spread))) == ["Cyan"]
    assert list(under_last(page_with(area(CYAN_70, BOX), text(ground_inks=()), spread=spread))) == []


def test_a_spot_ground_goes_by_its_name():
    page = page_with(area(spot("Fern Green"), BOX), text(), spread={"Fern Green": [(BOX, 100)]})
    assert list(under_last(page)) == ["Fern Green"]


# --- what is erased: ISO 32000-2, Table 146 --------------------------------------------------------------------------

GROUND = {"Cyan": 70.0, "Magenta": 20.0, "Fern Green": 50.0}


@pytest.mark.parametrize(
    ("colour", "overprint", "mode", "gone", "cause"),
    [
        (K100, False, 0, {"Cyan", "Magenta", "Fern Green"}, "no-overprint"),
        (K100, False, 1, {"Cyan", "Magenta", "Fern Green"}, "no-overprint"),
        (K100, True, 0, {"Cyan", "Magenta"}, "overprint-mode-0"),
        (K100, True, 1, set(), ""),
        (GRAY_BLACK, True, 0, {"Cyan", "Magenta"}, "gray-erases"),
        (GRAY_BLACK, True, 1, {"Cyan", "Magenta"}, "gray-erases"),
        (RGB_BLACK, True, 1, {"Cyan", "Magenta"}, "converted-erases"),
        (Colour("icc-cmyk", inks=PROCESS_INKS, values=(0, 0, 0, 1)), True, 1, {"Cyan", "Magenta"}, "converted-erases"),
        (spot("Black"), True, 0, set(), ""),
        (spot("Black"), True, 1, set(), ""),
        (spot("Black"), False, 1, {"Cyan", "Magenta", "Fern Green"}, "no-overprint"),
        (Colour("device-n", inks=("Black", "Cyan"), values=(1.0, 0.0)), True, 1, {"Cyan"}, "named-at-zero"),
        (WHITE, True, 0, {"Cyan", "Magenta"}, "overprint-mode-0"),
        (WHITE, True, 1, set(), ""),
    ],
)
def test_what_of_the_ground_is_erased(colour, overprint, mode, gone, cause):
    thing = text(colour, overprint=overprint, overprint_mode=mode)
    found, why = erased(thing, GROUND, {"Black": 100.0})
    assert (set(found), why) == (gone, cause)


def test_what_mixes_with_its_ground_erases_nothing():
    assert erased(text(K100, blend="Multiply"), GROUND, {"Black": 100.0}) == ({}, "")
    assert erased(text(K100, alpha=0.5), GROUND, {"Black": 100.0}) == ({}, "")


def test_an_ink_of_its_own_is_not_erased():
    assert set(erased(text(K100), {"Black": 50.0, "Cyan": 10.0}, {"Black": 100.0})[0]) == {"Cyan"}


# --- inks of a thing itself ------------------------------------------------------------------------------------------


def test_inks_by_their_numbers():
    ground = Ground(page_with(text(), spread={}), 5.0)
    assert ground.inks_of(text(cmyk(100, 2, 0, 40)), 3.0) == {"Cyan": 100.0, "Black": 40.0}
    assert ground.inks_of(text(WHITE), 3.0) == {}
    assert ground.inks_of(text(spot("Fern Green", 60)), 3.0) == {"Fern Green": 60.0}
    assert set(ground.inks_of(text(Colour("separation", inks=("All",), values=(1.0,))), 3.0)) == set(PROCESS_INKS)


def test_inks_of_a_converted_colour_are_those_the_plates_show():
    box = (20.0, 20.0, 50.0, 23.0)
    shown: Spread = {"Magenta": [(box, 30)], "Yellow": [(box, 28)], "Black": [((20, 20, 21, 23), 1)]}
    page = page_with(text(Colour("rgb", values=(1.0, 0.0, 0.0))), spread=shown)
    assert set(Ground(page, 5.0).inks_of(page.painted[0], 3.0)) == {"Magenta", "Yellow"}


def test_a_gray_with_a_profile_is_one_ink_unless_the_plates_show_more():
    box = (20.0, 20.0, 50.0, 23.0)
    gray = Colour("icc-gray", inks=("Black",), values=(0.0,))
    one = page_with(text(gray), spread={"Black": [(box, 30)], "Cyan": [((20, 20, 22, 23), 40)]})
    four = page_with(text(gray), spread={ink: [(box, 25)] for ink in PROCESS_INKS})
    assert set(Ground(one, 5.0).inks_of(one.painted[0], 3.0)) == {"Black"}
    assert set(Ground(four, 5.0).inks_of(four.painted[0], 3.0)) == set(PROCESS_INKS)


def test_text_filled_with_a_pattern_prints_what_the_plates_show():
    page = page_with(text(None), spread={"Magenta": [((20, 20, 50, 23), 30)]})
    assert set(Ground(page, 5.0).inks_of(page.painted[0], 3.0)) == {"Magenta"}


def test_a_converted_colour_over_other_matter_is_named_not_measured():
    page = page_with(area(CYAN_70, BOX), text(RGB_BLACK), spread=CYAN_THERE)
    assert set(Ground(page, 5.0).inks_of(page.painted[-1], 3.0)) == set(PROCESS_INKS)


def test_white_is_what_prints_nothing():
    assert is_white(WHITE)
    assert is_white(Colour("gray", inks=("Black",), values=(1.0,)))
    assert is_white(Colour("icc-rgb", values=(1.0, 1.0, 1.0)))
    assert is_white(spot("Fern Green", 0))
    assert not is_white(K_GROUND)
    assert not is_white(Colour("rgb", values=(0.9, 0.9, 0.9)))
    assert not is_white(None)
    assert not is_white(Colour("unknown"))


def test_what_leaves_no_ink():
    assert leaves_ink(text())
    assert not leaves_ink(text(inked=0))
    assert not leaves_ink(text(alpha=0.0))
    assert not leaves_ink(text(covered=True))
    assert not leaves_ink(text(box=(200, 200, 210, 210)))
    assert not leaves_ink(text(inside=("group", "soft-mask")))
    assert not leaves_ink(area(K100, BOX, kind="mask"))
