"""The least work there is with a picture file: unpacks it with Pillow, and does nothing with it.

    python tests/bench/bare_picture.py FILE

A script of its own, so that it starts with nothing of the tool loaded.
"""

from __future__ import annotations

import sys

from PIL import Image


def unpack(path: str) -> int:
    """Unpacks all pixels; answers how many there are, so that the work cannot be skipped."""
    Image.MAX_IMAGE_PIXELS = None
    with Image.open(path) as image:
        image.load()
        return image.width * image.height


if __name__ == "__main__":
    print(unpack(sys.argv[1]))
