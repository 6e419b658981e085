"""Finds the thin stretch of a shape that is no rectangle: a rule with a head, a frame, the fine part of a letter.

Trim space, millimetres. Walks along each outline, looks straight across the ink to the nearest edge, and keeps what it sees where
that edge faces the one it stands on. A thin stretch keeps its thickness over at least 0.5 mm and eight times its thickness,
changing by no more than a sixteenth: a point that tapers is none.
"""

from __future__ import annotations

import math

import numpy as np

from preflight.inventory.outlines import ring_area
from preflight.inventory.paint_paths import Point
from preflight.inventory.regions import Floats, edges_of

RUN_MM = 0.5
RUN_THICKNESSES = 8.0
RUN_CHANGE = 1.06
#: Nothing thicker is called thin (0.85 pt).
THIN_MM = 0.3
#: Edges face each other when their directions differ by no more than this.
FACING_SINE = math.sin(math.radians(10.0))
#: Steps along the outline: so many millimetres, at most so many of them, and so many in a stretch at least.
STEP_MM = 0.1
MOST_STEPS = 300
LEAST_STEPS = 4


def thin_run(rings: list[list[Point]], most_mm: float = THIN_MM) -> float | None:
    """The thickness in millimetres of the thinnest piece that keeps its thickness; None where there is none.

    Walks along each outline, looks straight across the ink to the nearest edge, and keeps what it sees where that edge faces
    the one it stands on.
    """
    edges = edges_of([_turned(ring, hole=index > 0) for index, ring in enumerate(rings)])
    spans = np.hypot(edges[:, 2] - edges[:, 0], edges[:, 3] - edges[:, 1])
    edges, spans = edges[spans > 0], spans[spans > 0]
    total = float(spans.sum())
    count = min(MOST_STEPS, max(24, int(total / STEP_MM)))
    step = total / count
    at = (np.arange(count) + 0.5) * step
    ends = np.cumsum(spans)
    which = np.minimum(np.searchsorted(ends, at), len(spans) - 1)
    along = (at - (ends[which] - spans[which]))[:, None]
    unit = (edges[:, 2:] - edges[:, :2]) / spans[:, None]
    stand = edges[which, :2] + unit[which] * along
    inward = np.stack([-unit[which, 1], unit[which, 0]], axis=1)
    seen = _look_across(stand, inward, unit[which], edges, unit)
    return _shortest_steady(seen, step, most_mm)


def _turned(ring: list[Point], *, hole: bool) -> list[Point]:
    """So that ink lies to the left of its edges, in the sense of (-dy, dx)."""
    return ring if (ring_area(ring) > 0) != hole else ring[::-1]


def _look_across(stand: Floats, inward: Floats, facing: Floats, edges: Floats, unit: Floats) -> Floats:
    """Distance from each point to the nearest edge straight across, infinite where that edge does not face it."""
    seen = np.full(len(stand), np.inf)
    block = max(1, 400_000 // len(edges))
    start, run = edges[:, :2], edges[:, 2:] - edges[:, :2]
    for first in range(0, len(stand), block):
        part = slice(first, first + block)
        gap = start[None, :, :] - stand[part, None, :]
        ray = inward[part, None, :]
        cross = ray[..., 0] * run[None, :, 1] - ray[..., 1] * run[None, :, 0]
        with np.errstate(divide="ignore", invalid="ignore"):
            distance = (gap[..., 0] * run[None, :, 1] - gap[..., 1] * run[None, :, 0]) / cross
            place = (gap[..., 0] * ray[..., 1] - gap[..., 1] * ray[..., 0]) / cross
        hit = (cross != 0) & (distance > 1e-6) & (place >= -1e-9) & (place <= 1 + 1e-9)
        distance = np.where(hit, distance, np.inf)
        nearest = np.argmin(distance, axis=1)
        found = distance[np.arange(len(nearest)), nearest]
        there, here = unit[nearest], facing[part]
        sine = np.abs(here[:, 0] * there[:, 1] - here[:, 1] * there[:, 0])
        against = here[:, 0] * there[:, 0] + here[:, 1] * there[:, 1] < 0
        seen[part] = np.where((sine <= FACING_SINE) & against, found, np.inf)
    return seen


def _shortest_steady(seen: Floats, step: float, most_mm: float) -> float | None:
    """The least thickness that holds over a long enough stretch of neighbouring points."""
    count = len(seen)
    thin = np.flatnonzero(seen <= most_mm)
    done = np.zeros(count, dtype=bool)
    for index in thin[np.argsort(seen[thin])].tolist():
        if done[index]:
            continue
        least = float(seen[index])
        need = max(RUN_MM, RUN_THICKNESSES * least)
        if need > count * step / 2.0:
            need = count * step * 0.3  # a shape too short for a run of its own: most of its length must be as thin
            if least * 4.0 > need:
                continue
        most = least * RUN_CHANGE
        low = high = index
        while high - low + 1 < count and least <= seen[(high + 1) % count] <= most:
            high += 1
        while high - low + 1 < count and least <= seen[(low - 1) % count] <= most:
            low -= 1
        stretch = np.arange(low, high + 1) % count
        if len(stretch) >= LEAST_STEPS and len(stretch) * step >= need:
            return float(np.median(seen[stretch]))
        done[stretch[seen[stretch] <= least * 1.01]] = True
    return None
