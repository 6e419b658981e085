"""Rows of bars and spaces told by their shapes: symbols made by other code than the tool's, whole, damaged, and none at all."""

from __future__ import annotations

import itertools
import random

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from symbols import SEEDS, Symbol, code_39, code_128, ean_8, ean_13, itf, upc_e

from preflight.inventory.bar_patterns import BarMatch, find_bar_codes
from preflight.inventory.bar_remains import find_remains, is_uneven


def row_of(symbol: Symbol, module: float = 1.0, gain: float = 0.0) -> list[float]:
    """Widths of bars and spaces; bars wider by ``gain``, spaces narrower."""
    runs = [len(list(run)) for _, run in itertools.groupby(symbol.rows[0])]
    return [run * module + (gain if place % 2 == 0 else -gain) for place, run in enumerate(runs)]


def only(row: list[float]) -> BarMatch:
    found = find_bar_codes(row)
    assert len(found) == 1, found
    return found[0]


KINDS = {
    "EAN-13": ean_13(),
    "EAN-8": ean_8(),
    "UPC-E": upc_e(),
    "Code 128": code_128(),
    "Code 39": code_39(),
    "ITF": itf(),
}


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("gain", [-0.3, 0.0, 0.3])
def test_each_kind_forwards_and_backwards(kind, gain):
    """Ink gain (or bar width reduction) up to a third of a module leaves the module's measure alone."""
    row = row_of(KINDS[kind], 6.3, gain * 6.3)
    for way, backwards in ((row, False), (row[::-1], True)):
        match = only(way)
        assert (match.symbology, match.backwards, match.is_whole) == (kind, backwards, True)
        assert (match.first, match.last) == (0, len(row))
        assert match.module == pytest.approx(6.3, rel=0.001)


@pytest.mark.parametrize("wide", [2, 3])
def test_wide_bars_of_two_and_of_three_modules(wide):
    assert only(row_of(itf(wide=wide), 4.0)).module == pytest.approx(4.0)


@pytest.mark.parametrize("kind", ["EAN-13", "EAN-8", "Code 128", "Code 39"])
def test_what_stands_beside_a_symbol_does_not_hide_it(kind):
    """A frame one module away, and another symbol beyond it."""
    row = row_of(KINDS[kind])
    match = find_bar_codes([1.0, 1.0, *row, 1.0, 2.0, 9.0, *row])
    assert sorted((one.symbology, one.first) for one in match) == [(kind, 2), (kind, 2 + len(row) + 3)]


@given(st.text("0123456789", min_size=13, max_size=13), st.floats(0.5, 40.0))
@settings(max_examples=60, deadline=None)
def test_the_digits_of_any_ean_13(number, module):
    assert only(row_of(ean_13(number), module)).digits == number


@given(st.text("0123456789", min_size=14, max_size=14), st.sampled_from([2, 3]), st.booleans())
@example("00012345678905", 3, False)
@settings(max_examples=150, deadline=None)
def test_an_interleaved_code_ends_at_its_last_bar(number, wide, backwards):
    """A pair of digits may begin like a stop, with a wide space after it that is no margin."""
    row = row_of(itf(number, wide))
    match = only(row[::-1] if backwards else row)
    assert (match.symbology, match.first, match.last) == ("ITF", 0, len(row))


def test_a_symbol_with_some_digits_broken_is_still_one():
    row = row_of(ean_13())
    row[20] += 3.0
    row[21] = max(0.4, row[21] - 3.0)
    match = only(row)
    assert match.symbology == "EAN-13"
    assert not match.is_whole
    assert match.digits is None


@pytest.mark.parametrize(
    "row",
    [
        [1.0] * 119,
        [2.0, 1.0] * 60 + [2.0],
        [1.0, 1.0, 2.0, 1.0] * 30 + [1.0],
        [0.3, 0.7] * 80 + [0.3],
        [3.0, 1.0, 1.0, 1.0] * 20 + [3.0],
    ],
    ids=["even", "wide and narrow", "ticking", "fine rules", "thick and thin"],
)
def test_stripes_are_no_code(row):
    assert find_bar_codes(row) == []
    assert find_remains(row) is None


def test_random_stripes_are_no_code():
    chance = random.Random(7)
    for _ in range(200):
        row = [chance.choice([1.0, 1.5, 2.0, 2.6, 3.0, 4.2]) for _ in range(chance.choice([59, 67, 101]))]
        assert not any(match.is_whole for match in find_bar_codes(row)), row
        assert find_remains(row) is None, row


@pytest.mark.parametrize("number", [SEEDS, "4012345678901", "5901234123457"])
def test_what_is_left_when_a_bar_is_lost(number):
    """A bar gone, or two grown together: guards and grid are still those of the symbol."""
    row = row_of(ean_13(number))
    for place in (10, 11, 40):
        damaged = [*row[:place], row[place] + row[place + 1] + row[place + 2], *row[place + 3 :]]
        assert find_remains(damaged) == "EAN-13"


def test_what_is_left_of_a_code_128():
    row = row_of(code_128("Fernhollow 2026"))
    damaged = [*row[:30], row[30] + row[31] + row[32], *row[33:]]
    assert find_remains(damaged) == "Code 128"


@pytest.mark.parametrize(
    ("row", "uneven"),
    [
        (row_of(ean_13()), True),
        ([1.0] * 59, False),
        ([1.0, 3.0] * 20 + [1.0], False),
        ([1.0, 1.0, 2.0, 3.0] * 3, False),
        ([*row_of(ean_13())[:20], 30.0, *row_of(ean_13())[21:]], False),
    ],
    ids=["a code", "a hatching", "narrow and wide", "too few", "a wide gap"],
)
def test_uneven_stripes(row, uneven):
    assert is_uneven(row) is uneven
