"""Bar and matrix codes drawn in code for test artwork: their modules known, in any size, place and way of drawing.

EAN and UPC bars come from the code tables of ISO/IEC 15420, written here anew; the other symbologies from the libraries
python-barcode (Code 128, Code 39, ITF) and segno (QR), so that neither the tool's own tables nor its decoder are their judge.
Lengths in millimetres from the trim's lower left corner.
"""

from __future__ import annotations

from dataclasses import dataclass

import barcode
import numpy as np
import segno
from artwork import mm

_L = ("0001101", "0011001", "0010011", "0111101", "0100011", "0110001", "0101111", "0111011", "0110111", "0001011")
_R = tuple(code.translate(str.maketrans("01", "10")) for code in _L)
_G = tuple(code[::-1] for code in _R)
_PARITY = ("LLLLLL", "LLGLGG", "LLGGLG", "LLGGGL", "LGLLGG", "LGGLLG", "LGGGLL", "LGLGLG", "LGLGGL", "LGGLGL")
_UPC_E = ("GGGLLL", "GGLGLL", "GGLLGL", "GGLLLG", "GLGGLL", "GLLGGL", "GLLLGG", "GLGLGL", "GLGLLG", "GLLGLG")

#: A number with its right check digit (modulo 10, weights 1 and 3).
SEEDS = "4006381333931"


@dataclass(frozen=True)
class Symbol:
    """Rows of modules, dark where True; a bar code has one row, which is as high as it is drawn."""

    rows: tuple[tuple[bool, ...], ...]

    @property
    def across(self) -> int:
        return len(self.rows[0])

    def pixels(self, scale: int, height: int = 1, quiet: int = 0) -> np.ndarray:
        """Dark pixels, ``scale`` a module; ``height`` pixels for the row of a bar code; ``quiet`` modules of light around."""
        grid = np.array(self.rows, dtype=bool)
        down = height if len(self.rows) == 1 else scale
        big = np.kron(grid, np.ones((down, scale), dtype=bool))
        return np.pad(big, ((0 if len(self.rows) == 1 else quiet * scale,) * 2, (quiet * scale,) * 2))


def _row(modules: str) -> Symbol:
    return Symbol((tuple(sign == "1" for sign in modules),))


def ean_13(number: str = SEEDS) -> Symbol:
    """95 modules, whatever the check digit."""
    left = "".join(
        (_L if kind == "L" else _G)[int(digit)]
        for digit, kind in zip(number[1:7], _PARITY[int(number[0])], strict=True)
    )
    return _row("101" + left + "01010" + "".join(_R[int(digit)] for digit in number[7:]) + "101")


def ean_8(number: str = "96385074") -> Symbol:
    """67 modules."""
    left, right = "".join(_L[int(digit)] for digit in number[:4]), "".join(_R[int(digit)] for digit in number[4:])
    return _row("101" + left + "01010" + right + "101")


def upc_e(number: str = "01234565") -> Symbol:
    """51 modules."""
    sets = _UPC_E[int(number[-1])]
    digits = "".join((_L if kind == "L" else _G)[int(digit)] for digit, kind in zip(number[1:7], sets, strict=True))
    return _row("101" + digits + "010101")


def code_128(text: str = "Fern-2026") -> Symbol:
    return _row("".join(barcode.Code128(text).build()))


def code_39(text: str = "FERN 39") -> Symbol:
    return _row("".join(barcode.Code39(text, add_checksum=False).build()))


def itf(number: str = "15400141288763", wide: int = 3) -> Symbol:
    """Interleaved 2 of 5: five bars and five spaces hold two digits (ISO/IEC 16390), wide elements ``wide`` modules."""
    digits = ("00110", "10001", "01001", "11000", "00101", "10100", "01100", "00011", "10010", "01010")
    parts = ["1010"]
    for first, second in zip(number[::2], number[1::2], strict=True):
        for bar, space in zip(digits[int(first)], digits[int(second)], strict=True):
            parts.append("1" * (wide if bar == "1" else 1) + "0" * (wide if space == "1" else 1))
    return _row("".join([*parts, "1" * wide, "01"]))


def qr(text: str = "https://fernhollow.example/seeds", version: int | None = None, **how) -> Symbol:
    made = segno.make(text, version=version, micro=False, **how)
    return Symbol(tuple(tuple(bool(module) for module in row) for row in made.matrix))


def data_matrix(text: str = "FERN 2026") -> Symbol:
    """From the decoder's own library, which alone makes them here."""
    import zxingcpp

    made = zxingcpp.create_barcode(text, zxingcpp.BarcodeFormat.DataMatrix)
    grid = np.array(made.to_image(scale=1)) < 128
    ys, xs = np.flatnonzero(grid.any(axis=1)), np.flatnonzero(grid.any(axis=0))
    grid = grid[ys[0] : ys[-1] + 1, xs[0] : xs[-1] + 1]
    return Symbol(tuple(tuple(bool(module) for module in row) for row in grid))


def drawn(
    symbol: Symbol, x_mm: float, y_mm: float, module_mm: float, height_mm: float = 20.0, colour: str = "0 0 0 1 k"
) -> str:
    """Bars or squares as filled rectangles in one path; lower left corner given."""
    return f"{colour} {' '.join(rectangles(symbol, x_mm, y_mm, module_mm, height_mm))} f\n"


def rectangles(symbol: Symbol, x_mm: float, y_mm: float, module_mm: float, height_mm: float = 20.0) -> list[str]:
    """One rectangle for each run of dark modules in a row."""
    count = len(symbol.rows)
    high = height_mm if count == 1 else module_mm
    result = []
    for down, row in enumerate(symbol.rows):
        bottom = y_mm + (count - 1 - down) * high
        start = None
        for place, dark in enumerate([*row, False]):
            if dark and start is None:
                start = place
            elif not dark and start is not None:
                result.append(
                    f"{mm(x_mm + start * module_mm)} {mm(bottom)} {mm((place - start) * module_mm)} {mm(high)} re"
                )
                start = None
    return result


def width_mm(symbol: Symbol, module_mm: float) -> float:
    return symbol.across * module_mm
