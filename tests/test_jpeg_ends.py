"""JPEG data that ends before its picture does. Truth: pictures cut or given a false height here."""

from __future__ import annotations

import io
import struct
from pathlib import Path

import numpy as np
import pytest
from pictured import texture
from PIL import Image
from whole import job_for, report_of

from preflight.inventory.jpeg_ends import ends_early, ends_in_one_colour


def jpeg(picture: np.ndarray, **options: object) -> bytes:
    data = io.BytesIO()
    Image.fromarray(picture).save(data, "JPEG", quality=85, dpi=(300, 300), **options)
    return data.getvalue()


def of_height(data: bytes, height: int) -> bytes:
    """The frame header says another height (ISO/IEC 10918-1, B.2.2)."""
    place = data.find(b"\xff\xc0") + 5
    return data[:place] + struct.pack(">H", height) + data[place + 2 :]


def cut(data: bytes) -> bytes:
    """Half of it is lost, and an end mark set."""
    return data[: len(data) // 2] + b"\xff\xd9"


def pixels(data: bytes) -> np.ndarray:
    return np.asarray(Image.open(io.BytesIO(data)))


COLOURED = np.dstack([texture(400, 320, seed=seed) for seed in range(3)])


@pytest.mark.parametrize("picture", [texture(400, 320), COLOURED], ids=["gray", "coloured"])
@pytest.mark.parametrize("spoil", [cut, lambda data: of_height(data, 800)], ids=["cut", "false height"])
def test_data_that_ends_early(picture: np.ndarray, spoil: object, tmp_path: Path) -> None:
    data = spoil(jpeg(picture))
    assert ends_in_one_colour(pixels(data))
    assert ends_early(data)
    (tmp_path / "cut.jpg").write_bytes(data)
    report = report_of(tmp_path / "cut.jpg", job_for())
    assert "JPEG data ends before the last row of the picture: 1 not looked at" in [
        each.why for each in report.unchecked
    ]
    assert not [finding for finding in report.findings if finding.id.startswith("image.")]


@pytest.mark.parametrize("options", [{}, {"progressive": True}, {"restart_marker_rows": 1}, {"subsampling": 0}])
def test_a_white_border_is_no_want_of_data(options: dict[str, object], tmp_path: Path) -> None:
    bordered = COLOURED.copy()
    bordered[200:] = 255
    data = jpeg(bordered, **options)
    assert ends_in_one_colour(pixels(data))
    assert not ends_early(data)
    (tmp_path / "whole.jpg").write_bytes(data)
    assert not report_of(tmp_path / "whole.jpg", job_for()).unchecked


def test_what_cannot_be_told() -> None:
    assert not ends_early(b"")
    assert not ends_early(b"\xff\xd8\xff\xc0\xff\xd9")
    assert not ends_in_one_colour(np.zeros((8, 8, 3), np.uint8))
    assert not ends_in_one_colour(texture(100, 100)[..., None])
