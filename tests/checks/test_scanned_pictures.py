"""Scans and hard packing through the whole flow: image files made here, with what must be found and the twins that stay silent."""

from __future__ import annotations

import io

import numpy as np
import pytest
from PIL import Image
from test_jpeg_traces import hills
from test_line_art import scanned
from whole import job_for, report_of


def ids(data: bytes, folder, name: str) -> dict[str, float | None]:
    path = folder / name
    path.write_bytes(data)
    report = report_of(path, job_for(printed_size_mm=(68.0, 93.0) if "scan" in name else (54.0, 43.0), pages=1))
    assert not [answer for answer in report.unchecked if answer.check in ("image", "all", "file")]
    return {finding.id: finding.measured for finding in report.findings if finding.id.startswith("image.")}


def saved(image: Image.Image, kind: str, **options) -> bytes:
    out = io.BytesIO()
    image.save(out, kind, dpi=(300, 300), **options)
    return out.getvalue()


def test_a_gray_scan_of_type_lying_askew_on_tinted_paper(tmp_path):
    found = ids(saved(Image.fromarray(scanned(232.0).astype(np.uint8)), "TIFF"), tmp_path, "scan.tif")
    assert found["image.crooked"] == pytest.approx(0.7, abs=0.1)
    assert found["image.soft-line-art"] == pytest.approx(300, abs=3)
    assert found["image.paper-tint"] == pytest.approx(9.0, abs=1.0)  # 1 - 232 / 255


def test_white_paper_is_no_tint(tmp_path):
    found = ids(saved(Image.fromarray(scanned(252.0).astype(np.uint8)), "TIFF"), tmp_path, "scan.tif")
    assert "image.paper-tint" not in found
    assert "image.crooked" in found


@pytest.mark.parametrize(("quality", "asked"), [(60, True), (74, True), (75, False), (90, False)])
def test_quality_of_the_packing(quality, asked, tmp_path):
    found = ids(saved(hills(), "JPEG", quality=quality), tmp_path, "picture.jpg")
    assert found.get("image.compressed") == (quality if asked else None)


@pytest.mark.parametrize(("quality", "asked"), [(40, True), (60, True), (80, False), (90, False)])
def test_packed_and_saved_again_without_loss(quality, asked, tmp_path):
    packed = Image.open(io.BytesIO(saved(hills(), "JPEG", quality=quality)))
    found = ids(saved(packed, "TIFF"), tmp_path, "picture.tif")
    assert ("image.compressed" in found) is asked
    if asked:
        assert found["image.compressed"] == pytest.approx(quality, abs=5)


def test_a_photograph_is_no_scan(tmp_path):
    assert ids(saved(hills(3), "TIFF"), tmp_path, "picture.tif") == {}
