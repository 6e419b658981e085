"""Sheet sizes compared in the orientation that fits better, and written as the trade writes them: width x height in millimetres."""

from __future__ import annotations

Size = tuple[float, float]


def upright_deviation(size: Size, other: Size) -> float:
    """The larger difference of a side, as both lie."""
    return max(abs(size[0] - other[0]), abs(size[1] - other[1]))


def deviation(size: Size, other: Size) -> float:
    """The larger difference of a side, in the orientation that fits better."""
    return upright_deviation(size, fitted(other, size))


def fitted(other: Size, size: Size) -> Size:
    """A size turned so that it fits ``size`` better."""
    turned = other[1], other[0]
    return turned if upright_deviation(size, turned) < upright_deviation(size, other) else other


def worse_side(size: Size, other: Size) -> tuple[float, float]:
    """The side that differs more, and what it is compared with, in the orientation that fits better."""
    other = fitted(other, size)
    side = 0 if abs(size[0] - other[0]) >= abs(size[1] - other[1]) else 1
    return size[side], other[side]


def size_words(size: Size) -> str:
    """``148 x 210 mm``, to a tenth of a millimetre."""
    return f"{_figure(size[0])} x {_figure(size[1])} mm"


def rounded(size: Size) -> list[float]:
    """Both sides to a hundredth, for a report."""
    return [round(size[0], 2), round(size[1], 2)]


def _figure(value: float) -> str:
    return f"{value:.1f}".removesuffix(".0")
