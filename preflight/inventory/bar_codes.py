"""Bar codes of one dimension on a finely drawn picture of the plates: which they are, how wide a module is, how far they are clear.

Several rows across the bars are read, each the majority of some rows of pixels. A symbol is known by its start, stop and shapes
(``bar_patterns``), so one whose quiet zone is cut is found like any other. The module is measured over the whole symbol, the
quiet zone along the full height of the bars, from the outermost bar to the next dark thing. Units are pixels; pictures are
reflectances from 0 (dark) to 1, turned so that the bars stand upright.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from preflight.inventory.bar_patterns import BarMatch, find_bar_codes
from preflight.inventory.bar_remains import find_remains, has_digits, is_uneven
from preflight.inventory.fine_view import LEAST_CONTRAST

Light = npt.NDArray[np.float32]
Dark = npt.NDArray[np.bool_]

#: Rows are read at these parts of the height, each the majority of pixels within some distance up and down.
_BANDS = (0.5, 0.25, 0.75, 0.1, 0.9)
_BAND_MM = 0.15
#: A row belongs to the bars as long as so much of it is like the row that was read.
_ALIKE = 0.88
#: Rows with more edges than this are no bars.
_MOST_RUNS = 1500
#: Widths of a code go from one module to two and more.
_EVEN_TO = 1.4
#: A symbol is looked for across so many wide gaps.
_MOST_GAPS = 2
#: Stripes that may be a bar code of any kind, in pixels too coarse to tell.
ANY_KIND = "bar code"


@dataclass(frozen=True)
class Bars:
    """One symbol. Columns at ``row``; each row up or down they are ``slant`` farther right. ``clear``: left and right."""

    symbology: str
    match: BarMatch | None
    row: int
    left: float
    right: float
    top: int
    bottom: int
    slant: float
    module: float
    clear: tuple[float, float]
    threshold: float
    #: Columns in the middle of each bar and of each space, at ``row``.
    bars: tuple[int, ...]
    spaces: tuple[int, ...]
    #: The rows that were read, dark and light, one for each place where the symbol was found.
    profiles: tuple[Dark, ...]

    @property
    def is_backwards(self) -> bool:
        return self.match is not None and self.match.backwards


@dataclass(frozen=True)
class _Row:
    """One row read: where it lies, the edges between dark and light, the first of them a bar's left side."""

    row: int
    dark: Dark
    edges: npt.NDArray[Any]

    @property
    def widths(self) -> list[float]:
        return [float(width) for width in np.diff(self.edges)]


