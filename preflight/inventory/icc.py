"""What an ICC profile says about itself: its description, its colour space, its class.

Read by the layout of ICC.1:2022, 7.2 (header: class at byte 12, colour space at 16, ``acsp`` at 36) and 9.2.41 (description tag,
``desc`` of version 2 and ``mluc`` of version 4). Nothing is computed with it here.
"""

from __future__ import annotations

import hashlib
import struct
from dataclasses import dataclass

from preflight.inventory.objects import clean_text

COMPONENTS = {"GRAY": 1, "RGB ": 3, "CMYK": 4, "Lab ": 3, "XYZ ": 3, "CMY ": 3, "YCbr": 3, "HSV ": 3}
_LONGEST = 256


@dataclass(frozen=True)
class Profile:
    """``space`` such as ``CMYK`` or ``RGB`` and ``device_class`` such as ``prtr``; ``md5`` of the whole profile."""

    space: str
    components: int | None
    device_class: str
    version: str
    description: str | None
    md5: str
    bytes: int


def read_profile(data: bytes) -> Profile | None:
    """The profile's words about itself; ``None`` where the data is no ICC profile."""
    if len(data) < 132 or data[36:40] != b"acsp":
        return None
    space = data[16:20].decode("latin-1")
    components = COMPONENTS.get(space)
    if components is None and space[1:] == "CLR" and space[0] in "23456789ABCDEF":
        components = int(space[0], 16)
    return Profile(
        space=space.strip(),
        components=components,
        device_class=data[12:16].decode("latin-1").strip(),
        version=f"{data[8]}.{data[9] >> 4}",
        description=_description(data),
        md5=hashlib.md5(data, usedforsecurity=False).hexdigest(),
        bytes=len(data),
    )


def _description(data: bytes) -> str | None:
    (count,) = struct.unpack_from(">I", data, 128)
    for index in range(min(count, 200)):
        at = 132 + 12 * index
        if at + 12 > len(data):
            return None
        if data[at : at + 4] == b"desc":
            offset, size = struct.unpack_from(">II", data, at + 4)
            return _text(data[offset : offset + min(size, 100_000)])
    return None


def _text(tag: bytes) -> str | None:
    if tag[:4] == b"desc" and len(tag) >= 12:
        (length,) = struct.unpack_from(">I", tag, 8)
        return _tidy(tag[12 : 12 + min(length, _LONGEST)].decode("latin-1"))
    if tag[:4] == b"mluc" and len(tag) >= 28:
        length, offset = struct.unpack_from(">II", tag, 20)
        return _tidy(tag[offset : offset + min(length, 2 * _LONGEST)].decode("utf-16-be", "replace"))
    return None


def _tidy(text: str) -> str | None:
    return clean_text(text.partition("\0")[0].strip()) or None
