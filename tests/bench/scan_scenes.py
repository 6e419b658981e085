"""Scans and packings with known truth for the picture benchmark: sheets of type laid askew on the glass, and JPEG at every quality.

Sheets are drawn at twice the size, turned and reduced, so that no pixel knows about the turn. Degrees clockwise positive; gray, 0 to 255.
"""

from __future__ import annotations

import numpy as np
from PIL import Image, ImageDraw, ImageFont

Gray = np.ndarray

_LETTERS = "etaoinshrdlucmfwypvbgkETAONSRDLMCB"
OVER = 2


def sheet_of_type(rng: np.random.Generator, width: int, height: int, ppi: float, askew_deg: float) -> Gray:
    """Lines of made-up words on white, one or two columns, with a rule or a frame now and then."""
    image = Image.new("L", (width * OVER, height * OVER), 255)
    draw = ImageDraw.Draw(image)
    points = float(rng.choice([9.0, 10.0, 11.0, 12.0, 14.0]))
    font = ImageFont.load_default(size=points / 72.0 * ppi * OVER)
    lead = points * rng.uniform(1.15, 1.5) / 72.0 * ppi * OVER
    margin = 0.12 * width * OVER
    columns = int(rng.integers(1, 3))
    wide = (width * OVER - 2 * margin) / columns
    for column in range(columns):
        left, y = margin + column * wide, margin
        while y < height * OVER - margin:
            if rng.random() < 0.12:
                y += lead
                continue
            words = " ".join(_word(rng) for _ in range(40))
            while font.getlength(words) > wide * rng.uniform(0.8, 0.94):
                words = words.rsplit(" ", 1)[0]
            draw.text((left, y), words, 0, font)
            y += lead
    if rng.random() < 0.4:
        inset = margin * 0.6
        draw.rectangle((inset, inset, width * OVER - inset, height * OVER - inset), outline=0, width=OVER * 2)
    turned = image.rotate(-askew_deg, Image.Resampling.BICUBIC, fillcolor=255)
    return np.asarray(turned.reduce(OVER), dtype=float)


def _word(rng: np.random.Generator) -> str:
    return "".join(rng.choice(list(_LETTERS[:22]), int(rng.integers(2, 10))))


def on_glass(sheet: Gray, rng: np.random.Generator, paper: float) -> Gray:
    """As a scanner sees it: paper of a level, ink that is not quite black, grain."""
    ink = rng.uniform(15, 45)
    seen = ink + (paper - ink) * sheet / 255.0
    return np.clip(seen + rng.normal(0.0, rng.uniform(0.8, 2.5), sheet.shape), 0, 255)
