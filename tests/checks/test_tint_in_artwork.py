"""Tints too light to print found in PDFs; a gradient, however it is drawn, is left alone."""

from __future__ import annotations

import pytest
from artwork import Book, mm, rectangle
from pikepdf import Array, Dictionary, Name
from whole import found_in

PATCH = rectangle(20, 30, 30, 20)


def tints(content: str, folder, resources=None, **kwargs):
    book = Book()
    book.page(content, resources=resources(book) if resources else {}, **kwargs)
    return found_in(book, folder, "tint")


def gradient(book: Book) -> dict:
    return {
        "Sh": Dictionary(
            ShadingType=2,
            ColorSpace=Name.DeviceCMYK,
            Coords=Array([mm(20), 0, mm(50), 0]),
            Function=Dictionary(
                FunctionType=2, Domain=Array([0, 1]), C0=Array([0, 0, 0, 0]), C1=Array([0.3, 0, 0, 0]), N=1
            ),
        )
    }


@pytest.mark.parametrize(
    ("content", "resources"),
    [
        (f"0.02 0 0 0 k {PATCH} f", None),
        (f"0.98 g {PATCH} f", None),
        (f"/S cs 0.02 scn {PATCH} f", lambda book: {"S": book.spot("Fern Green")}),
        (f"/N cs 0.02 0.01 scn {PATCH} f", lambda book: {"N": book.device_n(["Fern Green", "Gold 1"])}),
        (f"/G gs 0.1 0 0 0 k {PATCH} f", lambda book: {"G": book.state(ca=0.2)}),
        ("/X Do", lambda book: {"X": book.form(f"0.02 0 0 0 k {PATCH} f")}),
        (
            f"/Pattern cs /P scn {PATCH} f",
            lambda book: {"P": book.tiling("0.02 0 0 0 k 0 0 5 5 re f", cell=(10, 10))},
        ),
    ],
    ids=["CMYK", "gray", "spot", "DeviceN", "thinned", "form", "pattern"],
)
def test_a_flat_tint_of_2_percent(tmp_path, content, resources):
    (finding,) = tints(content, tmp_path, resources)
    assert (finding.id, finding.severity, finding.limit) == ("tint.too-light", "note", 3.0)
    assert finding.measured == pytest.approx(2.0, abs=0.01)


STEPS = " ".join(f"{t / 100} 0 0 0 k {rectangle(20 + t, 30, 1, 20)} f" for t in range(1, 30))


@pytest.mark.parametrize(
    ("content", "resources"),
    [
        (f"0.03 0 0 0 k {PATCH} f", None),
        (f"0.5 0.02 0 0 k {PATCH} f", None),
        (f"q {PATCH} W n /Sh sh Q", gradient),
        (STEPS, None),
        (f"0 0 0 0 k {PATCH} f", None),
        (f"0.02 0 0 0 k {PATCH} f 1 0 0 0 k {PATCH} f", None),
        (f"q {rectangle(0, 0, 5, 5)} W n 0.02 0 0 0 k {PATCH} f Q", None),
        (f"0.02 0 0 0 k {rectangle(-9, 0, 4, 4)} f", None),
        (f"1 0 0 0 k {PATCH} f /G gs 0 0 0 1 k {PATCH} f", lambda book: {"G": book.state(ca=0.02)}),
        (f"/V cs 0.02 scn {PATCH} f", lambda book: {"V": book.spot("Varnish")}),
    ],
    ids=[
        "3 %",
        "beside a strong ink",
        "gradient",
        "steps",
        "white",
        "covered",
        "clipped",
        "outside",
        "shade",
        "varnish",
    ],
)
def test_left_alone(tmp_path, content, resources):
    assert tints(content, tmp_path, resources) == []
