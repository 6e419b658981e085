"""Which bar code a row of bars and spaces is, told by its start, its stop and the shapes between, before anybody decodes it.

A row is a list of widths, dark and light in turn, the first and the last dark, in any unit. Found are EAN-13 (UPC-A is one), EAN-8,
UPC-E, Code 128, Code 39 and Interleaved 2 of 5, in both directions, anywhere in the row: what stands beside a symbol (a frame,
another symbol) does not hide it, however near it is. Elements may be half a module off, so that ink gain does not matter.

Source: ISO/IEC 15420 (EAN/UPC), 15417 (Code 128), 16388 (Code 39), 16390 (Interleaved 2 of 5).
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

Widths = list[float]

#: Widths of the four elements of a digit, set A; set C has the same with bars and spaces exchanged, set B is C backwards.
_SET_A = ("3211", "2221", "2122", "1411", "1132", "1231", "1114", "1312", "1213", "3112")
_A = tuple(tuple(float(sign) for sign in digit) for digit in _SET_A)
_B = tuple(tuple(reversed(digit)) for digit in _A)
#: The first digit of EAN-13, by which of the six left ones are of set B.
_FIRST_DIGIT = {
    "AAAAAA": 0, "AABABB": 1, "AABBAB": 2, "AABBBA": 3, "ABAABB": 4,
    "ABBAAB": 5, "ABBBAA": 6, "ABABAB": 7, "ABABBA": 8, "ABBABA": 9,
}  # fmt: skip
START_128 = ((2.0, 1.0, 1.0, 4.0, 1.0, 2.0), (2.0, 1.0, 1.0, 2.0, 1.0, 4.0), (2.0, 1.0, 1.0, 2.0, 3.0, 2.0))
STOP_128 = (2.0, 3.0, 3.0, 1.0, 1.0, 1.0, 2.0)
_ASTERISK = (False, True, False, False, True, False, True, False, False)
#: An element may be this much of a module off its pattern.
OFF = 0.55
#: Wide elements are 2 to 3 times as wide as narrow ones (ISO/IEC 16388, 16390): between, the line is drawn.
_WIDE_FROM = 1.6
_WIDE_TO = 3.8
#: Light beside a symbol without check digit, so that part of a longer pattern is not taken for one.
_CLEAR_MODULES = 3.0
_LEAST_PAIRS = 3


@dataclass(frozen=True, slots=True)
class BarMatch:
    """A symbol in a row: its elements ``first`` to ``last`` (end excluded), its module, and how much of it has a right shape."""

    symbology: str
    first: int
    last: int
    module: float
    #: Whether it reads from the right.
    backwards: bool
    characters: int
    sound_characters: int
    #: EAN and UPC: the digits, where every shape is right.
    digits: str | None = None

    @property
    def is_whole(self) -> bool:
        return self.sound_characters == self.characters


def find_bar_codes(widths: Widths) -> list[BarMatch]:
    """The symbols in a row, none overlapping another; those with more right shapes first."""
    count = len(widths)
    found: list[BarMatch] = []
    for backwards in (False, True):
        row = widths[::-1] if backwards else widths
        for start in range(0, count, 2):
            for match in _at(row, start):
                first, last = (count - match.last, count - match.first) if backwards else (match.first, match.last)
                found.append(
                    BarMatch(
                        match.symbology,
                        first,
                        last,
                        match.module,
                        backwards,
                        match.characters,
                        match.sound_characters,
                        match.digits,
                    )
                )
    found.sort(key=lambda match: (match.sound_characters / match.characters, match.last - match.first), reverse=True)
    kept: list[BarMatch] = []
    for match in found:
        if all(match.first >= other.last or match.last <= other.first for other in kept):
            kept.append(match)
    return kept


def _at(row: Widths, start: int) -> Iterator[BarMatch]:
    for look in _LOOKS:
        match = look(row, start)
        if match is not None:
            yield match


# --- EAN and UPC -----------------------------------------------------------------------------------------------------


def _ean_13(row: Widths, start: int) -> BarMatch | None:
    return _ean(row, start, "EAN-13", 6, 95)


def _ean_8(row: Widths, start: int) -> BarMatch | None:
    return _ean(row, start, "EAN-8", 4, 67)


def _ean(row: Widths, start: int, symbology: str, half: int, modules: int) -> BarMatch | None:
    """Guard, digits, middle guard, digits, guard; a symbol counts where at most a third of the digits are broken."""
    last = start + 11 + 8 * half
    if last > len(row):
        return None
    part = row[start:last]
    module = pitch_of(part) / (modules - 1)
    middle = 3 + 4 * half
    guards = part[:3] + part[middle : middle + 5] + part[-3:]
    if any(abs(width / module - 1.0) > OFF for width in guards):
        return None
    left = [_digit(part[3 + 4 * place : 7 + 4 * place], module, both=half == 6) for place in range(half)]
    right = [_digit(part[middle + 5 + 4 * place :][:4], module, both=False) for place in range(half)]
    sound = sum(digit is not None for digit in left + right)
    if 3 * sound < 4 * half:
        return None
    digits: str | None = None
    if sound == 2 * half:
        signs = "".join(str(digit[1]) for digit in left + right if digit)
        if half == 6:
            first = _FIRST_DIGIT.get("".join(digit[0] for digit in left if digit))
            if first is None:
                return None  # it reads the other way round
            signs = f"{first}{signs}"
        digits = signs
    return BarMatch(symbology, start, last, module, False, 2 * half, sound, digits)


def _upc_e(row: Widths, start: int) -> BarMatch | None:
    """Guard, six digits, a guard of six elements; the sets of the digits hold the check digit, so all must be right."""
    last = start + 33
    if last > len(row):
        return None
    part = row[start:last]
    module = pitch_of(part) / 50.0
    if any(abs(width / module - 1.0) > OFF for width in part[:3] + part[-6:]):
        return None
    found = [_digit(part[3 + 4 * place : 7 + 4 * place], module, both=True) for place in range(6)]
    sets = "".join(digit[0] for digit in found if digit)
    if len(sets) < 6 or sets.count("B") != 3 or not _is_clear(row, start, last, module):
        return None
    return BarMatch("UPC-E", start, last, module, False, 6, 6)


def _digit(part: Widths, module: float, *, both: bool) -> tuple[str, int] | None:
    """The digit that four elements show, with its set: seven modules wide, nearest in shape."""
    whole = sum(part) / module
    if abs(whole - 7.0) > 0.8:
        return None
    one, two, three, four = (width / module * 7.0 / whole for width in part)
    best, answer = 2.2, None
    for name, shapes in (("A", _A), ("B", _B)) if both else (("A", _A),):
        for digit, shape in enumerate(shapes):
            # Sums of neighbours do not change with ink gain; the elements themselves are held looser.
            off = abs(one + two - shape[0] - shape[1]) + abs(two + three - shape[1] - shape[2])
            off += 0.5 * (abs(one - shape[0]) + abs(four - shape[3]))
            if off < best and max(map(_apart, (one, two, three, four), shape)) < 0.8:
                best, answer = off, (name, digit)
    return answer


def _apart(one: float, other: float) -> float:
    return abs(one - other)


# --- Code 128 --------------------------------------------------------------------------------------------------------


def _code_128(row: Widths, start: int) -> BarMatch | None:
    """Start, characters of eleven modules in three bars, stop."""
    if start + 19 > len(row):
        return None
    module = sum(row[start : start + 6]) / 11.0
    if not any(is_like(row[start : start + 6], shape, module) for shape in START_128):
        return None
    place, characters, sound = start + 6, 1, 1
    while place + 7 <= len(row):
        part = row[place : place + 7]
        if is_like(part, STOP_128, sum(part) / 13.0) and characters >= 3:
            module = pitch_of(row[start : place + 7]) / (11 * characters + 11)
            return BarMatch("Code 128", start, place + 7, module, False, characters, sound)
        whole = sum(part[:6]) / module
        if abs(whole - 11.0) > 1.5 or min(part[:6]) < 0.3 * module or max(part[:6]) > 4.7 * module:
            return None
        sound += abs(whole - 11.0) <= 0.7
        characters += 1
        place += 6
    return None


def is_like(part: Widths, shape: tuple[float, ...], module: float) -> bool:
    return all(abs(width / module - wanted) <= OFF for width, wanted in zip(part, shape, strict=True))


# --- two widths ------------------------------------------------------------------------------------------------------


def _code_39(row: Widths, start: int) -> BarMatch | None:
    """An asterisk, characters of nine elements of which three are wide, an asterisk."""
    narrow = _narrow_of(row, start, _ASTERISK)
    if narrow is None:
        return None
    place, characters, sound = start, 0, 0
    while place + 9 <= len(row):
        part = row[place : place + 9]
        wide = _wide(part, narrow)
        if wide is None:
            return None
        characters += 1
        sound += sum(wide) == 3
        if characters >= 3 and tuple(wide) == _ASTERISK:
            module = _narrow_mean(row[start : place + 9], narrow)
            return BarMatch("Code 39", start, place + 9, module, False, characters, sound)
        if place + 9 < len(row) and not 0.4 * narrow <= row[place + 9] <= 5.5 * narrow:
            return None
        place += 10
    return None


def _interleaved(row: Widths, start: int) -> BarMatch | None:
    """Four narrow elements, pairs of digits in five bars and five spaces of which two are wide, then wide, narrow, narrow."""
    if start + 7 + 10 * _LEAST_PAIRS > len(row):
        return None
    narrow = sum(row[start : start + 4]) / 4.0
    if any(abs(width / narrow - 1.0) > 0.5 for width in row[start : start + 4]):
        return None
    place, pairs = start + 4, 0
    # The end is the last place that looks like it: a pair of digits may begin like a stop, its wide space like the margin.
    ended: BarMatch | None = None
    while place + 3 <= len(row):
        ends = pairs >= _LEAST_PAIRS and _wide(row[place : place + 3], narrow) == [True, False, False]
        if ends and _is_clear(row, start, place + 3, narrow):
            module = _narrow_mean(row[start : place + 3], narrow)
            ended = BarMatch("ITF", start, place + 3, module, False, 2 * pairs, 2 * pairs)
        wide = _wide(row[place : place + 10], narrow)
        if wide is None or len(wide) < 10 or sum(wide[::2]) != 2 or sum(wide[1::2]) != 2:
            break
        place, pairs = place + 10, pairs + 1
    return ended


def _narrow_of(row: Widths, start: int, shape: tuple[bool, ...]) -> float | None:
    """The narrow width of a pattern of narrow and wide elements; None where the row does not show it."""
    part = row[start : start + len(shape)]
    if len(part) < len(shape):
        return None
    thin = [width for width, wide in zip(part, shape, strict=True) if not wide]
    thick = [width for width, wide in zip(part, shape, strict=True) if wide]
    narrow = sum(thin) / len(thin)
    if max(thin) > 1.5 * narrow or min(thick) < _WIDE_FROM * narrow or max(thick) > _WIDE_TO * narrow:
        return None
    return narrow


def _wide(part: Widths, narrow: float) -> list[bool] | None:
    """Which elements are wide; None where one is neither."""
    if any(not 0.4 * narrow <= width <= _WIDE_TO * narrow for width in part):
        return None
    return [width >= _WIDE_FROM * narrow for width in part]


def _narrow_mean(part: Widths, narrow: float) -> float:
    """The module: the mean of narrow bars and narrow spaces, half of each, so that ink gain cancels out.

    Where wide elements are 2, 2.25 ... 3 times as wide, as they are made, the whole width tells it better than single elements.
    """
    means = []
    for elements in (part[::2], part[1::2]):
        for wide in (False, True):
            kind = [width for width in elements if (width >= _WIDE_FROM * narrow) == wide]
            if not kind:
                return narrow
            means.append(sum(kind) / len(kind))
    module, wider = (means[0] + means[2]) / 2.0, (means[1] + means[3]) / 2.0
    ratio = round(4.0 * wider / module) / 4.0
    if abs(wider / module - ratio) > 0.07:
        return module
    wide_count = sum(width >= _WIDE_FROM * narrow for width in part)
    # Bars are one more than spaces: the gain of the last one is left out with it.
    gain = (means[0] - means[2]) / 2.0
    return (sum(part) - gain) / (len(part) - wide_count + ratio * wide_count)


# --- for all ---------------------------------------------------------------------------------------------------------


def pitch_of(part: Widths) -> float:
    """From the left side of the first bar to the left side of the last: ink gain cancels out."""
    return sum(part[:-1])


def _is_clear(row: Widths, start: int, last: int, module: float) -> bool:
    before = row[start - 1] if start else _CLEAR_MODULES * module
    after = row[last] if last < len(row) else _CLEAR_MODULES * module
    return min(before, after) >= _CLEAR_MODULES * module


_LOOKS: tuple[Callable[[Widths, int], BarMatch | None], ...] = (
    _ean_13,
    _ean_8,
    _upc_e,
    _code_128,
    _code_39,
    _interleaved,
)
