"""Kinds of pictures that are known and not read here: they are named as such, with the size their tags tell, never called damaged.

Read from the file itself, where the decoder gives up: TIFF directories (TIFF 6.0, tags 256 to 339), PSD headers, the frame header of a
JPEG (ISO/IEC 10918-1, table B.1: only Huffman-coded and arithmetic-coded pictures of 8 bits are common in print). A directory whose
numbers make no sense is damage. Sizes in pixels, and in millimetres where a resolution is tagged.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

from preflight.inventory.picture_header import PSD_COLOURS, resolution_in_resources, tiff_resolution
from preflight.units import MM_PER_INCH

_WIDTH, _HEIGHT, _BITS, _COMPRESSION, _PHOTOMETRIC, _SAMPLES = 256, 257, 258, 259, 262, 277
_STRIPS, _TILES = 273, 324
_MOST_CHANNELS, _MOST_BITS = 64, 64
_LONGEST_SIDE = 1_000_000
#: Colour models by number (TIFF 6.0 and its supplements) that need a word of their own.
_MODELS = {8: "Lab", 9: "Lab", 10: "Lab", 32803: "raw camera data", 32844: "light values", 32845: "light values"}
_JPEG_FRAMES = set(range(0xC0, 0xD0)) - {0xC4, 0xC8, 0xCC}
#: Baseline, extended, progressive; the same with arithmetic coding.
_JPEG_READ = {0xC0, 0xC1, 0xC2, 0xC9, 0xCA}
_BARE_MARKERS = {0x01, *range(0xD0, 0xD9)}


def size_words(width_px: int, height_px: int, x_ppi: float | None = None, y_ppi: float | None = None) -> str:
    """What the tags say of a picture's size, to be put behind why it is not read."""
    words = f"{width_px} x {height_px} pixels"
    if x_ppi is None or y_ppi is None:
        return words
    width, height = width_px / x_ppi * MM_PER_INCH, height_px / y_ppi * MM_PER_INCH
    return f"{words} at {min(x_ppi, y_ppi):.0f} ppi, {width:.0f} x {height:.0f} mm"


def unread_tiff(path: Path) -> str | None:
    """What makes a TIFF unusual, in words; ``None`` where its directory makes no sense."""
    from PIL import TiffImagePlugin

    try:
        with path.open("rb") as file:
            start = file.read(8)
            if start[2:3] == b"+" or start[3:4] == b"+":
                start += file.read(8)
            directory = TiffImagePlugin.ImageFileDirectory_v2(start)
            file.seek(directory.next)
            directory.load(file)
            return _tiff_words(directory, path.stat().st_size)
    except Exception:
        return None


def _tiff_words(tags: Any, file_bytes: int) -> str | None:
    width, height = (_first(tags.get(tag)) for tag in (_WIDTH, _HEIGHT))
    channels, bits, model = _first(tags.get(_SAMPLES, 1)), _first(tags.get(_BITS, 1)), _first(tags.get(_PHOTOMETRIC, 1))
    if not all(0 < side <= _LONGEST_SIDE for side in (width, height)):
        return None
    if not (0 < channels <= _MOST_CHANNELS and 0 < bits <= _MOST_BITS):
        return None
    places = _all(tags.get(_STRIPS)) or _all(tags.get(_TILES))
    if not places or max(places) >= file_bytes:
        return None
    named = f" in {_MODELS[model]}" if model in _MODELS else ""
    plural = "" if channels == 1 else "s"
    return f"TIFF with {channels} channel{plural} of {bits} bits{named}; {size_words(width, height, *tiff_resolution(tags))}"


def _all(value: Any) -> list[int]:
    return [item for item in (value if isinstance(value, tuple) else (value,)) if isinstance(item, int)]


def _first(value: Any) -> int:
    return next(iter(_all(value)), 0)


def unread_psd(path: Path) -> str | None:
    """What makes a PSD unusual, from its header; ``None`` for an ordinary one."""
    with path.open("rb") as file:
        head = file.read(26)
        if len(head) < 26:
            return None
        bits, mode = (int.from_bytes(head[place : place + 2], "big") for place in (22, 24))
        if mode in PSD_COLOURS and bits <= 8:
            return None
        height, width = (int.from_bytes(head[place : place + 4], "big") for place in (14, 18))
        file.seek(int.from_bytes(file.read(4), "big"), 1)
        resources = file.read(min(int.from_bytes(file.read(4), "big"), 1 << 20))
    what = f"PSD of {bits} bits" if mode in PSD_COLOURS else "PSD in duotone or multichannel mode"
    return f"{what}; {size_words(width, height, *resolution_in_resources(resources))}"


def unread_jpeg(path: Path) -> str | None:
    """What makes a JPEG unusual, from its frame header; ``None`` for an ordinary one, or where there is none."""
    with path.open("rb") as file:
        file.seek(2)
        while len(mark := file.read(2)) == 2 and mark[0] == 0xFF:
            marker = mark[1]
            if marker == 0xFF:
                file.seek(-1, 1)
            elif marker not in _BARE_MARKERS:
                length = int.from_bytes(file.read(2), "big")
                if marker in _JPEG_FRAMES:
                    return _jpeg_words(marker, file.read(5))
                if marker in (0xDA, 0xD9):
                    break
                file.seek(max(0, length - 2), 1)
    return None


def _jpeg_words(marker: int, frame: bytes) -> str | None:
    if len(frame) < 5:
        return None
    size = size_words(int.from_bytes(frame[3:5], "big"), int.from_bytes(frame[1:3], "big"))
    if marker not in _JPEG_READ:
        return f"JPEG without loss or in layers; {size}"
    return None if frame[0] == 8 else f"JPEG of {frame[0]} bits; {size}"
