"""The glyphs of one shown text, read from the engine's memory in one piece: asking for each one's numbers costs half the trace.

How the engine lays a glyph down (``fz_text_item``: two places, an advance, glyph, letter, code) is no promise of its: whether
it holds is tried once, on the first text shown; where it does not, glyphs are asked one by one.
"""

from __future__ import annotations

import ctypes
import struct
from collections.abc import Callable, Iterable
from typing import Any

from pymupdf import mupdf as m

#: Place x and y, glyph (below 0: a further letter of the glyph before), letter.
Item = tuple[float, float, int, int]

_LAYOUT = struct.Struct("=ff4xii4x")


class ItemReader:
    """Reads the glyphs of texts; knows, from the first one on, how the engine lays them down."""

    def __init__(self) -> None:
        self._in_one_piece: bool | None = None

    def items(self, span: Any) -> Iterable[Item]:
        """Place, glyph and letter of each item of a span (``fz_text_span``), in order."""
        item = m.FzTextSpan(span).items
        if self._in_one_piece is None and span.len > 1:
            self._in_one_piece = _read(item, span.len) == _asked(item, span.len)
        return _read(item, span.len) if self._in_one_piece else _asked(item, span.len)


def _read(item: Callable[[int], Any], count: int) -> list[Item]:
    return list(_LAYOUT.iter_unpack(ctypes.string_at(int(item(0).this), _LAYOUT.size * count)))


def _asked(item: Callable[[int], Any], count: int) -> list[Item]:
    each = map(item, range(count))
    return [(one.x, one.y, one.gid, one.ucs) for one in each]
