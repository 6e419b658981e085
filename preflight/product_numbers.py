"""The numbers that bar codes carry: check digits, and when two ways of writing mean one number.

Check digit of GTIN-8, -12, -13 and -14: modulo 10 with weights 3 and 1 from the right (GS1 General Specifications, section 7.9). A
12-digit UPC number is the 13-digit one with a zero in front; UPC-E leaves zeros out (ISO/IEC 15420). Texts are a stranger's.
"""

from __future__ import annotations

import re

#: Lengths of numbers that end in a check digit.
_CHECKED_LENGTHS = (8, 12, 13, 14)


def check_digit(digits: str) -> int:
    """The digit that belongs behind these digits."""
    total = sum(int(digit) * (3 if place % 2 == 0 else 1) for place, digit in enumerate(reversed(digits)))
    return -total % 10


def has_right_check_digit(number: str) -> bool | None:
    """Whether a number ends in its check digit; None for what is no number of that kind."""
    if len(number) not in _CHECKED_LENGTHS or not is_digits(number):
        return None
    return check_digit(number[:-1]) == int(number[-1])


def is_digits(text: str) -> bool:
    """Digits as a bar code has them, not those of other scripts."""
    return bool(text) and text.isascii() and text.isdigit()


def from_upc_e(number: str) -> str:
    """The 12 digits that an 8-digit UPC-E number stands for."""
    system, body, check = number[0], number[1:7], number[7]
    last = body[5]
    if last in "012":
        middle = f"{body[:2]}{last}0000{body[2:5]}"
    elif last == "3":
        middle = f"{body[:3]}00000{body[3:5]}"
    elif last == "4":
        middle = f"{body[:4]}00000{body[4]}"
    else:
        middle = f"{body[:5]}0000{last}"
    return f"{system}{middle}{check}"


def gtin_in(text: str) -> str | None:
    """The 14-digit number that a GS1 element string begins with (``(01)...``), None where there is none."""
    found = re.match(r"\(01\)(\d{14})|01(\d{14})", text)
    return (found[1] or found[2]) if found else None


def forms_of(text: str) -> frozenset[str]:
    """Every way of writing that means the same as a text of a code or of a ticket; two mean one where these meet.

    Numbers go without spaces and hyphens, without zeros in front, UPC-E also at its full length; a GS1 element string also by its GTIN.
    """
    plain = text.strip()
    forms = {plain}
    digits = re.sub(r"[\s\-–]", "", plain)
    if is_digits(digits):
        forms.add(_significant(digits))
        if len(digits) == 8 and digits[0] in "01":
            full = from_upc_e(digits)
            if has_right_check_digit(full):
                forms.add(_significant(full))
    gtin = gtin_in(digits)
    if gtin is not None:
        forms.add(_significant(gtin))
        # The brackets of a readable line are not in the code itself.
        forms.add(re.sub(r"[()\x1d]", "", digits))
    return frozenset(forms)


def mean_the_same(one: str, other: str) -> bool:
    """Whether two texts are one number, or simply the same."""
    return bool(forms_of(one) & forms_of(other))


def _significant(digits: str) -> str:
    """Without zeros in front; the space, which no stripped text begins with, keeps it apart from other texts."""
    return " " + (digits.lstrip("0") or "0")


def has_right_number(symbology: str, text: str) -> bool | None:
    """Whether the number that a code holds is right in itself; None where it has no check digit.

    The digits of EAN and UPC are settled by whoever decodes them; those of a 14-digit carton code and of a GS1 element string are not.
    """
    if symbology == "ITF":
        return has_right_check_digit(text) if len(text) == 14 else None
    if symbology in ("EAN-13", "EAN-8", "UPC-A", "UPC-E"):
        return True
    gtin = gtin_in(text) if text.startswith("(01)") else None
    return has_right_check_digit(gtin) if gtin else None
