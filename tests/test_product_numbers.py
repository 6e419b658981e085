"""Numbers of bar codes: check digits worked by hand, and which ways of writing mean the same."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from preflight.product_numbers import (
    check_digit,
    forms_of,
    from_upc_e,
    has_right_check_digit,
    has_right_number,
    mean_the_same,
)


@pytest.mark.parametrize(
    ("digits", "expected"),
    [
        ("629104150021", 3),  # worked example of the GS1 check digit page: 6291041500213
        ("400638133393", 1),  # 4+0+3+1+3+9 = 20, 3 x (0+6+8+3+3+3) = 69, together 89: 1 is missing to 90
        ("03600029145", 2),  # the example in every textbook of UPC-A: 036000291452
        ("9638507", 4),  # and of EAN-8: 96385074
        ("1540014128876", 3),  # ITF-14 15400141288763
    ],
)
def test_check_digits(digits, expected):
    assert check_digit(digits) == expected
    assert has_right_check_digit(f"{digits}{expected}")
    assert has_right_check_digit(f"{digits}{(expected + 1) % 10}") is False


@given(st.text("0123456789", min_size=12, max_size=12), st.integers(0, 11), st.integers(1, 9))
def test_one_wrong_digit_is_always_noticed(digits, place, more):
    """Weights 1 and 3 have no factor in common with 10."""
    number = f"{digits}{check_digit(digits)}"
    wrong = f"{number[:place]}{(int(number[place]) + more) % 10}{number[place + 1 :]}"
    assert has_right_check_digit(number)
    assert has_right_check_digit(wrong) is False


@pytest.mark.parametrize(
    "text", ["", "123", "40063813339311", "FERN 39", "400638133393\u0661", "https://fernhollow.example"]
)
def test_what_is_no_number_has_no_check_digit(text):
    assert has_right_check_digit(text) in (None, False)


@pytest.mark.parametrize(
    ("short", "full"),
    [
        # The four rules of ISO/IEC 15420, 4.3: last digit 0-2, 3, 4, 5-9.
        ("01234505", "012000003455"),
        ("01234514", "012100003454"),
        ("01234531", "012300000451"),
        ("01234543", "012340000053"),
        ("01234565", "012345000065"),
    ],
)
def test_upc_e_at_full_length(short, full):
    assert from_upc_e(short) == full
    assert has_right_check_digit(full)


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("036000291452", "0036000291452"),
        ("036000291452", "00036000291452"),
        ("4006381333931", "4 006381 333931"),
        ("4006381333931", "400-6381-33393-1"),
        ("4006381333931", "(01)04006381333931"),
        ("4006381333931", "(01)04006381333931(17)261231"),
        ("01234565", "012345000065"),
        ("(01)04006381333931(10)A7", "0104006381333931" + "10A7"),
        ("https://fernhollow.example", " https://fernhollow.example "),
    ],
)
def test_one_number_in_two_ways(one, other):
    assert mean_the_same(one, other)
    assert mean_the_same(other, one)


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("4006381333931", "4006381333932"),
        ("4006381333931", "400638133393"),
        ("FERN", "Fern"),
        ("4006381333931", "#4006381333931"),
        ("12345670", "123456700"),
        ("", "0"),
    ],
)
def test_two_numbers(one, other):
    assert not mean_the_same(one, other)


@given(st.text(), st.text())
def test_any_texts_compare(one, other):
    assert mean_the_same(one, other) == mean_the_same(other, one)
    assert mean_the_same(one, one)
    assert forms_of(one)


@pytest.mark.parametrize(
    ("symbology", "text", "right"),
    [
        ("ITF", "15400141288763", True),
        ("ITF", "15400141288764", False),
        ("ITF", "123456", None),
        ("EAN-13", "4006381333931", True),
        ("Code 128", "(01)15400141288763", True),
        ("Code 128", "(01)15400141288764(10)A", False),
        ("Code 128", "15400141288764", None),
        ("QR Code", "https://fernhollow.example/15400141288764", None),
    ],
)
def test_the_number_a_code_holds(symbology, text, right):
    assert has_right_number(symbology, text) is right
