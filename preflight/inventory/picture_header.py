"""What the container of a picture says, before any pixel is unpacked: size, resolution, channels, profile, orientation.

Read with Pillow and, where it keeps silent (a tag that is absent, channels that it would drop), from the tags themselves: TIFF 6.0, EXIF 2.32, PNG
(ISO/IEC 15948, pHYs), JFIF, and the image resources that picture programs leave behind (number 1005: resolution).
"""

from __future__ import annotations

import struct
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

from preflight.inventory.icc import Profile, read_profile
from preflight.inventory.jpeg_traces import table_quality
from preflight.inventory.objects import clean_text
from preflight.units import MM_PER_INCH

#: Resolutions outside make no sense.
LEAST_PPI, MOST_PPI = 5.0, 30_000.0

_BITS, _PHOTOMETRIC, _SAMPLES = 258, 262, 277
_X_PPI, _Y_PPI, _PPI_UNIT, _ORIENTATION = 282, 283, 296, 274
_SUBFILE, _EXTRA_SAMPLES, _INK_NAMES, _RESOURCES, _LAYER_DATA = 254, 338, 333, 34377, 37724
_SEPARATED = 5
_COLOURS = {0: 1, 1: 1, 2: 3, 3: 1, 4: 1, 5: 4, 6: 3, 8: 3, 9: 3}
_EXTRA_KINDS = {1: "alpha", 2: "alpha"}
_PROFILE_SPACES = {"CMYK": "CMYK", "RGB": "RGB", "RGBA": "RGB", "RGBX": "RGB", "P": "RGB", "LAB": "Lab", "YCbCr": "RGB"}
_RESOLUTION_RESOURCE = 1005


@dataclass(frozen=True)
class FrameHeader:
    """One frame before it is unpacked; sizes in pixels as stored, ``orientation`` still to be applied."""

    mode: str
    width_px: int
    height_px: int
    bits: int | None
    channels: int | None
    x_ppi: float | None
    y_ppi: float | None
    ppi_from: str | None
    orientation: int = 1
    alpha: bool = False
    extra_channels: tuple[str, ...] = ()
    layers: int | None = None
    profile: Profile | None = None
    profile_data: bytes | None = None
    compression: str | None = None
    jpeg_quality: float | None = None
    adobe_marker: bool | None = None
    #: Frames of an animation that are not printed, this one counted.
    animation_frames: int = 1
    details: dict[str, str] = field(default_factory=dict)

    @property
    def profile_fits(self) -> bool | None:
        """Whether the profile belongs to this kind of pixels; ``None`` without one."""
        if self.profile_data is None:
            return None
        wanted = _PROFILE_SPACES.get(self.mode, "GRAY")
        return self.profile is not None and self.profile.space == wanted

    @property
    def turned_px(self) -> tuple[int, int]:
        """Width and height as looked at."""
        size = self.width_px, self.height_px
        return size[::-1] if self.orientation >= 5 else size

    @property
    def turned_ppi(self) -> tuple[float | None, float | None]:
        ppi = self.x_ppi, self.y_ppi
        return ppi[::-1] if self.orientation >= 5 else ppi


def read_header(image: Any, kind: str, head: bytes) -> FrameHeader:
    """The header of the frame that an open Pillow image stands at; ``head`` is how the file begins."""
    data = image.info.get("icc_profile")
    data = bytes(data) if isinstance(data, (bytes, bytearray)) and data else None
    common: dict[str, Any] = {
        "mode": str(image.mode),
        "width_px": int(image.width),
        "height_px": int(image.height),
        "profile": read_profile(data) if data else None,
        "profile_data": data,
        "alpha": image.mode in ("RGBA", "LA", "PA", "La", "RGBa") or "transparency" in image.info,
    }
    special = {"tiff": _tiff, "jpeg": _jpeg, "png": _png, "psd": _psd, "webp": _webp}[kind](image, head)
    return FrameHeader(**(common | special))


def _number(value: Any) -> float | None:
    try:
        number = float(value[0] if isinstance(value, tuple) else value)
    except (TypeError, ValueError, ZeroDivisionError, IndexError):
        return None
    return number if number == number else None  # noqa: PLR0124 - not a number


