"""Kinds of pictures that are not read here: named as such with their size, never called damaged. Truth: tags written by hand."""

from __future__ import annotations

import io
import struct
from pathlib import Path

import numpy as np
import pytest
from opened import opened
from pictured import texture, tiff
from PIL import Image
from pymupdf import mupdf
from whole import job_for, report_of

SIDE = 20


def with_frame(marker: int, precision: int) -> bytes:
    """A JPEG whose frame header says another process or precision (ISO/IEC 10918-1, B.2.2)."""
    data = io.BytesIO()
    Image.fromarray(texture(SIDE, SIDE)).save(data, "JPEG")
    changed = bytearray(data.getvalue())
    place = changed.find(b"\xff\xc0")
    changed[place + 1], changed[place + 4] = marker, precision
    return bytes(changed)


def psd(bits: int, mode: int) -> bytes:
    """Header, no palette, one image resource (1005: 300 ppi both ways), no layers."""
    resolution = struct.pack(">IHHIHH", 300 << 16, 1, 1, 300 << 16, 1, 1)
    resources = b"8BIM" + struct.pack(">H", 1005) + bytes(2) + struct.pack(">I", len(resolution)) + resolution
    head = b"8BPS" + struct.pack(">H6xHIIHH", 1, 3, 60, 30, bits, mode) + bytes(4)
    return head + struct.pack(">I", len(resources)) + resources + bytes(4) + bytes(30 * 60 * 6 + 2)


def deep_lab() -> bytes:
    return tiff(SIDE, SIDE, bytes(SIDE * SIDE * 6), bits=(16, 16, 16), photometric=8)


CASES = [
    (deep_lab(), "TIFF with 3 channels of 16 bits in Lab; 20 x 20 pixels"),
    (tiff(SIDE, SIDE, bytes(SIDE * SIDE * 3), bits=(8, 8, 8), photometric=9), "3 channels of 8 bits in Lab"),
    (tiff(SIDE, SIDE, bytes(SIDE * SIDE * 7), bits=(8,) * 7, tags={338: (3, [0, 0, 0])}), "7 channels of 8 bits"),
    (tiff(SIDE, SIDE, bytes(SIDE * SIDE), bits=(8,), photometric=32844), "light values"),
    (with_frame(0xC1, 12), "JPEG of 12 bits; 20 x 20 pixels"),
    (with_frame(0xC3, 8), "JPEG without loss or in layers; 20 x 20 pixels"),
    # 30 pixels at 300 ppi are a tenth of an inch: 2.54 mm.
    (psd(16, 3), "PSD of 16 bits; 30 x 60 pixels at 300 ppi, 3 x 5 mm"),
    (psd(8, 8), "duotone or multichannel mode; 30 x 60 pixels at 300 ppi"),
]


@pytest.mark.parametrize(("data", "words"), CASES, ids=[words[:24] for _, words in CASES])
def test_a_kind_that_is_not_read_is_unchecked_and_its_size_told(data: bytes, words: str, tmp_path: Path) -> None:
    path = tmp_path / "picture"
    path.write_bytes(data)
    report = report_of(path, job_for())
    (answer,) = report.unchecked
    assert answer.why.startswith("kind not supported: ")
    assert words in answer.why
    assert not report.findings


def test_form_of_pixels_that_is_not_read(tmp_path: Path) -> None:
    """254 pixels over 25.4 mm are 254 ppi."""
    Image.new("F", (254, 508)).save(tmp_path / "deep.tif", dpi=(254, 254))
    (answer,) = report_of(tmp_path / "deep.tif", job_for()).unchecked
    assert answer.why == "kind not supported: pixels of the form F; 254 x 508 pixels at 254 ppi, 25 x 51 mm"


@pytest.mark.parametrize(
    "tags",
    [{256: (4, [0])}, {257: (4, [4_000_000_000])}, {273: (4, [10_000_000])}, {277: (3, [0])}],
    ids=["no width", "endless", "pixels beyond the file", "no channels"],
)
def test_tags_that_make_no_sense_are_damage(tags: dict[int, tuple[int, list[int]]], tmp_path: Path) -> None:
    path = tmp_path / "picture"
    path.write_bytes(tiff(SIDE, SIDE, bytes(SIDE * SIDE * 3), bits=(8, 8, 8), photometric=9, tags=tags))
    report = report_of(path, job_for())
    assert [finding.id for finding in report.findings] == ["file.unreadable"]


@pytest.mark.parametrize("kind", [0, 1, 2], ids=["spot", "premultiplied", "transparency"])
def test_four_inks_and_one_channel_more(kind: int, tmp_path: Path) -> None:
    """TIFF 6.0, ExtraSamples: 0 is anything, 1 and 2 are transparency. The inks stay as they are."""
    pixels = np.random.default_rng(1).integers(0, 256, (SIDE, SIDE, 5), dtype=np.uint8)
    data = tiff(SIDE, SIDE, pixels.tobytes(), bits=(8,) * 5, tags={338: (3, [kind])})
    with opened(data, tmp_path, "picture") as artwork:
        facts = artwork.facts.image_file
        assert (facts.mode, facts.channels, facts.alpha, facts.extra_channels) == (
            "CMYK", 5, kind > 0, () if kind else ("channel 1",),
        )  # fmt: skip
        drawn = mupdf.fz_new_pixmap_from_page(
            artwork.mupdf_page(1).super(), mupdf.FzMatrix(), mupdf.fz_device_cmyk(), 0
        )
        shown = np.frombuffer(mupdf.ll_fz_pixmap_samples_memoryview(drawn.m_internal), np.uint8)
    assert np.array_equal(shown.reshape(SIDE, SIDE, 4), pixels[..., :4])


@pytest.mark.parametrize("kind", ["WEBP", "PNG"])
def test_an_animation_prints_its_first_picture_and_says_so(kind: str, tmp_path: Path) -> None:
    frames = [Image.fromarray(texture(120, 120, seed=seed)).convert("RGB") for seed in range(3)]
    path = tmp_path / "moving"
    frames[0].save(path, kind, save_all=True, append_images=frames[1:])
    report = report_of(path, job_for(printed_size_mm=(20.0, 20.0)))
    (finding,) = [finding for finding in report.findings if finding.id == "image.extra-channels"]
    assert (finding.severity, finding.details["what"]) == ("note", "3 frames")
    assert {each.page for each in report.findings} <= {1, None}
