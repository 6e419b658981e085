"""The decoder of bar and matrix codes: zxing-cpp, loaded with the first place that may hold a code, and its answers as plain facts.

Pictures are black on white, with white around. Texts are a stranger's: made safe and cut.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from preflight.inventory.objects import clean_text

#: White around what is decoded, in pixels.
PAD_PX = 40
_LONGEST_TEXT = 300
_NAMES = {
    "QRCode": "QR Code",
    "QRCodeModel1": "QR Code",
    "QRCodeModel2": "QR Code",
    "MicroQRCode": "Micro QR Code",
    "DataMatrix": "Data Matrix",
}
#: What is asked for, by symbology; ``checked``: other bar codes with a check of their own, since stripes would pass for the
#: rest; ``all``: whatever may stand in a picture.
_FORMATS = {
    "EAN-13": "EAN13",
    "EAN-8": "EAN8",
    "UPC-E": "UPCE",
    "Code 128": "Code128",
    "Code 39": "Code39",
    "ITF": "ITF",
    "bar code": "EANUPC,Code128",
    "checked": "Code93,DataBar,DataBarExp,DataBarLtd,PDF417",
    "all": "QRCode,MicroQRCode,DataMatrix,Aztec,PDF417,EANUPC,Code128,Code39,ITF",
}
_LINEAR = ("EANUPC", "Code128", "Code39", "ITF")


@dataclass(frozen=True)
class Read:
    """One answer of the decoder; corners in pixels, in turn."""

    symbology: str
    text: str
    valid: bool
    is_linear: bool
    version: str
    orientation: int
    corners: list[tuple[float, float]]


class _Decoder:
    """The engine with the kinds of codes it is asked for."""

    def __init__(self) -> None:
        import zxingcpp

        self.engine = zxingcpp
        choose = zxingcpp.barcode_formats_from_str
        self.formats = {name: choose(formats) for name, formats in _FORMATS.items()}

    def read(self, picture: npt.NDArray[np.uint8], formats: str, *, errors: bool = False) -> list[Read]:
        answers = self.engine.read_barcodes(
            np.ascontiguousarray(picture), formats=self.formats[formats], try_invert=False, return_errors=errors
        )
        return [self._answer(answer) for answer in answers]

    def _answer(self, answer: Any) -> Read:
        name = answer.format.name
        extra = answer.extra if isinstance(answer.extra, dict) else {}
        text = extra.get("UPCE") or answer.text
        position = answer.position
        # The last row and column of a Data Matrix are told, not the end.
        end = 1.0 if name == "DataMatrix" else 0.0
        one, two, three, four = (
            (float(point.x), float(point.y))
            for point in (position.top_left, position.top_right, position.bottom_right, position.bottom_left)
        )
        corners = [one, two, three, four]
        if end:
            middle_x, middle_y = sum(x for x, _ in corners) / 4.0, sum(y for _, y in corners) / 4.0
            corners = [(x + end * (x > middle_x), y + end * (y > middle_y)) for x, y in corners]
        is_linear = answer.symbology.name in _LINEAR
        return Read(
            _NAMES.get(name, str(answer.format)),
            clean_text(text)[:_LONGEST_TEXT],
            bool(answer.valid),
            is_linear,
            str(extra.get("Version", "")),
            int(answer.orientation),
            corners,
        )


_loaded: list[_Decoder] = []


def decode(picture: npt.NDArray[np.uint8], formats: str, *, errors: bool = False) -> list[Read]:
    """What a picture holds; ``errors``: also what has the right shape and a wrong check digit (``valid`` False)."""
    if not _loaded:
        _loaded.append(_Decoder())
    return _loaded[0].read(picture, formats, errors=errors)


def on_white(dark: npt.NDArray[np.bool_]) -> npt.NDArray[np.uint8]:
    """Black on white, with room around."""
    picture = np.where(dark, np.uint8(0), np.uint8(255))
    return np.pad(picture, PAD_PX, constant_values=255)
