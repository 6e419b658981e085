"""Whether a JPEG holds data for all of its rows: one cut short and closed again, or of a false height, ends in rows of one colour.

Decoders fill what is missing with the last colour and keep silent. So where the last rows are of one colour, noise is put
behind the data and the picture decoded with and without it, at an eighth of its size: one that is whole never reads the noise.
Only pictures in one pass are told (baseline and extended, ISO/IEC 10918-1); one in several passes is complete in a coarse form.
"""

from __future__ import annotations

import io

import numpy as np
from numpy.typing import NDArray

_BLOCK = 8
_END = b"\xff\xd9"
_ONE_PASS = (b"\xff\xc0", b"\xff\xc1")
#: Enough for the rows that are looked at of any picture, a few bits a block.
_NOISE_BYTES = 1 << 16


def ends_in_one_colour(pixels: NDArray[np.uint8]) -> bool:
    """Whether the last row of blocks is of one colour from side to side."""
    last = pixels[-_BLOCK:]
    return bool(len(pixels) > 2 * _BLOCK and (last == last[:1, :1]).all())


def ends_early(data: bytes | memoryview) -> bool:
    """Whether a JPEG that ends in one colour does so for want of data; ``False`` where that cannot be told."""
    whole = bytes(data)
    end = whole.rfind(_END)
    if end < 0 or not any(mark in whole[:65536] for mark in _ONE_PASS):
        return False
    # 255 would begin a marker.
    noise = np.random.default_rng(0).integers(0, 255, _NOISE_BYTES, dtype=np.uint8).tobytes()
    spoilt = whole[:end].rstrip(b"\xff") + noise + _END
    try:
        return not np.array_equal(_reduced(whole), _reduced(spoilt))
    except MemoryError:
        raise
    except Exception:
        return False


def _reduced(data: bytes) -> NDArray[np.uint8]:
    from PIL import Image

    with Image.open(io.BytesIO(data), formats=["JPEG"]) as image:
        image.draft(None, (max(1, image.width // _BLOCK), max(1, image.height // _BLOCK)))
        return np.asarray(image)
