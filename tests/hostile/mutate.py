"""Spoils good files in the ways the world does, and in ways somebody might on purpose; the same seed spoils the same way.

Blind hands flip, cut, drop and repeat bytes, as broken uploads do. The others know a PDF from inside: they let streams lie
about their length, swap objects, nest arrays and forms without end, write enormous numbers, and pack bombs.
"""

from __future__ import annotations

import io
import random
import re
import zlib
from collections.abc import Callable

import pikepdf
from pikepdf import Array, Dictionary, Name, Stream

Hand = Callable[[bytes, random.Random], bytes]

HUGE = (b"2147483648", b"-2147483649", b"99999999999999999999", b"1e308", b"-0.000000000001", b"4294967295", b"NaN")
_NUMBER = re.compile(rb"(?<![\w.])-?\d+(?:\.\d+)?(?![\w.])")


def spoil(data: bytes, seed: int) -> tuple[str, bytes]:
    """The name of the hand that was at work, and what it left."""
    chance = random.Random(seed)
    hands = HANDS if data.startswith(b"%PDF") else BLIND_HANDS
    hand = hands[seed % len(hands)]
    return hand.__name__, hand(data, chance)


# --- without knowing what it is --------------------------------------------------------------------------------------


def flip_bytes(data: bytes, chance: random.Random) -> bytes:
    spoilt = bytearray(data)
    for _ in range(chance.choice((1, 3, 20, 200))):
        spoilt[chance.randrange(len(spoilt))] ^= 1 << chance.randrange(8)
    return bytes(spoilt)


def cut_short(data: bytes, chance: random.Random) -> bytes:
    return data[: chance.randrange(len(data))]


def cut_middle(data: bytes, chance: random.Random) -> bytes:
    start = chance.randrange(len(data))
    return data[:start] + data[start + chance.randrange(1, 5000) :]


def zero_block(data: bytes, chance: random.Random) -> bytes:
    start, length = chance.randrange(len(data)), chance.choice((16, 512, 65536))
    return data[:start] + bytes(min(length, len(data) - start)) + data[start + length :]


def repeat_block(data: bytes, chance: random.Random) -> bytes:
    start = chance.randrange(len(data))
    block = data[start : start + chance.randrange(1, 4000)]
    return data[:start] + block * chance.choice((2, 50)) + data[start:]


def flip_head(data: bytes, chance: random.Random) -> bytes:
    spoilt = bytearray(data)
    for _ in range(4):
        spoilt[chance.randrange(min(len(spoilt), 400))] = chance.randrange(256)
    return bytes(spoilt)


# --- knowing the words of a PDF ----------------------------------------------------------------------------------------


