"""Scenes with known truth for the picture benchmark: drawn ones, photographs that packages ship, and what is done to them.

Everything is gray, 0 to 255, rows x columns. Kernels and screens here are written out for the benchmark alone, so that it holds the
code against other arithmetic than its own tests do.
"""

from __future__ import annotations

import importlib.util
import io
from collections.abc import Callable
from pathlib import Path

import numpy as np
from PIL import Image

Gray = np.ndarray


# --- drawn scenes ------------------------------------------------------------------------------------------------------


def foliage(rng: np.random.Generator, height: int, width: int) -> Gray:
    """Overlapping leaves of all sizes (a dead-leaves picture), with grain: has detail down to the pixel."""
    field = np.full((height, width), 128.0)
    y, x = np.mgrid[0:height, 0:width]
    for _ in range(420):
        size = 3.0 / (rng.random() ** 0.7 + 0.02)
        cx, cy, turn, slim = rng.uniform(0, width), rng.uniform(0, height), rng.uniform(0, np.pi), rng.uniform(0.3, 1.0)
        x0, x1 = int(max(0, cx - size)), int(min(width, cx + size + 1))
        y0, y1 = int(max(0, cy - size)), int(min(height, cy + size + 1))
        if x1 <= x0 or y1 <= y0:
            continue
        u, v = x[y0:y1, x0:x1] - cx, y[y0:y1, x0:x1] - cy
        a, b = u * np.cos(turn) + v * np.sin(turn), (v * np.cos(turn) - u * np.sin(turn)) / slim
        inside = a * a + b * b < size * size
        field[y0:y1, x0:x1][inside] = rng.uniform(20, 235) + 0.6 * a[inside]
    return np.clip(field + _grain(rng, (height, width), 6.0), 0, 255)


def gravel(rng: np.random.Generator, height: int, width: int) -> Gray:
    """Noise with the falling spectrum of nature (amplitude 1/f), lit from one side."""
    fy, fx = np.fft.fftfreq(height)[:, None], np.fft.rfftfreq(width)[None, :]
    falling = 1.0 / np.maximum(np.hypot(fx, fy), 1.0 / max(height, width)) ** rng.uniform(0.9, 1.15)
    field = np.fft.irfft2(np.fft.rfft2(rng.normal(size=(height, width))) * falling, (height, width))
    field = field / field.std() * rng.uniform(35, 50)
    return np.clip(128 + field + np.linspace(-25, 25, width)[None, :], 0, 255)


def text_and_edges(rng: np.random.Generator, height: int, width: int) -> Gray:
    """Slanted bars, rings and speckle, sharp to the pixel."""
    field = np.full((height, width), float(rng.uniform(170, 230)))
    y, x = np.mgrid[0:height, 0:width]
    for _ in range(90):
        turn, at, wide = rng.uniform(0, np.pi), rng.uniform(-1, 2) * width, rng.uniform(1, 9)
        along = x * np.cos(turn) + y * np.sin(turn)
        part = np.abs(along - at) < wide
        part &= np.abs(y * np.cos(turn) - x * np.sin(turn) - rng.uniform(-1, 1) * height) < rng.uniform(10, 120)
        field[part] = rng.uniform(0, 255)
    return np.clip(field + _grain(rng, (height, width), 9.0), 0, 255)


SCENES: tuple[Callable[[np.random.Generator, int, int], Gray], ...] = (foliage, gravel, text_and_edges)


def sky(rng: np.random.Generator, height: int, width: int) -> Gray:
    """A gradient with the least of noise: nothing to tell a resolution from."""
    y, x = np.mgrid[0:height, 0:width]
    return np.clip(200 - 60 * y / height + 10 * np.sin(x / width * 3) + _grain(rng, (height, width), 0.4), 0, 255)


def weave(rng: np.random.Generator, height: int, width: int) -> Gray:
    """Cloth: warp over weft with thread-wise changes of place and light, as a camera sees it, level or turned."""
    turn = rng.uniform(-0.4, 0.4)
    y, x = np.mgrid[0:height, 0:width].astype(float)
    across, along = x * np.cos(turn) + y * np.sin(turn), y * np.cos(turn) - x * np.sin(turn)
    pitch = rng.uniform(5.0, 9.0)
    across += _smooth(rng, (height, width), 25) * pitch * 0.5
    along = along * rng.uniform(1.05, 1.25) + _smooth(rng, (height, width), 25) * pitch * 0.5
    over = np.sign(np.sin(np.pi * across / pitch) * np.sin(np.pi * along / pitch))
    thread = np.where(over > 0, np.cos(np.pi * (across / pitch % 1 - 0.5)), np.cos(np.pi * (along / pitch % 1 - 0.5)))
    light = 1.0 + 0.4 * _smooth(rng, (height, width), 90)
    return np.clip((60 + 110 * thread) * light + _grain(rng, (height, width), 5.0), 0, 255)