def _from_tags(tags: Any, source: str) -> dict[str, Any]:
    """Resolution by EXIF or TIFF tags; unit 2 is the inch, 3 the centimetre, 1 none."""
    x, y = _number(tags.get(_X_PPI)), _number(tags.get(_Y_PPI))
    unit = _number(tags.get(_PPI_UNIT, 2))
    scale = {2.0: 1.0, 3.0: MM_PER_INCH / 10.0}.get(unit or 0.0)
    if x is None or y is None or scale is None:
        return _pair(None, None, source)
    return _pair(x * scale, y * scale, source)


def _pair(x: float | None, y: float | None, source: str) -> dict[str, Any]:
    """Both resolutions, or neither where one of them makes no sense."""
    if x is None or y is None or not all(LEAST_PPI <= value <= MOST_PPI for value in (x, y)):
        return {"x_ppi": None, "y_ppi": None, "ppi_from": None}
    return {"x_ppi": x, "y_ppi": y, "ppi_from": source}


def _orientation(exif: Any) -> int:
    value = _number(exif.get(_ORIENTATION))
    return int(value) if value in (1, 2, 3, 4, 5, 6, 7, 8) else 1


# --- TIFF ------------------------------------------------------------------------------------------------------------


def _tiff(image: Any, head: bytes) -> dict[str, Any]:  # noqa: ARG001 - one signature for all kinds
    tags = image.tag_v2
    bits = _whole_numbers(tags.get(_BITS, (1,)))
    channels = int(_number(tags.get(_SAMPLES, 1)) or 1)
    orientation = _orientation(tags)
    # Pillow turns a TIFF by itself when it unpacks it, and tells its size as turned.
    extra = _extra_channels(tags, channels)
    ppi = _from_tags(tags, "TIFF tag")
    if orientation >= 5:
        ppi["x_ppi"], ppi["y_ppi"] = ppi["y_ppi"], ppi["x_ppi"]
    details = {"orientation": str(orientation)} if orientation != 1 else {}
    return {
        **ppi,
        "bits": max(bits, default=None),
        "channels": channels,
        "extra_channels": tuple(name for name in extra if name != "alpha"),
        "alpha": "alpha" in extra,
        "layers": _layers_in(tags.get(_LAYER_DATA)),
        "compression": str(image.info.get("compression") or "") or None,
        "details": details,
    }


def tiff_resolution(tags: Any) -> tuple[float | None, float | None]:
    """The resolution that a TIFF's tags tell."""
    found = _from_tags(tags, "TIFF tag")
    return found["x_ppi"], found["y_ppi"]


def tiff_is_reduced(image: Any) -> bool:
    """Whether the frame is a smaller copy or a mask of another one (TIFF 6.0, NewSubfileType bits 0 and 2)."""
    kind = int(_number(image.tag_v2.get(_SUBFILE, 0)) or 0)
    return bool(kind & 0b101)


def _whole_numbers(value: Any) -> list[int]:
    return [int(item) for item in (value if isinstance(value, tuple) else (value,)) if isinstance(item, int)]


def _extra_channels(tags: Any, channels: int) -> list[str]:
    photometric = int(_number(tags.get(_PHOTOMETRIC, 1)) or 0)
    spare = channels - _COLOURS.get(photometric, channels)
    kinds = _whole_numbers(tags.get(_EXTRA_SAMPLES, ()))
    named = tags.get(_INK_NAMES)
    names = (
        [clean_text(name) for name in str(named).split("\0") if name][4:] if named and photometric == _SEPARATED else []
    )
    found = []
    for index in range(max(0, spare)):
        kind = _EXTRA_KINDS.get(kinds[index]) if index < len(kinds) else None
        name = names[index] if index < len(names) else f"channel {index + 1}"
        found.append(kind or name)
    return found


def _layers_in(data: Any) -> int | None:
    """The number of layers in the data block that picture programs add to a TIFF; ``None`` where there is none."""
    if not isinstance(data, (bytes, bytearray)):
        return None
    for sign, order in ((b"8BIMLayr", ">"), (b"MIB8ryaL", "<")):
        place = data.find(sign)
        if 0 <= place <= len(data) - 14:
            (count,) = struct.unpack_from(f"{order}h", data, place + 12)
            return abs(int(count))
    return None


# --- JPEG, PNG, PSD, WebP --------------------------------------------------------------------------------------------


