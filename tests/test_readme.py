"""The README shows what is there, and nothing that takes long to load."""

from __future__ import annotations

import re
from pathlib import Path

from PIL import Image

ROOT = Path(__file__).parents[1]


def test_its_pictures_are_small_and_told_in_words() -> None:
    shown = re.findall(r"!\[([^\]]*)\]\(([^)]+)\)", (ROOT / "README.md").read_text(encoding="utf-8"))

    assert len(shown) >= 4
    for words, address in shown:
        assert len(words) > 20
        assert (ROOT / address).stat().st_size < 150_000
        with Image.open(ROOT / address) as picture:
            assert picture.format == "PNG"
            assert min(picture.size) > 400