def threshold_of(light: Light) -> float | None:
    """The tone between dark and light; None where all is one tone."""
    sample = light[:: max(1, light.shape[0] // 200), :: max(1, light.shape[1] // 400)]
    low, high = float(sample.min()), float(sample.max())
    if high - low < LEAST_CONTRAST:
        return None
    middle = (low + high) / 2.0
    for _ in range(8):
        dark = sample < middle
        if dark.all() or not dark.any():
            break
        settled = (float(sample[dark].mean()) + float(sample[~dark].mean())) / 2.0
        if abs(settled - middle) < 0.002:
            break
        middle = settled
    return middle


def find_bars(
    light: Light, place: tuple[int, int, int, int], pixels_per_mm: float, limits: tuple[float, float], tried: set[bytes]
) -> list[Bars]:
    """The symbols that cross a place (first row, end row, first column, end column).

    ``limits`` are the columns beyond which nothing is clear any more (the trim). ``tried`` remembers rows that were read
    in vain, so that the same pattern on another plate is not read again.
    """
    threshold = threshold_of(light[place[0] : place[1], place[2] : place[3]])
    if threshold is None:
        return []
    c0, c1 = place[2:]
    dark = light < threshold
    read: list[tuple[_Row, list[BarMatch]]] = []
    for row in _rows_of(dark, place, pixels_per_mm):
        known = row.dark.tobytes()
        if known in tried or _is_even(row, c0, c1):
            continue
        matches = [match for match in find_bar_codes(row.widths) if _crosses(row, match, c0, c1)]
        if not matches:
            tried.add(known)
        read.append((row, matches))
    found: list[Bars] = []
    ranked = sorted(read, key=lambda item: max((_soundness(match) for match in item[1]), default=0.0), reverse=True)
    for row, matches in ranked:
        for match in matches:
            left, right = float(row.edges[match.first]), float(row.edges[match.last])
            if any(_holds(other, row.row, left, right) for other in found):
                continue
            others = [(other, each) for other, group in read for each in group if _is_same(row, match, other, each)]
            found.append(_measured(dark, threshold, row, match, others, limits))
    if not found:
        found = _remains_of([row for row, _ in read], dark, threshold, (c0, c1), limits, pixels_per_mm)
    return found


def find_damaged(
    light: Light, place: tuple[int, int, int, int], pixels_per_mm: float, limits: tuple[float, float]
) -> list[Bars]:
    """What is left of a symbol at a place where something was read that came to nothing: part of its bars may pass for another's."""
    threshold = threshold_of(light[place[0] : place[1], place[2] : place[3]])
    if threshold is None:
        return []
    dark = light < threshold
    rows = [row for row in _rows_of(dark, place, pixels_per_mm) if not _is_even(row, *place[2:])]
    return _remains_of(rows, dark, threshold, place[2:], limits, pixels_per_mm)


def _rows_of(dark: Dark, place: tuple[int, int, int, int], pixels_per_mm: float) -> Iterator[_Row]:
    """The rows of a place that are read."""
    half = max(1, round(_BAND_MM * pixels_per_mm))
    for part in _BANDS:
        at = round(place[0] + part * (place[1] - 1 - place[0]))
        row = _read_row(dark, min(max(at, half), dark.shape[0] - half - 1), half)
        if row is not None and len(row.edges) <= _MOST_RUNS:
            yield row


def _remains_of(
    rows: list[_Row],
    dark: Dark,
    threshold: float,
    columns: tuple[int, int],
    limits: tuple[float, float],
    pixels_per_mm: float,
) -> list[Bars]:
    return [bars for row in rows[:3] for bars in _remains(dark, threshold, row, columns, limits, pixels_per_mm)][:1]


def _read_row(dark: Dark, row: int, half: int) -> _Row | None:
    band = dark[row - half : row + half + 1]
    if not band.size:
        return None
    line = band.mean(axis=0) >= 0.5
    fenced = np.concatenate(([False], line, [False]))
    edges = np.flatnonzero(fenced[1:] != fenced[:-1])
    return _Row(row, line, edges) if edges.size >= 6 else None


def _is_even(row: _Row, c0: int, c1: int) -> bool:
    """Whether all bars, or all spaces, of a place are equally wide: a hatching, no code."""
    inside = np.flatnonzero((row.edges[:-1] >= c0) & (row.edges[1:] <= c1))
    if inside.size < 6:
        return True
    widths = np.diff(row.edges)
    for part in (inside[inside % 2 == 0], inside[inside % 2 == 1]):
        low, high = np.percentile(widths[part], (15, 85))
        if high <= _EVEN_TO * low:
            return True
    return False


def _crosses(row: _Row, match: BarMatch, c0: int, c1: int) -> bool:
    left, right = int(row.edges[match.first]), int(row.edges[match.last])
    return min(right, c1) - max(left, c0) > 0.3 * (right - left)


def _holds(bars: Bars, row: int, left: float, right: float) -> bool:
    return bars.top <= row < bars.bottom and min(right, bars.right) - max(left, bars.left) > 0.3 * (right - left)


def _soundness(match: BarMatch) -> float:
    return match.sound_characters / match.characters


def _is_same(row: _Row, match: BarMatch, other: _Row, each: BarMatch) -> bool:
    """Whether two rows cross the same symbol: the same bars in nearly the same place."""
    if match.symbology != each.symbology or match.last - match.first != each.last - each.first:
        return False
    one, two = row.edges[match.first : match.last + 1], other.edges[each.first : each.last + 1]
    if abs(float(one[0] - two[0])) >= 0.25 * float(one[-1] - one[0]):
        return False
    return bool((np.abs(np.diff(one) - np.diff(two)) <= max(2.0, 0.4 * match.module)).all())


def _measured(
    dark: Dark,
    threshold: float,
    row: _Row,
    match: BarMatch,
    others: list[tuple[_Row, BarMatch]],
    limits: tuple[float, float],
) -> Bars:
    left, right = int(row.edges[match.first]), int(row.edges[match.last])
    slant = _slant([(other.row, float(other.edges[each.first])) for other, each in others])
    top, bottom, slant = _height(dark, row, left, right, slant)
    edges = row.edges[match.first : match.last + 1]
    middles = ((edges[:-1] + edges[1:]) // 2).tolist()
    module = float(np.median([each.module for _, each in others])) if others else match.module
    return Bars(
        symbology=match.symbology,
        match=match,
        row=row.row,
        left=left,
        right=right,
        top=top,
        bottom=bottom,
        slant=slant,
        module=module,
        clear=_clear(dark, (row.row, left, right, top, bottom, slant), limits),
        threshold=threshold,
        bars=tuple(middles[::2]),
        spaces=tuple(middles[1::2]),
        profiles=tuple(
            other.dark[int(other.edges[each.first]) : int(other.edges[each.last])] for other, each in others[:5]
        ),
    )


def _slant(places: list[tuple[int, float]]) -> float:
    """How far a symbol leans, in columns a row."""
    if len(places) < 2:
        return 0.0
    (first, left), (last, right) = min(places), max(places)
    return (right - left) / (last - first) if last > first else 0.0


def _height(dark: Dark, row: _Row, left: int, right: int, slant: float) -> tuple[int, int, float]:
    """The first and the end row of the bars: rows like the one that was read; and how far the symbol leans all the way."""
    wanted = row.dark[left:right]

    def alike(at: int, shift: int) -> float:
        start = left + shift
        if start < 0 or start + wanted.size > dark.shape[1]:
            return 0.0
        return float((dark[at, start : start + wanted.size] == wanted).mean())

    def follow(step: int) -> tuple[int, int]:
        """The last row that is alike, and how far it is shifted: what is known of the lean is off by some pixels in the end."""
        at, off = row.row, 0
        while 0 <= at + step < dark.shape[0]:
            shift = round(slant * (at + step - row.row))
            best = max((off, off - 1, off + 1), key=lambda more: alike(at + step, shift + more))
            if alike(at + step, shift + best) < _ALIKE:
                break
            at, off = at + step, best
        return at, round(slant * (at - row.row)) + off

    (top, above), (bottom, below) = follow(-1), follow(1)
    far = bottom - top
    return top, bottom + 1, (below - above) / far if far > len(_BANDS) else slant


def _clear(
    dark: Dark, symbol: tuple[int, int, int, int, int, float], limits: tuple[float, float]
) -> tuple[float, float]:
    """How far it is light to the left and to the right of the bars, at the row where it is least."""
    row, left, right, top, bottom, slant = symbol
    inset = (bottom - top) // 20
    rows = np.arange(top + inset, max(bottom - inset, top + inset + 1))
    shift = np.rint(slant * (rows - row)).astype(int)
    # The outermost edges may be ragged by a pixel or two: what is dark there belongs to the bar.
    before = _until_dark(dark[rows][:, ::-1], dark.shape[1] - (left + shift))
    after = _until_dark(dark[rows], right + shift)
    least = max(1, rows.size // 100)
    return (
        float(min(np.partition(before, least)[least] if before.size > least else before.min(), left - limits[0])),
        float(min(np.partition(after, least)[least] if after.size > least else after.min(), limits[1] - right)),
    )


def _until_dark(dark: Dark, start: npt.NDArray[Any]) -> npt.NDArray[Any]:
    """For each row: light pixels from a column on until the next dark one, or the end."""
    columns = dark.shape[1]
    edge = 2
    places = np.arange(columns)[None, :]
    beyond = dark & (places >= start[:, None] + edge)
    first = np.where(beyond.any(axis=1), beyond.argmax(axis=1), columns)
    light: npt.NDArray[Any] = np.maximum(0, first - start)
    return light


def _remains(
    dark: Dark,
    threshold: float,
    row: _Row,
    columns: tuple[int, int],
    limits: tuple[float, float],
    pixels_per_mm: float,
) -> list[Bars]:
    """A damaged symbol, from one wide gap to the next."""
    inside = [index for index in range(0, len(row.edges) - 1, 2) if columns[0] <= row.edges[index] < columns[1]]
    if len(inside) < 6:
        return []
    widths = row.widths
    thin = sorted(widths[inside[0] : inside[-1] + 1])
    gap = 7.0 * thin[len(thin) // 10]
    groups: list[list[int]] = [[inside[0]]]
    for index in inside[1:]:
        if widths[index - 1] > gap:
            groups.append([])
        groups[-1].append(index)
    found = []
    for group in [*groups, *_over_gaps(row, gap, columns)]:
        part = widths[group[0] : group[-1] + 1]
        left, right = int(row.edges[group[0]]), int(row.edges[group[-1] + 1])
        symbology = find_remains(part)
        if symbology is None and not is_uneven(part):
            continue
        top, bottom, _ = _height(dark, row, left, right, 0.0)
        if symbology is None:
            if not has_digits(dark, (left, right), (top, bottom), pixels_per_mm):
                continue
            symbology = ANY_KIND
        edges = row.edges[group[0] : group[-1] + 2]
        middles = ((edges[:-1] + edges[1:]) // 2).tolist()
        modules = {"EAN-13": 95, "EAN-8": 67}.get(symbology)
        module = sum(part) / modules if modules else sum(part[:6]) / 11.0
        found.append(
            Bars(
                symbology=symbology,
                match=None,
                row=row.row,
                left=left,
                right=right,
                top=top,
                bottom=bottom,
                slant=0.0,
                module=module,
                clear=_clear(dark, (row.row, left, right, top, bottom, 0.0), limits),
                threshold=threshold,
                bars=tuple(middles[::2]),
                spaces=tuple(middles[1::2]),
                profiles=(row.dark[left:right],),
            )
        )
    return found


def _over_gaps(row: _Row, gap: float, columns: tuple[int, int]) -> list[list[int]]:
    """Groups of bars with wide gaps in them that show both ends of a symbol: something light lies over its bars.

    A short end is no place of its own, so the whole row is looked through.
    """
    widths = row.widths
    groups: list[list[int]] = [[0]]
    for index in range(2, len(widths), 2):
        if widths[index - 1] > gap:
            groups.append([])
        groups[-1].append(index)
    found = []
    spans = ((first, first + more) for first in range(len(groups)) for more in range(1, _MOST_GAPS + 1))
    for first, last in spans:
        if last >= len(groups):
            continue
        joined = [index for group in groups[first : last + 1] for index in group]
        left, right = int(row.edges[joined[0]]), int(row.edges[joined[-1] + 1])
        crosses = min(right, columns[1]) - max(left, columns[0]) > 0.3 * (right - left)
        if crosses and find_remains(widths[joined[0] : joined[-1] + 1]):
            found.append(joined)
    return found
