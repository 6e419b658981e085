"""Whether the compressed data of a used stream is whole: some damage draws on without a word.

Flate data (zlib, RFC 1950) is unpacked piece by piece and its checksum compared, nothing is kept; JPEG data must have its end marker
(ISO/IEC 10918-1, B.1.1.3: EOI); anything else is left to the drawing engine. Each stream is looked at once, however many pages
share it. A missing checksum at the very end of data that is whole loses nothing: mended, not broken.
"""

from __future__ import annotations

import zlib
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from preflight.inventory.objects import entry, name_of, object_number, one_or_more

if TYPE_CHECKING:
    from preflight.inventory.opening import Artwork

_PIECE_BYTES = 1 << 16
#: Unpacked data past this is no page content (a bomb, or a fault); what came before was whole.
_MOST_BYTES = 4 << 30


@dataclass(frozen=True)
class StreamFault:
    """What is wrong with a stream's data; ``broken`` where something is lost. No words: nothing is, but the engine complains."""

    words: str
    broken: bool = True


def stream_fault(artwork: Artwork, stream: Any) -> StreamFault | None:
    """What is wrong with a stream's data, ``None`` where nothing can be seen."""
    number = object_number(stream)
    if number is None:
        return _look(stream)
    if number not in artwork.stream_faults:
        artwork.stream_faults[number] = _look(stream)
    fault: StreamFault | None = artwork.stream_faults[number]
    return fault


def _look(stream: Any) -> StreamFault | None:
    if entry(stream, "/F") is not None:
        return None
    filters = [name_of(each) for each in one_or_more(entry(stream, "/Filter"))]
    if not filters:
        return None
    try:
        raw = memoryview(stream.get_raw_stream_buffer())
    except MemoryError:
        raise
    except Exception:
        return StreamFault("its data cannot be read")
    first = filters[0]
    if first in ("FlateDecode", "Fl"):
        return _look_at_flate(raw)
    if first in ("DCTDecode", "DCT"):
        return _look_at_jpeg(raw)
    return None


def _look_at_flate(raw: memoryview) -> StreamFault | None:
    if not len(raw):
        return StreamFault("", broken=False)
    unpacker = zlib.decompressobj()
    unpacked = 0
    try:
        for start in range(0, len(raw), _PIECE_BYTES):
            piece: Any = raw[start : start + _PIECE_BYTES]
            while piece and not unpacker.eof:
                unpacked += len(unpacker.decompress(piece, _PIECE_BYTES * 4))
                piece = unpacker.unconsumed_tail
                if unpacked > _MOST_BYTES:
                    return None
        while not unpacker.eof:
            # What the unpacker still holds back.
            rest = unpacker.decompress(b"", _PIECE_BYTES * 4)
            unpacked += len(rest)
            if not rest:
                break
    except zlib.error as fault:
        if "incorrect data check" in str(fault):
            # Everything unpacks, but not to what was packed: something in it has changed.
            return StreamFault("the checksum of a stream does not fit its data", broken=False)
        return StreamFault("its compressed data is damaged")
    if unpacker.eof:
        return None
    if _is_whole_without_checksum(raw):
        return StreamFault("the checksum of a stream is missing", broken=False)
    return StreamFault("its compressed data is cut")


def _is_whole_without_checksum(raw: memoryview) -> bool:
    """Whether the deflate data itself (RFC 1951) comes to its end: only the four bytes after it are missing."""
    unpacker = zlib.decompressobj(-zlib.MAX_WBITS)
    try:
        piece: Any = bytes(raw[2:])
        while piece and not unpacker.eof:
            unpacker.decompress(piece, _PIECE_BYTES * 4)
            piece = unpacker.unconsumed_tail
    except zlib.error:
        return False
    return unpacker.eof


def _look_at_jpeg(raw: memoryview) -> StreamFault | None:
    """Whether the end marker comes after the start of the scan; pictures inside the header have their own."""
    data = bytes(raw)
    if not data.startswith(b"\xff\xd8"):
        return StreamFault("its JPEG data has no beginning") if data.find(b"\xff\xd8", 0, 1024) < 0 else None
    place = 2
    while place + 4 <= len(data) and data[place] == 0xFF and data[place + 1] != 0xDA:
        if data[place + 1] == 0xFF:
            place += 1
            continue
        place += 2 + int.from_bytes(data[place + 2 : place + 4], "big")
    if place + 4 > len(data) or data.find(b"\xff\xd9", place) < 0:
        return StreamFault("its JPEG data is cut")
    return None
