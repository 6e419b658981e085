"""Synthesised pictures for the demo scene: leaf litter as a camera would see it, and a garden plan as a scanner would.

Everything is drawn from a seed, so that the same bytes come out each time. Sharp veins and fine grain carry detail down to
the single pixel: such a picture really has the resolution it claims.
"""

from __future__ import annotations

import io
import math

import numpy as np
from PIL import Image, ImageDraw

#: Ink at full light and at full shade, percent C M Y K; the sum never reaches 280 %, the least of coated stock's limits.
SUMMER = ((22.0, 3.0, 62.0, 0.0), (82.0, 42.0, 94.0, 42.0))
AUTUMN = ((4.0, 22.0, 70.0, 0.0), (42.0, 78.0, 96.0, 40.0))
#: The same for a screen, 0 to 255 R G B.
SCREEN = ((204.0, 222.0, 120.0), (22.0, 48.0, 20.0))


def leaves(width_px: int, height_px: int, seed: int) -> np.ndarray:
    """Light (0 dark to 1 bright) over a picture of overlapping leaves with veins, shadows and grain."""
    random = np.random.default_rng(seed)
    light = 0.16 + 0.10 * _cloud(width_px, height_px, 48, random)
    reach = max(width_px, height_px)
    for turn in range(70):
        length = reach * (0.16 + 0.22 * random.random()) * (0.6 + 0.4 * turn / 70)
        spot = (random.random() * width_px, random.random() * height_px)
        _lay_leaf(light, spot, length, random.random() * math.tau, 0.34 + 0.5 * random.random() * (0.5 + turn / 140))
    grain = random.standard_normal((height_px, width_px), dtype=np.float32)
    return np.clip(light + 0.022 * grain, 0.0, 1.0)


def _cloud(width_px: int, height_px: int, step: int, random: np.random.Generator) -> np.ndarray:
    """Smooth noise, -1 to 1, with spots of about ``step`` pixels."""
    coarse = random.random((height_px // step + 3, width_px // step + 3), dtype=np.float32)
    smooth = Image.fromarray(coarse).resize((width_px, height_px), Image.Resampling.BICUBIC)
    return np.asarray(smooth, dtype=np.float32) * 2.0 - 1.0


def _lay_leaf(light: np.ndarray, spot: tuple[float, float], length: float, turn: float, tone: float) -> None:
    """Paints one leaf and its shadow over what lies below it."""
    height, width = light.shape
    half = length * 0.55
    x0, x1 = max(0, int(spot[0] - half)), min(width, int(spot[0] + half))
    y0, y1 = max(0, int(spot[1] - half)), min(height, int(spot[1] + half))
    if x0 >= x1 or y0 >= y1:
        return
    y, x = np.ogrid[y0:y1, x0:x1]
    x = (x - spot[0]).astype(np.float32)
    y = (y - spot[1]).astype(np.float32)
    along = (x * math.cos(turn) + y * math.sin(turn)) / length + 0.5
    across = (y * math.cos(turn) - x * math.sin(turn)) / length
    inside = (along > 0.0) & (along < 1.0)
    swell = 0.24 * np.sin(math.pi * np.clip(along, 0.0, 1.0) ** 0.8)
    blade = inside & (np.abs(across) < swell)
    shadow = inside & (np.abs(across - 0.025) < swell * 1.08)
    patch = light[y0:y1, x0:x1]
    patch[shadow & ~blade] *= 0.62
    vein = np.abs(np.mod(along * 15.0 - np.abs(across) * 19.0, 1.0) - 0.5) < 0.045
    rib = np.abs(across) < 0.006
    body = tone * (0.92 + 0.5 * across + 0.12 * np.sin(along * 9.0))
    body = np.where(vein, body * 1.22, body)
    body = np.where(rib, body * 1.45, body)
    patch[blade] = body[blade]


def separated(light: np.ndarray, palette: tuple[tuple[float, ...], tuple[float, ...]] = SUMMER) -> Image.Image:
    """The picture as four inks."""
    return Image.fromarray(_toned(light, palette, 255.0 / 100.0), "CMYK")


def on_screen(light: np.ndarray) -> Image.Image:
    """The picture as a camera would store it, in RGB."""
    return Image.fromarray(_toned(light, SCREEN, 1.0), "RGB")


def _toned(light: np.ndarray, palette: tuple[tuple[float, ...], tuple[float, ...]], scale: float) -> np.ndarray:
    bright, dark = palette
    levels = np.linspace(0.0, 1.0, 1024, dtype=np.float32)[:, None]
    ramp = (np.array(dark) + (np.array(bright) - np.array(dark)) * levels) * scale
    return ramp.round().astype(np.uint8)[(light * 1023.0).astype(np.uint16)]


def jpeg(picture: Image.Image, quality: int = 80, **options: object) -> bytes:
    """A JPEG; four inks come out inverted, as the Adobe marker in them says (a PDF then needs a Decode array)."""
    packed = io.BytesIO()
    picture.save(packed, "JPEG", quality=quality, **options)
    return packed.getvalue()


def garden_plan(width_px: int, height_px: int, tilt_degrees: float, seed: int) -> Image.Image:
    """A pencil plan of the garden on off-white paper, lying a little askew on the scanner's glass."""
    sheet = Image.new("L", (width_px, height_px), 255)
    pen = ImageDraw.Draw(sheet)
    unit = width_px / 100.0
    tall = height_px / unit

    def at(x: float, y: float) -> tuple[float, float]:
        return x * unit, y * unit

    thick = max(2, round(unit * 0.35))
    pen.rectangle([*at(8, 8), *at(92, tall - 8)], outline=30, width=thick)
    pen.line([at(8, 30), at(35, 34), at(60, 28), at(92, 36)], fill=45, width=thick, joint="curve")
    pen.line([at(8, 38), at(35, 42), at(60, 36), at(92, 44)], fill=45, width=thick, joint="curve")
    for row in range(4):
        for bed in range(6):
            x, y = 14 + bed * 13, 52 + row * 19
            pen.rectangle([*at(x, y), *at(x + 9, y + 13)], outline=55, width=max(2, thick // 2))
            for line in range(1, 6):
                pen.line([at(x + 1, y + 2 * line), at(x + 8, y + 2 * line)], fill=90, width=2)
    pen.ellipse([*at(62, tall - 26), *at(86, tall - 12)], outline=40, width=thick)
    for tree in range(7):
        x, y = 16 + tree * 11, 18 + (tree % 3) * 2.5
        pen.ellipse([*at(x - 3, y - 3), *at(x + 3, y + 3)], outline=40, width=max(2, thick // 2))
        pen.line([at(x - 1.5, y), at(x + 1.5, y)], fill=40, width=2)
    tilted = sheet.rotate(tilt_degrees, Image.Resampling.BICUBIC, fillcolor=255)
    random = np.random.default_rng(seed)
    drawn = np.asarray(tilted, dtype=np.float32) / 255.0
    paper = 232.0 + 3.0 * _cloud(width_px, height_px, 60, random)
    # Grain on every sixth pixel only keeps the scan small.
    grain = 3.0 * (random.integers(0, 6, (height_px, width_px)) == 0)
    return Image.fromarray(np.clip(paper * (0.10 + 0.90 * drawn) + grain, 0, 255).astype(np.uint8), "L")
