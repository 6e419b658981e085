"""Where ink that reaches the trim stops short of a wanted bleed: stretches along one edge, harmless ends left out.

Told from the ink profile of an edge (``EdgeInk``), position by position. A stop is harmless where a shape ends by itself:

* the slanted or round side of something that runs on far enough elsewhere: it is nowhere flat against the trim. A stop counts
  from ``flat_mm`` of flat end (a step of one pixel is still flat: slopes under about 10 degrees, at 3 mm), or where most of a narrower
  thing (a rule, a bar) ends flat and none of it runs on;
* a white spot in ink that mostly runs on: at least half of the rest of the way is inked;
* letters that cross the trim (where the paint list is known), and specks narrower than ``speck_mm``.

Lengths are millimetres; positions are those of the profile (0.17 mm), and a depth is exact to half of that.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

from preflight.inventory.model import EdgeInk, Painted
from preflight.units import MM_PER_PT, TOLERANCE_MM

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

    Mask = npt.NDArray[np.bool_]

#: Of a thing narrower than ``flat_mm``, this much must end flat.
_FLAT_SHARE = 0.75
#: Ink at the trim that is interrupted for this many positions is still one thing.
_BRIDGED = 2


@dataclass(frozen=True)
class EdgeRules:
    """What is too small to count along an edge."""

    flat_mm: float
    speck_mm: float


@dataclass(frozen=True)
class Stretch:
    """A stretch along an edge, from its left or top end, with the least depth that ink reaches past the trim there."""

    start_mm: float
    end_mm: float
    depth_mm: float

    @property
    def length_mm(self) -> float:
        return self.end_mm - self.start_mm


def inked_stretches(edge: EdgeInk, rules: EdgeRules) -> list[Stretch]:
    """Where ink reaches the trim, specks left out."""
    import numpy as np

    depth = np.asarray(edge.depth_mm)
    return [_stretch(edge, depth, *run) for run in _things(edge, rules)]


def short_stretches(
    edge: EdgeInk,
    wanted_mm: float,
    rules: EdgeRules,
    painted: Iterable[Painted] = (),
    trim_mm: tuple[float, float] = (0.0, 0.0),
) -> list[Stretch]:
    """Where ink reaches the trim and stops less than ``wanted_mm`` past it, harmless ends left out."""
    import numpy as np

    depth, reach = np.asarray(edge.depth_mm), np.asarray(edge.reach_mm)
    wanted = wanted_mm - TOLERANCE_MM
    short: Mask = np.asarray(edge.at_trim) & (depth < wanted)
    if edge.inked_mm:
        short &= np.asarray(edge.inked_mm) - depth < (wanted_mm - depth) / 2.0
    if not short.any():
        return []
    found = []
    letters = list(_letters(edge, painted, trim_mm))
    for start, end in _things(edge, rules):
        if not short[start:end].any() or _is_letter(start * edge.step_mm, end * edge.step_mm, letters):
            continue
        enough_mm = rules.flat_mm
        if reach[start:end].max() < wanted:
            enough_mm = min(enough_mm, _FLAT_SHARE * (end - start) * edge.step_mm)
        flat = _flat(edge, depth[start:end], enough_mm)
        for first, last in _runs(short[start:end] & flat, _BRIDGED):
            if (last - first) * edge.step_mm >= min(rules.speck_mm, enough_mm):
                found.append(_stretch(edge, depth, start + first, start + last))
    return found


def _things(edge: EdgeInk, rules: EdgeRules) -> list[tuple[int, int]]:
    import numpy as np

    runs = _runs(np.asarray(edge.at_trim, dtype=bool), _BRIDGED)
    return [(start, end) for start, end in runs if (end - start) * edge.step_mm >= rules.speck_mm]


def _flat(edge: EdgeInk, depth: npt.NDArray[np.float64], enough_mm: float) -> Mask:
    """The places that lie in a stretch of ``enough_mm`` or more that ends at their own depth, to one pixel."""
    import numpy as np

    steps = np.rint(depth / edge.step_mm).astype(int)
    flat = np.zeros(steps.size, dtype=bool)
    for step in np.unique(steps):
        for start, end in _runs(np.abs(steps - step) <= 1, 0):
            if (end - start) * edge.step_mm >= enough_mm - 1e-9:
                flat[start:end] |= steps[start:end] == step
    return flat


def _stretch(edge: EdgeInk, depth: npt.NDArray[np.float64], start: int, end: int) -> Stretch:
    import numpy as np

    at_trim = np.asarray(edge.at_trim[start:end])
    return Stretch(start * edge.step_mm, end * edge.step_mm, float(depth[start:end][at_trim].min()))


def _runs(mask: Mask, bridged: int) -> list[tuple[int, int]]:
    """Where a mask holds, as first place and end; interruptions of up to ``bridged`` places do not count."""
    import numpy as np

    ends = np.flatnonzero(np.diff(np.asarray(mask, dtype=np.int8), prepend=np.int8(0), append=np.int8(0)))
    runs: list[tuple[int, int]] = []
    for start, end in ends.reshape(-1, 2).tolist():
        if runs and start - runs[-1][1] <= bridged:
            runs[-1] = (runs[-1][0], end)
        else:
            runs.append((start, end))
    return runs


def _letters(
    edge: EdgeInk, painted: Iterable[Painted], trim_mm: tuple[float, float]
) -> Iterator[tuple[float, float, float]]:
    """Text that crosses this edge: where along the edge it lies, and how wide one letter can be there."""
    width, height = trim_mm
    for thing in painted:
        box = thing.visible_mm
        if thing.text is None or box is None or not thing.is_visible:
            continue
        crosses = {
            "left": box.x0 < -TOLERANCE_MM < box.x1,
            "right": box.x0 < width + TOLERANCE_MM < box.x1,
            "top": box.y0 < -TOLERANCE_MM < box.y1,
            "bottom": box.y0 < height + TOLERANCE_MM < box.y1,
        }[edge.edge]
        if crosses:
            along = (box.y0, box.y1) if edge.edge in ("left", "right") else (box.x0, box.x1)
            yield *along, 1.2 * thing.text.size_pt * MM_PER_PT


def _is_letter(start_mm: float, end_mm: float, letters: list[tuple[float, float, float]]) -> bool:
    return any(
        first - 0.5 <= start_mm and end_mm <= last + 0.5 and end_mm - start_mm <= letter_mm
        for first, last, letter_mm in letters
    )
