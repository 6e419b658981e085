"""Makes the large pictures that time and memory are measured on: five kinds of file, 35 megapixels each.

Synthesised leaves with grain down to the pixel, as a camera or a drum scanner would bring them at 300 ppi for a small poster. Made a
band at a time, so that making them takes no more memory than one of them.
"""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
from PIL import Image

sys.path.insert(0, str(Path(__file__).resolve().parents[2] / "demo_files"))

import fernhollow_pictures as pictures

SIZE_PX = (5000, 7000)
#: File name and what it is called, by the mode it is stored in; options as Pillow takes them.
KINDS = {
    "gray TIFF": ("gray.tif", "L", {}),
    "RGB JPEG": ("rgb.jpg", "RGB", {"quality": 92}),
    "CMYK TIFF": ("cmyk.tif", "CMYK", {"compression": "tiff_lzw"}),
    "CMYK JPEG": ("cmyk.jpg", "CMYK", {"quality": 92}),
    "RGB PNG": ("rgb.png", "RGB", {"compress_level": 6}),
}


def make_large_pictures(folder: Path, size_px: tuple[int, int] = SIZE_PX, ppi: float = 300.0) -> dict[str, Path]:
    """The five files by what they are called; those that are there already are kept."""
    folder.mkdir(parents=True, exist_ok=True)
    made = {name: folder / file for name, (file, _, _) in KINDS.items()}
    light = None
    for name, (_, mode, options) in KINDS.items():
        if made[name].exists():
            continue
        light = _scene(*size_px) if light is None else light
        _as_picture(light, mode).save(made[name], dpi=(ppi, ppi), **options)
    return made


def _scene(width_px: int, height_px: int) -> np.ndarray:
    return pictures.leaves(width_px, height_px, seed=11).astype(np.float32)


def _as_picture(light: np.ndarray, mode: str) -> Image.Image:
    if mode == "L":
        return Image.fromarray((light * 255.0).astype(np.uint8), "L")
    toned = pictures.separated if mode == "CMYK" else pictures.on_screen
    whole = Image.new(mode, light.shape[::-1])
    for top in range(0, len(light), 1000):
        whole.paste(toned(light[top : top + 1000]), (0, top))
    return whole