def lie_about_length(data: bytes, chance: random.Random) -> bytes:
    lengths = list(re.finditer(rb"/Length (\d+)", data))
    if not lengths:
        return flip_bytes(data, chance)
    found = chance.choice(lengths)
    lie = chance.choice((b"0", b"1", b"-5", b"99999999", b"4294967296", str(int(found[1]) // 2).encode()))
    return data[: found.start(1)] + lie + data[found.end(1) :]


def huge_number(data: bytes, chance: random.Random) -> bytes:
    """A number somewhere in the plain parts of the file becomes enormous."""
    numbers = [found for found in _NUMBER.finditer(data[:200_000]) if b"\0" not in found[0]]
    for _ in range(chance.choice((1, 5))):
        found = chance.choice(numbers)
        data = data[: found.start()] + chance.choice(HUGE) + data[found.end() :]
    return data


def swap_objects(data: bytes, chance: random.Random) -> bytes:
    """References point at other objects than they did: pages at fonts, pictures at pages, anything at itself."""
    references = list(re.finditer(rb"\b(\d+) 0 R", data))
    for _ in range(chance.choice((1, 3, 10))):
        if not references:
            return flip_bytes(data, chance)
        taken, given = chance.choice(references), chance.choice(references)
        digits = given[1].rjust(len(taken[1]), b"0")
        if len(digits) == len(taken[1]):
            data = data[: taken.start(1)] + digits + data[taken.end(1) :]
    return data


def swap_names(data: bytes, chance: random.Random) -> bytes:
    """Keys and types change places: a font that says it is a picture, a page without a media box."""
    names = [
        b"/Type",
        b"/Subtype",
        b"/MediaBox",
        b"/Kids",
        b"/Count",
        b"/Contents",
        b"/Resources",
        b"/Width",
        b"/Filter",
    ]
    names += [b"/ColorSpace", b"/FontFile3", b"/Encoding", b"/Widths", b"/DeviceCMYK", b"/DCTDecode", b"/FlateDecode"]
    for _ in range(chance.choice((1, 2, 4))):
        places = [found.start() for found in re.finditer(re.escape(chance.choice(names)), data)]
        if places:
            place, put = chance.choice(places), chance.choice(names)
            data = data[:place] + put + data[place + len(put) :]
    return data


# --- knowing its structure -----------------------------------------------------------------------------------------------


def nest_deeply(data: bytes, chance: random.Random) -> bytes:
    """Arrays in arrays, thousands deep, where a box or a content stream is expected."""
    depth = chance.choice((200, 5000, 100_000))
    nested = b"[" * depth + b"]" * depth
    place = data.rfind(b"/MediaBox")
    if chance.random() < 0.5 or place < 0:
        return _with_content(data, chance, b"/X " + nested + b" 0 d " + b"q " * depth)
    return data[:place] + b"/Deep " + nested + b" " + data[place:]


def nest_forms(data: bytes, chance: random.Random) -> bytes:
    """Forms that draw each other, ten times each: harmless to look at, endless to draw; or a form that draws itself."""

    def build(pdf: pikepdf.Pdf) -> None:
        box = Array([0, 0, 100, 100])
        form = pdf.make_stream(b"0 0 10 10 re f", Type=Name.XObject, Subtype=Name.Form, BBox=box)
        for _ in range(chance.choice((3, 30))):
            drawn = Dictionary(XObject=Dictionary(F=form))
            form = pdf.make_stream(b"/F Do " * 10, Type=Name.XObject, Subtype=Name.Form, BBox=box, Resources=drawn)
        if chance.random() < 0.4:
            form.Resources.XObject.F = form
        page = pdf.pages[0]
        page.Resources = Dictionary(XObject=Dictionary(F=form))
        page.Contents = pdf.make_stream(b"/F Do")

    return _rebuilt(data, chance, build)


def pack_bomb(data: bytes, chance: random.Random) -> bytes:
    """A stream of a few kilobytes that unpacks to hundreds of megabytes."""
    return _with_content(
        data, chance, _bomb(chance.choice((b" ", b"0 0 1 1 re f ", b"q ", b"(")), 300_000_000), packed=True
    )


def twist_tree(data: bytes, chance: random.Random) -> bytes:
    """A page tree that runs in a circle, or counts what is not there."""

    def build(pdf: pikepdf.Pdf) -> None:
        tree = pdf.Root.Pages
        kind = chance.randrange(4)
        if kind == 0:
            tree.Kids.append(tree)
        elif kind == 1:
            tree.Count = chance.choice((-1, 0, 2**31 - 1, 10**9))
        elif kind == 2:
            tree.Kids[0].Parent = tree.Kids[0]
            del tree.Kids[0].MediaBox
        else:
            tree.Kids.append(pdf.Root)

    return _rebuilt(data, chance, build)


def odd_picture(data: bytes, chance: random.Random) -> bytes:
    """A picture that claims another size, depth or colour than it has."""

    def build(pdf: pikepdf.Pdf) -> None:
        pictures = [thing for thing in pdf.objects if isinstance(thing, Stream) and thing.get("/Subtype") == "/Image"]
        for picture in pictures or [pdf.make_stream(b"", Type=Name.XObject, Subtype=Name.Image)]:
            key, value = chance.choice(
                (
                    ("/Width", 2**31 - 1),
                    ("/Width", 60_000),
                    ("/Height", 0),
                    ("/Height", -4),
                    ("/BitsPerComponent", 3),
                    ("/ColorSpace", Name.DeviceRGB),
                    ("/ColorSpace", Array([Name.Indexed, Name.DeviceCMYK, 255, b""])),
                    ("/Filter", Array([Name.FlateDecode] * 40)),
                    ("/SMask", picture),
                    ("/Decode", Array([1, 0])),
                )
            )
            picture[key] = value

    return _rebuilt(data, chance, build)


def odd_colour(data: bytes, chance: random.Random) -> bytes:
    """Inks by the hundred, names that are no text, spaces that stand on themselves, functions that do not end."""

    def build(pdf: pikepdf.Pdf) -> None:
        endless = pdf.make_stream(b"{ " + b"dup mul " * 20_000 + b"}")
        endless.FunctionType, endless.Domain, endless.Range = 4, Array([0, 1]), Array([0, 1] * 4)
        names = [Name(f"/Ink#20{number}") for number in range(chance.choice((3, 33, 300)))]
        spaces = {
            "/A": Array([Name.DeviceN, Array(names), Name.DeviceCMYK, endless]),
            "/B": Array([Name.Separation, Name("/<b>\u202e&amp;"), Name.DeviceCMYK, endless]),
            "/C": pdf.make_indirect(Array([Name.Indexed, Name.DeviceCMYK, 10**9, b"\0"])),
        }
        spaces["/C"][1] = spaces["/C"]
        page = pdf.pages[0]
        page.Resources = Dictionary(ColorSpace=Dictionary(spaces))
        page.Contents = pdf.make_stream(
            b"/A cs " + b"1 " * len(names) + b"scn 0 0 99 99 re f /B cs 1 scn 50 50 99 99 re f /C cs 1 sc 0 0 9 9 re f"
        )

    return _rebuilt(data, chance, build)


def odd_boxes(data: bytes, chance: random.Random) -> bytes:
    """Boxes without area, inside out, enormous, or made of anything but numbers."""

    def build(pdf: pikepdf.Pdf) -> None:
        boxes = (
            Array([0, 0, 0, 0]),
            Array([500, 500, 0, 0]),
            Array([0, 0, 1e9, 1e9]),
            Array([-1e30, 0, 1e30, 1]),
            Array([0, 0]),
            Array([Name.A, Name.B, Name.C, Name.D]),
            Name.None_,
            Dictionary(),
        )
        for page in pdf.pages:
            page[chance.choice(("/MediaBox", "/TrimBox", "/CropBox", "/BleedBox"))] = chance.choice(boxes)
            if chance.random() < 0.5:
                page.UserUnit = chance.choice((0, -1, 1e9, 1e-9))
            page.Rotate = chance.choice((0, 45, 90, 10**12, -270))

    return _rebuilt(data, chance, build)


BLIND_HANDS: tuple[Hand, ...] = (flip_bytes, cut_short, cut_middle, zero_block, repeat_block, flip_head)
HANDS: tuple[Hand, ...] = (
    *BLIND_HANDS,
    lie_about_length,
    huge_number,
    swap_objects,
    swap_names,
    nest_deeply,
    nest_forms,
    pack_bomb,
    twist_tree,
    odd_picture,
    odd_colour,
    odd_boxes,
)


def _rebuilt(data: bytes, chance: random.Random, build: Callable[[pikepdf.Pdf], None]) -> bytes:
    """The file after ``build`` had its way with its objects; one that cannot be opened is flipped instead."""
    try:
        with pikepdf.open(io.BytesIO(data)) as pdf:
            build(pdf)
            written = io.BytesIO()
            pdf.save(written, static_id=True, object_stream_mode=pikepdf.ObjectStreamMode.disable)
    except (pikepdf.PikepdfError, ValueError, AttributeError, KeyError, RuntimeError):
        return flip_bytes(data, chance)
    return written.getvalue()


def _with_content(data: bytes, chance: random.Random, content: bytes, *, packed: bool = False) -> bytes:
    def build(pdf: pikepdf.Pdf) -> None:
        stream = Stream(pdf, content)
        if packed:
            stream.Filter = Name.FlateDecode
        pdf.pages[chance.randrange(len(pdf.pages))].Contents = pdf.make_indirect(stream)

    return _rebuilt(data, chance, build)


def _bomb(pattern: bytes, size: int) -> bytes:
    """``size`` bytes of ``pattern``, packed piece by piece so that they never lie in memory."""
    packer = zlib.compressobj(9)
    block = pattern * (1_000_000 // len(pattern))
    pieces = [packer.compress(block) for _ in range(size // len(block))]
    return b"".join([*pieces, packer.flush()])