def fence(rng: np.random.Generator, height: int, width: int) -> Gray:
    """Pickets before a hedge, a little smaller towards one side."""
    ground = foliage(rng, height, width) * 0.5
    x = np.arange(width) * (1.0 + np.arange(width) / width * rng.uniform(0.1, 0.3))
    picket = (x / rng.uniform(14, 22) % 1.0) < 0.6
    ground[height // 8 :, picket] = 190 + _grain(rng, (height, width), 6.0)[height // 8 :, picket]
    return np.clip(ground, 0, 255)


def roof(rng: np.random.Generator, height: int, width: int) -> Gray:
    """Rows of tiles, every second one shifted by half, each of its own shade."""
    tall, wide = rng.uniform(9, 14), rng.uniform(11, 17)
    y, x = np.mgrid[0:height, 0:width].astype(float)
    y = y * (1.0 + y / height * 0.15)
    row = np.floor(y / tall)
    column = np.floor(x / wide + 0.5 * (row % 2))
    shade = rng.uniform(70, 170, size=(int(row.max()) + 1, int(column.max()) + 2))
    field = shade[row.astype(int), column.astype(int)]
    field = field * (0.55 + 0.45 * np.minimum(1.0, (y / tall % 1.0) * 3))
    return np.clip(field + _grain(rng, (height, width), 6.0), 0, 255)


def grid(rng: np.random.Generator, height: int, width: int) -> Gray:
    """Squared paper with writing-like strokes."""
    pitch = rng.integers(9, 20)
    field = np.full((height, width), 240.0)
    field[::pitch] = 150
    field[:, ::pitch] = 150
    return np.clip(
        np.minimum(field, text_and_edges(rng, height, width) + 90) + _grain(rng, (height, width), 2.0), 0, 255
    )


PATTERNS = (weave, fence, roof, grid)


def _grain(rng: np.random.Generator, shape: tuple[int, int], sigma: float) -> Gray:
    return rng.normal(0.0, sigma, shape)


def _smooth(rng: np.random.Generator, shape: tuple[int, int], length: float) -> Gray:
    small = rng.normal(size=(max(2, int(shape[0] / length)), max(2, int(shape[1] / length)))).astype(np.float32)
    return np.asarray(Image.fromarray(small).resize(shape[::-1], Image.Resampling.BICUBIC))


# --- photographs that packages ship ------------------------------------------------------------------------------------

_PHOTOGRAPHS = {
    "skimage": (
        "data/astronaut.png", "data/brick.png", "data/camera.png", "data/chelsea.png", "data/coffee.png", "data/coins.png",
        "data/grass.png", "data/gravel.png", "data/hubble_deep_field.jpg", "data/ihc.png", "data/moon.png",
        "data/motorcycle_left.png", "data/motorcycle_right.png", "data/retina.jpg", "data/rocket.jpg",
    ),
    "sklearn": ("datasets/images/china.jpg", "datasets/images/flower.jpg"),
    "matplotlib": ("mpl-data/sample_data/grace_hopper.jpg",),
}  # fmt: skip


def photographs() -> dict[str, Gray]:
    """The photographs of the packages that are installed, by name; none of them was used to set a limit."""
    found = {}
    for package, names in _PHOTOGRAPHS.items():
        spec = importlib.util.find_spec(package)
        if spec is None or spec.origin is None:
            continue
        for name in names:
            path = Path(spec.origin).parent / name
            if path.exists():
                with Image.open(path) as image:
                    found[Path(name).stem] = np.asarray(image.convert("L"), dtype=float)
    return found


# --- blown up ----------------------------------------------------------------------------------------------------------


def _mitchell(t: Gray) -> Gray:
    b = c = 1.0 / 3.0
    t = np.abs(t)
    near = ((12 - 9 * b - 6 * c) * t**3 + (-18 + 12 * b + 6 * c) * t**2 + 6 - 2 * b) / 6
    far = ((-b - 6 * c) * t**3 + (6 * b + 30 * c) * t**2 + (-12 * b - 48 * c) * t + 8 * b + 24 * c) / 6
    return np.where(t < 1, near, np.where(t < 2, far, 0.0))


def _keys(a: float) -> Callable[[Gray], Gray]:
    def kernel(t: Gray) -> Gray:
        t = np.abs(t)
        near = (a + 2) * t**3 - (a + 3) * t**2 + 1
        far = a * t**3 - 5 * a * t**2 + 8 * a * t - 4 * a
        return np.where(t < 1, near, np.where(t < 2, far, 0.0))

    return kernel


def _windowed_sinc(reach: float) -> Callable[[Gray], Gray]:
    return lambda t: np.where(np.abs(t) < reach, np.sinc(t) * np.sinc(t / reach), 0.0)


#: Kernel by name, with its reach in source pixels. ``area`` is what a box of the new pixel's size sees.
KERNELS: dict[str, tuple[Callable[[Gray], Gray], float]] = {
    "nearest": (lambda t: np.where((t >= -0.5) & (t < 0.5), 1.0, 0.0), 0.5),
    "bilinear": (lambda t: np.maximum(0.0, 1.0 - np.abs(t)), 1.0),
    "cubic -0.75": (_keys(-0.75), 2.0),
    "cubic -0.5": (_keys(-0.5), 2.0),
    "mitchell": (_mitchell, 2.0),
    "lanczos 2": (_windowed_sinc(2.0), 2.0),
    "lanczos 4": (_windowed_sinc(4.0), 4.0),
}


def blown_up(source: Gray, factor: float, kernel: str) -> Gray:
    """A picture enlarged by a kernel, one axis after the other, pixel middles kept in place."""
    return _along_rows(_along_rows(source, factor, kernel).T, factor, kernel).T


def _along_rows(source: Gray, factor: float, kernel: str) -> Gray:
    width = source.shape[1]
    places = (np.arange(round(width * factor)) + 0.5) / factor - 0.5
    if kernel == "area":
        low, high = (np.arange(len(places)) / factor), (np.arange(len(places)) + 1) / factor
        first = np.floor(low).astype(int)
        second = np.minimum(np.ceil(high).astype(int) - 1, width - 1)
        share = np.where(second > first, (high - second) * factor, 0.0)
        return source[:, np.minimum(first, width - 1)] * (1 - share) + source[:, second] * share
    function, reach = KERNELS[kernel]
    start = np.floor(places - reach).astype(int)
    result = np.zeros((source.shape[0], len(places)))
    total = np.zeros(len(places))
    for step in range(int(2 * reach) + 2):
        weight = function(places - (start + step))
        result += source[:, np.clip(start + step, 0, width - 1)] * weight
        total += weight
    return result / total


def sharpened(picture: Gray, amount: float, reach: int) -> Gray:
    """Unsharp masking with a box, as a picture program's "sharpen more"."""
    size = 2 * reach + 1
    padded = np.pad(picture, reach, mode="edge")
    sums = np.pad(padded.cumsum(0).cumsum(1), ((1, 0), (1, 0)))
    mean = (sums[size:, size:] - sums[:-size, size:] - sums[size:, :-size] + sums[:-size, :-size]) / size**2
    return np.clip(picture + amount * (picture - mean), 0, 255)


def softened(picture: Gray, sigma: float) -> Gray:
    """Blurred by a Gaussian, in the spectrum."""
    fy, fx = np.fft.fftfreq(picture.shape[0])[:, None], np.fft.rfftfreq(picture.shape[1])[None, :]
    fall = np.exp(-2 * (np.pi * sigma) ** 2 * (fx**2 + fy**2))
    return np.fft.irfft2(np.fft.rfft2(picture) * fall, picture.shape)


def through_jpeg(picture: Gray, quality: int) -> Gray:
    data = io.BytesIO()
    Image.fromarray(eight_bits(picture)).save(data, "JPEG", quality=quality)
    return np.asarray(Image.open(data), dtype=float)


def eight_bits(picture: Gray) -> Gray:
    return np.clip(np.rint(picture), 0, 255).astype(np.uint8)


# --- printed before ----------------------------------------------------------------------------------------------------


def printed(tone: Gray, ruling: float, angle_deg: float, dot: str, *, over: int = 4) -> Gray:
    """Coverage (0 to 1) screened with dots ``ruling`` cycles a pixel: the ink seen by each pixel of a scanner."""
    height, width = tone.shape
    turn = np.deg2rad(angle_deg)
    ink = np.zeros(tone.shape)
    fine = (np.arange(over) + 0.5) / over - 0.5
    y, x = np.mgrid[0:height, 0:width].astype(np.float32)
    for dy in fine:
        for dx in fine:
            u = ((x + dx) * np.cos(turn) + (y + dy) * np.sin(turn)) * ruling
            v = ((y + dy) * np.cos(turn) - (x + dx) * np.sin(turn)) * ruling
            ink += _threshold(u - np.round(u), v - np.round(v), dot) < tone
    return ink / over**2


def _threshold(u: Gray, v: Gray, dot: str) -> Gray:
    """The coverage at which a place within a cell (-0.5 to 0.5) turns to ink."""
    if dot == "diamond":
        near = np.abs(u) + np.abs(v)
        return np.where(near < 0.5, 2 * near**2, 1 - 2 * (1 - near) ** 2)
    if dot == "ellipse":
        return np.minimum(1.0, np.pi * (u**2 * 1.2 + v**2 / 1.2) * 0.92)
    return np.minimum(1.0, np.pi * (u**2 + v**2) * 0.92)


def scanned(ink: Gray, rng: np.random.Generator, blur: float) -> Gray:
    """What a scanner makes of ink on paper: soft optics, noise, paper that is not quite white."""
    paper, black = rng.uniform(225, 248), rng.uniform(18, 50)
    return np.clip(
        softened(paper - (paper - black) * ink, blur) + _grain(rng, ink.shape, rng.uniform(0.8, 2.5)), 0, 255
    )
