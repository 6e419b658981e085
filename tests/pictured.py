"""Pictures drawn in code for the tests of picture computation: texture down to the pixel, enlarged by Pillow, screened, packed.

Gray, 0 to 255, rows x columns. The truth is known by construction; the benchmark has scenes and kernels of its own.
"""

from __future__ import annotations

import io
import struct

import numpy as np
from PIL import Image

Gray = np.ndarray


def texture(width: int, height: int, seed: int = 0) -> Gray:
    """Rounded blobs of all sizes and fine noise: sharp, busy, nothing repeats."""
    rng = np.random.default_rng(seed)
    frequency = np.hypot(np.fft.fftfreq(height)[:, None], np.fft.rfftfreq(width)[None, :])
    field = np.zeros((height, width))
    for size in (2, 4, 8, 16, 32):
        soft = np.fft.rfft2(rng.normal(size=(height, width))) * np.exp(-((frequency * size * 2) ** 2))
        field += size**0.5 * np.sign(np.fft.irfft2(soft, (height, width)))
    field += rng.normal(0.0, 1.0, field.shape)
    field = (field - field.mean()) / field.std()
    return np.clip(128 + 48 * field, 0, 255).astype(np.uint8)


def enlarged(picture: Gray, factor: float, kernel: Image.Resampling) -> Gray:
    height, width = picture.shape[:2]
    return np.asarray(Image.fromarray(picture).resize((round(width * factor), round(height * factor)), kernel))


def packed(picture: Gray, quality: int) -> Gray:
    data = io.BytesIO()
    Image.fromarray(picture).save(data, "JPEG", quality=quality)
    return np.asarray(Image.open(data))


def tiles_of(picture: Gray, side: int = 512) -> list[Gray]:
    """All whole tiles, as floats; of a smaller picture the whole of it."""
    height, width = picture.shape[:2]
    rows, columns = min(side, height), min(side, width)
    return [
        picture[top : top + rows, left : left + columns].astype(np.float32)
        for top in range(0, height - rows + 1, rows)
        for left in range(0, width - columns + 1, columns)
    ]


def screened(tone: Gray, ruling: float, angle_deg: float, *, over: int = 3) -> Gray:
    """Coverage (0 to 1) as round dots, ``ruling`` cycles a pixel, seen by pixels (a mean of ``over`` x ``over`` points)."""
    height, width = tone.shape
    turn = np.deg2rad(angle_deg)
    y, x = (axis.astype(np.float32) for axis in np.mgrid[0 : height * over, 0 : width * over])
    u = (x * np.cos(turn) + y * np.sin(turn)) * ruling / over
    v = (y * np.cos(turn) - x * np.sin(turn)) * ruling / over
    level = 0.5 - (np.cos(2 * np.pi * u) + np.cos(2 * np.pi * v)) / 4
    # How much of a cell lies below each level, so that the coverage comes out as asked for.
    ordered = np.sort(level.ravel()[:: max(1, level.size // 20000)])
    share = np.searchsorted(ordered, level.ravel()).reshape(level.shape) / len(ordered)
    ink = share < np.repeat(np.repeat(tone, over, axis=0), over, axis=1)
    return ink.reshape(height, over, width, over).mean(axis=(1, 3))


def slope(width: int, height: int) -> Gray:
    """Tones from light to dark with a soft wave, 0.05 to 0.9 of ink."""
    y, x = np.mgrid[0:height, 0:width]
    return 0.05 + 0.85 * np.clip(x / width + 0.15 * np.sin(y / 70.0), 0.0, 1.0)


def on_paper(ink: Gray, seed: int = 0) -> Gray:
    """Ink as a scanner sees it: neighbouring pixels mixed, noise of two levels."""
    mixed = (ink + np.roll(ink, 1, 0) + np.roll(ink, 1, 1) + np.roll(ink, (1, 1), (0, 1))) / 4
    noise = np.random.default_rng(seed).normal(0.0, 2.0, ink.shape)
    return np.clip(238 - 205 * mixed + noise, 0, 255).astype(np.uint8)


def cloth(width: int, height: int, pitch: float, turn_deg: float, seed: int = 0) -> Gray:
    """A weave as a camera sees it: threads that wander a little, under a light that falls off."""
    rng = np.random.default_rng(seed)
    y, x = (axis.astype(np.float32) for axis in np.mgrid[0:height, 0:width])
    turn = np.deg2rad(turn_deg)
    wander = [
        np.asarray(
            Image.fromarray(rng.normal(size=(height // 40, width // 40)).astype(np.float32)).resize(
                (width, height), Image.Resampling.BICUBIC
            )
        )
        for _ in "ab"
    ]
    u = (x * np.cos(turn) + y * np.sin(turn)) / pitch + 0.3 * wander[0]
    v = (y * np.cos(turn) - x * np.sin(turn)) / (1.15 * pitch) + 0.3 * wander[1]
    thread = np.cos(2 * np.pi * u) * np.cos(2 * np.pi * v)
    light = 0.5 + 0.5 * x / width
    return np.clip((130 + 60 * thread) * light + rng.normal(0, 4, x.shape), 0, 255).astype(np.uint8)


def tiff(
    width: int, height: int, pixels: bytes, *, bits: tuple = (8,), photometric: int = 5, tags: dict | None = None
) -> bytes:
    """A little TIFF by hand (TIFF 6.0): one strip, no compression."""
    entries = {256: (4, [width]), 257: (4, [height]), 258: (3, list(bits)), 259: (3, [1]), 262: (3, [photometric]), 277: (3, [len(bits)]),
               278: (4, [height]), 279: (4, [len(pixels)]), 273: (4, [8])} | (tags or {})  # fmt: skip
    extra = b""
    base = 8 + len(pixels)
    table = b""
    for tag, (kind, values) in sorted(entries.items()):
        size = {3: "H", 4: "I", 2: "B"}[kind]
        packed = struct.pack(f"<{len(values)}{size}", *values)
        if len(packed) > 4:
            place = base + len(extra)
            extra += packed + b"\0" * (len(packed) % 2)
            packed = struct.pack("<I", place)
        table += struct.pack("<HHI", tag, kind, len(values)) + packed.ljust(4, b"\0")
    return (
        b"II*\0" + struct.pack("<I", base + len(extra)) + pixels + extra + struct.pack("<H", len(entries)) + table + b"\0" * 4
    )  # fmt: skip