def _jpeg(image: Any, head: bytes) -> dict[str, Any]:  # noqa: ARG001 - one signature for all kinds
    exif = image.getexif()
    unit, density = image.info.get("jfif_unit"), image.info.get("jfif_density")
    if unit in (1, 2) and density:
        scale = 1.0 if unit == 1 else MM_PER_INCH / 10.0
        ppi = _pair(density[0] * scale, density[1] * scale, "JFIF")
    else:
        ppi = _from_tags(exif, "EXIF")
    if ppi["ppi_from"] is None and image.info.get("photoshop"):
        ppi = _from_resource(image.info["photoshop"].get(_RESOLUTION_RESOURCE))
    return {
        **ppi,
        "bits": int(getattr(image, "bits", 8) or 8),
        "channels": len(image.getbands()),
        "orientation": _orientation(exif),
        "compression": "jpeg",
        "jpeg_quality": estimated_quality(getattr(image, "quantization", {}) or {}),
        "adobe_marker": "adobe" in image.info,
    }


def estimated_quality(tables: dict[int, Sequence[int]]) -> float | None:
    """The quality (1 to 100) at which the usual encoder would write this luminance table; ``None`` without one."""
    return table_quality(tables.get(0, ()))


def resolution_in_resources(data: bytes) -> tuple[float | None, float | None]:
    """The resolution in the image resources of a PSD, as they stand in the file."""
    place = data.find(b"8BIM" + _RESOLUTION_RESOURCE.to_bytes(2, "big") + b"\0\0")
    found = _from_resource(data[place + 12 :] if place >= 0 else None)
    return found["x_ppi"], found["y_ppi"]


def _from_resource(data: Any) -> dict[str, Any]:
    if isinstance(data, dict):
        x, y = _number(data.get("XResolution")), _number(data.get("YResolution"))
    elif isinstance(data, (bytes, bytearray)) and len(data) >= 16:
        x, y = struct.unpack_from(">I", data, 0)[0] / 65536.0, struct.unpack_from(">I", data, 8)[0] / 65536.0
    else:
        x = y = None
    return _pair(x, y, "image resource")


def _png(image: Any, head: bytes) -> dict[str, Any]:
    dpi = image.info.get("dpi") or (None, None)
    return {
        **_pair(_number(dpi[0]), _number(dpi[1]), "PNG pHYs"),
        # Bit depth and colour type stand in the header chunk (ISO/IEC 15948, 11.2.2).
        "bits": head[24],
        "channels": {0: 1, 2: 3, 3: 1, 4: 2, 6: 4}.get(head[25]),
        "orientation": _orientation(_png_exif(image)),
        "compression": "deflate",
        "animation_frames": int(getattr(image, "n_frames", 1)),
    }


def _png_exif(image: Any) -> Any:
    """The EXIF data if it stands before the pixels; asking Pillow for it would unpack them all."""
    from PIL import Image

    exif = Image.Exif()
    data = image.info.get("exif")
    if isinstance(data, bytes):
        exif.load(data)
    return exif


def _psd(image: Any, head: bytes) -> dict[str, Any]:
    channels, bits, mode = (int.from_bytes(head[place : place + 2], "big") for place in (12, 22, 24))
    resources = {int(item[0]): item[2] for item in getattr(image, "resources", ())}
    spare = max(0, channels - PSD_COLOURS.get(mode, channels) - (image.mode == "RGBA"))
    return {
        **_from_resource(resources.get(_RESOLUTION_RESOURCE)),
        "bits": bits,
        "channels": channels,
        "extra_channels": tuple(f"channel {index + 1}" for index in range(spare)),
        "layers": len(getattr(image, "layers", ()) or ()) or None,
    }


#: Channels that make the picture itself, by the mode in the header; duotone and multichannel are not read.
PSD_COLOURS = {0: 1, 1: 1, 2: 1, 3: 3, 4: 4, 9: 3}


def _webp(image: Any, head: bytes) -> dict[str, Any]:  # noqa: ARG001 - one signature for all kinds
    exif = image.getexif()
    return {
        **_from_tags(exif, "EXIF"),
        "bits": 8,
        "channels": len(image.getbands()),
        "orientation": _orientation(exif),
        "compression": "webp",
        "animation_frames": int(getattr(image, "n_frames", 1)),
    }
