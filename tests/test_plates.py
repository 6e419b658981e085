"""Plates against what the standards say they are: ISO 32000-2 on overprint, arithmetic on ink, and another renderer on coverage."""

from __future__ import annotations

import hashlib
from pathlib import Path
from typing import Any

import pikepdf
import pytest
from artwork import Book, mm, rectangle
from pikepdf import Array, Dictionary, Name, String
from plated import GHOSTSCRIPT_CMYK, GHOSTSCRIPT_RGB, Look, look, measured, needs_profiles, opened

from preflight.errors import ToolFault
from preflight.inventory.press import press_condition
from preflight.inventory.render import render_plates
from preflight.units import Box

pytestmark = needs_profiles

FERN = "Fern Green"

# --- ISO 32000-2, Table 146: what each plate holds after painting over C70 M20 Y0 K10 + Fern Green 50 -----------------------

UNDER = {"Cyan": 70, "Magenta": 20, "Black": 10, FERN: 50}
#: name: (colour operators, resources, without overprint, OP with OPM 0, OP with OPM 1). A plate not named holds nothing.
TABLE_146: dict[str, tuple[str, Any, dict[str, int], dict[str, int], dict[str, int]]] = {
    "DeviceCMYK black": (
        "0 0 0 1 k",
        None,
        {"Black": 100},
        {"Black": 100, FERN: 50},
        {"Cyan": 70, "Magenta": 20, "Black": 100, FERN: 50},
    ),
    "DeviceCMYK two inks": (
        "0.3 0 0.2 0 k",
        None,
        {"Cyan": 30, "Yellow": 20},
        {"Cyan": 30, "Yellow": 20, FERN: 50},
        {"Cyan": 30, "Magenta": 20, "Yellow": 20, "Black": 10, FERN: 50},
    ),
    "DeviceCMYK white": ("0 0 0 0 k", None, {}, {FERN: 50}, UNDER),
    "DeviceGray black": ("0 g", None, {"Black": 100}, {"Black": 100, FERN: 50}, {"Black": 100, FERN: 50}),
    "DeviceGray white": ("1 g", None, {}, {FERN: 50}, {FERN: 50}),
    "ICCBased CMYK": (
        "/Icc cs 0 0 0 1 sc",
        "icc",
        {"Black": 100},
        {"Black": 100, FERN: 50},
        {"Black": 100, FERN: 50},
    ),
    "Separation Black": (
        "/Blk cs 1 scn",
        "black",
        {"Black": 100},
        {"Cyan": 70, "Magenta": 20, "Black": 100, FERN: 50},
        {"Cyan": 70, "Magenta": 20, "Black": 100, FERN: 50},
    ),
    "Separation, the same spot": (
        "/Fern cs 0.2 scn",
        "fern",
        {FERN: 20},
        {"Cyan": 70, "Magenta": 20, "Black": 10, FERN: 20},
        {"Cyan": 70, "Magenta": 20, "Black": 10, FERN: 20},
    ),
    "Separation, another spot": (
        "/Moss cs 0.4 scn",
        "moss",
        {"Moss": 40},
        {**UNDER, "Moss": 40},
        {**UNDER, "Moss": 40},
    ),
    "DeviceN": (
        "/Two cs 0.3 0.6 scn",
        "two",
        {"Cyan": 30, FERN: 60},
        {"Cyan": 30, "Magenta": 20, "Black": 10, FERN: 60},
        {"Cyan": 30, "Magenta": 20, "Black": 10, FERN: 60},
    ),
    # Zero of a named colorant erases, whatever OPM says: OPM is for DeviceCMYK alone.
    "DeviceN with a zero": (
        "/Two cs 0 0.6 scn",
        "two",
        {FERN: 60},
        {"Magenta": 20, "Black": 10, FERN: 60},
        {"Magenta": 20, "Black": 10, FERN: 60},
    ),
}
STATES = {"off": {}, "OPM 0": {"OP": True, "op": True, "OPM": 0}, "OPM 1": {"OP": True, "op": True, "OPM": 1}}


def on_ground(book: Book, painting: str, state: dict[str, Any], **more: Any) -> None:
    """A page of the ground above, and over its left half a painting in the graphics state asked for."""
    ground = (
        f"0.7 0.2 0 0.1 k {rectangle(0, 0, 100, 80)} f q /Keep gs /Fern cs 0.5 scn {rectangle(0, 0, 100, 80)} f Q\n"
    )
    resources = {
        "Fern": book.spot(FERN),
        "Keep": book.state(OP=True, op=True, OPM=1),
        "State": book.state(OP=False, op=False, OPM=0) if not state else book.state(**state),
        **more,
    }
    book.page(f"{ground} q /State gs {painting} Q", resources=resources)


def named(book: Book, what: str | None) -> dict[str, Any]:
    return {
        None: dict,
        "icc": lambda: {"Icc": book.icc(GHOSTSCRIPT_CMYK, 4)},
        "black": lambda: {"Blk": book.spot("Black", (0.0, 0.0, 0.0, 1.0))},
        "fern": dict,
        "moss": lambda: {"Moss": book.spot("Moss")},
        "two": lambda: {"Two": book.device_n(["Cyan", FERN])},
    }[what]()


@pytest.mark.parametrize("state", STATES)
@pytest.mark.parametrize("row", TABLE_146)
@pytest.mark.parametrize("kind", ["fill", "stroke", "text"])
def test_overprint_follows_table_146(row: str, state: str, kind: str, tmp_path: Path) -> None:
    colour, what, *expected = TABLE_146[row]
    book = Book()
    more = named(book, what)
    if kind == "fill":
        painting = f"{colour} {rectangle(0, 0, 50, 80)} f"
    elif kind == "stroke":
        stroked = colour.replace(" cs", " CS").replace(" scn", " SCN").replace(" sc", " SC")
        stroked = stroked[:-1] + stroked[-1].upper() if stroked[-2] == " " else stroked
        painting = f"{stroked} {mm(40)} w {mm(30)} {mm(0)} m {mm(30)} {mm(80)} l S"
    else:
        more["Face"] = book.base_font("ZapfDingbats")
        painting = f"BT {colour} /Face 160 Tf {mm(5)} {mm(15)} Td (n) Tj ET"  # a solid square
    on_ground(book, painting, STATES[state], **more)
    seen = look(book, tmp_path)
    assert seen.at(30, 40) == expected[list(STATES).index(state)]
    assert seen.at(90, 40) == UNDER


@pytest.mark.parametrize("state", STATES)
@pytest.mark.parametrize("kind", ["image", "shading"])
def test_zero_erases_in_pictures_and_shadings(kind: str, state: str, tmp_path: Path) -> None:
    """Table 146, third row: DeviceCMYK that is not painted directly never keeps what lies under a zero."""
    book = Book()
    if kind == "image":
        more = {"It": book.image(4, 4, data=bytes([0, 0, 0, 255] * 16))}
        painting = f"q {mm(50)} 0 0 {mm(80)} 0 0 cm /It Do Q"
    else:
        function = Dictionary(FunctionType=2, Domain=Array([0, 1]), C0=Array([0, 0, 0, 1]), C1=Array([0, 0, 0, 1]), N=1)
        shading = Dictionary(ShadingType=2, ColorSpace=Name.DeviceCMYK, Coords=Array([0, 0, 1, 0]), Function=function)
        shading.Extend = Array([True, True])
        more = {"It": shading}
        painting = f"q {rectangle(0, 0, 50, 80)} W n /It sh Q"
    on_ground(book, painting, STATES[state], **more)
    assert look(book, tmp_path).at(30, 40) == ({"Black": 100} if state == "off" else {"Black": 100, FERN: 50})


@pytest.mark.parametrize("state", STATES)
def test_rgb_is_separated_and_keeps_spots_only_with_overprint(state: str, tmp_path: Path) -> None:
    book = Book()
    on_ground(book, f"1 1 1 rg {rectangle(0, 0, 50, 80)} f", STATES[state])
    assert look(book, tmp_path).at(30, 40) == ({} if state == "off" else {FERN: 50})


@pytest.mark.parametrize("state", STATES)
def test_a_group_as_a_whole_knocks_out(state: str, tmp_path: Path) -> None:
    """Table 146, last row; its own colour space and overprint inside do not reach the backdrop of an isolated group."""
    book = Book()
    group = Dictionary(S=Name.Transparency, CS=Name.DeviceCMYK, I=True)
    form = book.form(f"0 0 0 1 k {rectangle(0, 0, 50, 80)} f", Group=group)
    on_ground(book, "/Form Do", STATES[state], Form=form)
    assert look(book, tmp_path).at(30, 40) == {"Black": 100}


@pytest.mark.parametrize(
    ("state", "fill", "stroke"),
    [
        ({"OP": True, "OPM": 1}, UNDER, UNDER),
        ({"OP": True, "op": False, "OPM": 1}, {}, UNDER),
        ({"OP": False, "op": True, "OPM": 1}, UNDER, {}),
        ({"op": True, "OPM": 1}, UNDER, {}),
    ],
)
def test_capital_op_holds_for_fills_unless_small_op_is_there(
    state: dict[str, Any], fill: dict[str, int], stroke: dict[str, int], tmp_path: Path
) -> None:
    """ISO 32000-2, Table 57; white that overprints leaves what lies under it."""
    book = Book()
    painting = f"0 0 0 0 k 0 0 0 0 K {rectangle(0, 0, 30, 80)} f {mm(20)} w {mm(60)} 0 m {mm(60)} {mm(80)} l S"
    on_ground(book, painting, state)
    seen = look(book, tmp_path)
    assert (seen.at(15, 40), seen.at(60, 40)) == (fill, stroke)


def test_all_is_every_plate(tmp_path: Path) -> None:
    book = Book()
    on_ground(book, f"/Every cs 0.5 scn {rectangle(0, 0, 50, 80)} f", {}, Every=book.spot("All"))
    assert look(book, tmp_path).at(30, 40) == {"Cyan": 50, "Magenta": 50, "Yellow": 50, "Black": 50, FERN: 50}


# --- colour management --------------------------------------------------------------------------------------------------


def other_profile(folder: Path) -> Path:
    """A press profile that differs from the engine's built-in one: the same tables under another description."""
    data = bytearray(GHOSTSCRIPT_CMYK.read_bytes())
    place = data.index(b"Artifex CMYK")
    data[place : place + 12] = b"Tidewheel AB"
    path = folder / "press.icc"
    path.write_bytes(data)
    return path


def patches(book: Book, folder: Path) -> None:
    """K 100, a four-ink tint, RGB black, mid gray, and K 100 in the engine's own profile."""
    content = " ".join(
        f"{colour} {rectangle(20 * index, 0, 20, 80)} f"
        for index, colour in enumerate(("0 0 0 1 k", "0.5 0.4 0.3 0.2 k", "0 0 0 rg", "0.4 g", "/Icc cs 0 0 0 1 sc"))
    )
    book.page(content, resources={"Icc": book.icc(GHOSTSCRIPT_CMYK, 4)})


def seen_patches(seen: Any) -> list[dict[str, float]]:
    return [seen.at(20 * index + 10, 40) for index in range(5)]


def holds_exactly(seen: list[dict[str, float]]) -> None:
    assert seen[0] == {"Black": 100}
    assert seen[1] == {"Cyan": 50, "Magenta": 40, "Yellow": 30, "Black": 20}
    assert seen[3] == {"Black": 60}
    # RGB black goes through the profile: four inks, about 298 % in this one (lcms: 75/68/65/90).
    assert len(seen[2]) == 4
    assert 280 <= sum(seen[2].values()) <= 300


def intent(book: Book, profile: Path, components: int, subtype: str) -> Any:
    stream = book.stream(profile.read_bytes(), compress=True, N=components)
    return book.pdf.make_indirect(
        Dictionary(
            Type=Name.OutputIntent, S=Name("/" + subtype), OutputConditionIdentifier="x", DestOutputProfile=stream
        )
    )


@pytest.mark.parametrize("intents", ["none", "cmyk", "rgb", "rgb first", "identifier"])
def test_device_cmyk_passes_exactly_whatever_the_intent(intents: str, tmp_path: Path) -> None:
    book = Book()
    patches(book, tmp_path)
    press = other_profile(tmp_path)
    if intents == "identifier":
        book.output_intent("FOGRA39")
    elif intents != "none":
        rgb, cmyk = intent(book, GHOSTSCRIPT_RGB, 3, "GTS_PDFA1"), intent(book, press, 4, "GTS_PDFX")
        book.pdf.Root.OutputIntents = Array({"cmyk": [cmyk], "rgb": [rgb], "rgb first": [rgb, cmyk]}[intents])
    seen = look(book, tmp_path)
    holds_exactly(seen_patches(seen))
    from_file = intents in ("cmyk", "rgb first")
    assert seen.pixels.press.profile_from == ("file" if from_file else "built-in")
    assert ("Tidewheel" in seen.pixels.press.profile_name) is from_file
    # K 100 in a foreign profile is converted where the press is another one, and says so by its other inks.
    foreign = seen.at(90, 40)
    assert (len(foreign) == 4) is from_file


def test_the_shops_profile_stands_in_and_the_file_is_not_touched(tmp_path: Path) -> None:
    book = Book()
    patches(book, tmp_path)
    path = book.save(tmp_path / "art.pdf")
    before = hashlib.sha256(path.read_bytes()).hexdigest()
    it = opened(path)
    press = press_condition(it.document, str(other_profile(tmp_path)))
    assert (press.profile_from, press.profile_name) == ("shop", "Tidewheel AB SWOP Profile")
    seen = Look(it, render_plates(it.document, it.page, it.frame, it.frame.trim_mm))
    holds_exactly(seen_patches(seen))
    assert hashlib.sha256(path.read_bytes()).hexdigest() == before


def test_a_files_own_profile_comes_before_the_shops(tmp_path: Path) -> None:
    book = Book()
    patches(book, tmp_path)
    book.output_intent("x", other_profile(tmp_path))
    it = opened(book.save(tmp_path / "art.pdf"))
    assert press_condition(it.document, str(GHOSTSCRIPT_CMYK)).profile_from == "file"


def test_a_profile_that_all_pages_bring_themselves_is_the_files(tmp_path: Path) -> None:
    book = Book()
    patches(book, tmp_path)
    book.output_intent("x", other_profile(tmp_path))
    intents = book.pdf.Root.OutputIntents
    del book.pdf.Root.OutputIntents
    for page in book.pdf.pages:
        page.obj.OutputIntents = intents
    it = opened(book.save(tmp_path / "art.pdf"))
    press = press_condition(it.document, str(GHOSTSCRIPT_CMYK))
    assert (press.profile_from, press.profile_name) == ("file", "Tidewheel AB SWOP Profile")
    book.page("0 0 0 1 k 0 0 9 9 re f")  # a page without one: nobody's intent holds for all
    assert press_condition(opened(book.save(tmp_path / "two.pdf")).document, "").profile_from == "built-in"


@pytest.mark.parametrize("content", [b"", b"not a profile", GHOSTSCRIPT_RGB])
def test_a_press_profile_that_is_none_is_told(content: Any, tmp_path: Path) -> None:
    profile = tmp_path / "wrong.icc"
    profile.write_bytes(content.read_bytes() if isinstance(content, Path) else content)
    book = Book()
    book.page()
    it = opened(book.save(tmp_path / "art.pdf"))
    with pytest.raises(ToolFault, match=r"wrong\.icc"):
        press_condition(it.document, str(profile))


# --- spots wherever they hide -------------------------------------------------------------------------------------------


def test_spots_are_plates_wherever_they_are_nested(tmp_path: Path) -> None:
    book = Book()
    patch = f"/S cs 1 scn {rectangle(0, 0, 10, 10)} f"

    def form(name: str, content: str = patch, **more: Any) -> Any:
        return book.form(content, resources={"S": book.spot(name), **more})

    tint = Dictionary(FunctionType=2, Domain=Array([0, 1]), C0=Array([1]), C1=Array([1]), N=1)

    def shading(name: str) -> Any:
        ramp = Dictionary(ShadingType=2, ColorSpace=book.spot(name), Coords=Array([0, 0, 1, 0]), Function=tint)
        ramp.Extend = Array([True, True])
        return ramp

    colourless = book.tiling("0 0 9 9 re f", cell=(9, 9))
    colourless.PaintType = 2
    glyph = book.type3_font({"a": "1000 0 d0 /S cs 1 scn 0 0 1000 1000 re f"}, resources={"S": book.spot("In Type 3")})
    resources = {
        "Face": glyph,
        "Form": form("In Form"),
        "Deep": form("Beside", "/Inner Do", Inner=form("In Form Two Deep")),
        "Tiles": book.tiling("/S cs 1 scn 0 0 9 9 re f", cell=(9, 9), resources={"S": book.spot("In Pattern")}),
        "Ramp": shading("In Shading"),
        "RampPattern": book.pdf.make_indirect(
            Dictionary(Type=Name.Pattern, PatternType=2, Shading=shading("In Shading Pattern"))
        ),
        "Picture": book.image(4, 4, space=book.spot("In Picture"), data=b"\xff" * 16),
        "Indexed": book.image(
            4, 4, space=Array([Name.Indexed, book.spot("In Indexed"), 1, String(b"\x00\xff")]), data=b"\x01" * 16
        ),
        "Tint": Array([Name.Pattern, book.spot("In Uncoloured Pattern")]),
        "Colourless": colourless,
    }
    steps = {
        "In Type 3": f"BT /Face {mm(10)} Tf (a) Tj ET",
        "In Form": "/Form Do",
        "In Form Two Deep": "/Deep Do",
        "In Pattern": f"/Pattern cs /Tiles scn {rectangle(0, 0, 10, 10)} f",
        "In Shading": f"{rectangle(0, 0, 10, 10)} W n /Ramp sh",
        "In Shading Pattern": f"/Pattern cs /RampPattern scn {rectangle(0, 0, 10, 10)} f",
        "In Picture": f"{mm(10)} 0 0 {mm(10)} 0 0 cm /Picture Do",
        "In Indexed": f"{mm(10)} 0 0 {mm(10)} 0 0 cm /Indexed Do",
        "In Uncoloured Pattern": f"/Tint cs 1 /Colourless scn {rectangle(0, 0, 10, 10)} f",
    }
    content = " ".join(f"q 1 0 0 1 {mm(11 * place)} 0 cm {step} Q" for place, step in enumerate(steps.values()))
    page = book.page(content, resources=resources)
    shown = form("In Annotation")
    shown.BBox = Array([0, 0, mm(10), mm(10)])
    corner = mm(10)
    page.obj.Annots = Array(
        [
            book.pdf.make_indirect(
                Dictionary(
                    Type=Name.Annot,
                    Subtype=Name.Stamp,
                    Rect=Array([corner, corner + mm(20), corner + mm(10), corner + mm(30)]),
                    F=4,
                    AP=Dictionary(N=shown),
                )
            )
        ]
    )
    seen = look(book, tmp_path)
    # 5 mm in: inside a tile of the patterns as well.
    assert {name: seen.at(11 * place + 4.5, 4.5) for place, name in enumerate(steps)} == {
        name: {name: 100} for name in steps
    }
    assert seen.at(4.5, 24.5) == {"In Annotation": 100}


@pytest.mark.parametrize("count", [1, 28, 29, 64, 70])
def test_more_spots_than_one_rendering_holds(count: int, tmp_path: Path) -> None:
    book = Book()
    names = [f"Ink {index}" for index in range(count)]
    patch = [
        f"/S{index} cs 1 scn {rectangle(2 + index % 10 * 9, 1 + index // 10 * 11, 8, 9)} f" for index in range(count)
    ]
    book.page(
        f"0.2 0.1 0 0 k {rectangle(0, 0, 100, 80)} f " + " ".join(patch),
        resources={f"S{index}": book.spot(name) for index, name in enumerate(names)},
    )
    seen = look(book, tmp_path)
    assert sorted(seen.pixels.inks[4:]) == sorted(names)
    for index, name in enumerate(names):
        assert seen.at(6 + index % 10 * 9, 5 + index // 10 * 11) == {name: 100}
    assert seen.at(1, 40) == {"Cyan": 20, "Magenta": 10}


@pytest.mark.parametrize("written", [b"/Gr#fcn", b"/Caf#C3#A9", b"/#FF#FE", b"/Two#20Words", b"/#3Cb#3E", b"/A#0AB"])
def test_spot_names_of_any_bytes(written: bytes, tmp_path: Path) -> None:
    book = Book()
    book.page(f"/S cs 1 scn {rectangle(0, 0, 50, 80)} f", resources={"S": book.spot("PLACEHOLDER")})
    path = book.save(tmp_path / "plain.pdf")
    with pikepdf.open(path) as pdf:
        pdf.save(tmp_path / "named.pdf", object_stream_mode=pikepdf.ObjectStreamMode.disable)
    data = (tmp_path / "named.pdf").read_bytes().replace(b"/PLACEHOLDER", written)
    (tmp_path / "named.pdf").write_bytes(data)
    it = opened(tmp_path / "named.pdf")
    pixels = render_plates(it.document, it.page, it.frame, it.frame.trim_mm)
    assert len(pixels.inks) == 5
    assert pixels.planes[4].max() == 255
    assert pixels.planes[:4] is not None
    assert not any(plane.any() for plane in pixels.planes[:4])


def test_a_spot_that_nothing_uses_has_no_plate(tmp_path: Path) -> None:
    book = Book()
    book.page(f"0 0 0 1 k {rectangle(0, 0, 50, 80)} f", resources={"Unused": book.spot("Unused")})
    plates, pixels = measured(book, tmp_path)
    assert [plate.ink for plate in plates.plates] == ["Cyan", "Magenta", "Yellow", "Black"]
    assert pixels.inks == ("Cyan", "Magenta", "Yellow", "Black")


# --- what prints ----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("flags", "prints"), [(4, True), (0, False), (4 | 2, False), (4 | 32, True)])
def test_annotations_are_on_the_plates_as_they_print(flags: int, prints: bool, tmp_path: Path) -> None:
    """ISO 32000-2, Table 167: Print is bit 3, Hidden bit 2, NoView (for the screen only) bit 6."""
    book = Book()
    page = book.page("")
    shown = book.form("1 0 0 0 k 0 0 30 30 re f", BBox=Array([0, 0, 30, 30]))
    corner = mm(10)
    page.obj.Annots = Array(
        [
            book.pdf.make_indirect(
                Dictionary(
                    Type=Name.Annot,
                    Subtype=Name.Stamp,
                    Rect=Array([corner, corner, corner + 30, corner + 30]),
                    F=flags,
                    AP=Dictionary(N=shown),
                )
            )
        ]
    )
    assert look(book, tmp_path).at(5, 5) == ({"Cyan": 100} if prints else {})


def test_ink_outside_the_crop_box_is_on_the_plates(tmp_path: Path) -> None:
    book = Book()
    book.page(f"1 0 0 0 k {rectangle(-3, -3, 106, 86)} f", boxes={"CropBox": [mm(10), mm(10), mm(110), mm(90)]})
    assert look(book, tmp_path).at(-2.5, -2.5) == {"Cyan": 100}


# --- see-through art: ISO 32000-2, 11.3.5 and 11.3.6 ---------------------------------------------------------------------


def blended(mode: str, under: float, over: float, opacity: float) -> int:
    """Ink in percent after blending one plate: the formulas are for light, 1 - ink."""
    below, above = 1.0 - under, 1.0 - over
    mixed = {
        "Normal": above,
        "Multiply": below * above,
        "Screen": below + above - below * above,
        "Darken": min(below, above),
    }[mode]
    return round(100.0 * (1.0 - ((1.0 - opacity) * below + opacity * mixed)))


@pytest.mark.parametrize("mode", ["Normal", "Multiply", "Screen", "Darken"])
@pytest.mark.parametrize("how", ["fill", "stroke", "open group", "isolated group", "page group"])
def test_see_through_art_blends_by_the_book(how: str, mode: str, tmp_path: Path) -> None:
    book = Book()
    under, over, opacity = (0.2, 0.5, 0.8, 0.1), (0.5, 0.6, 0.0, 1.0), 0.6
    state = book.state(ca=opacity, CA=opacity, BM=Name("/" + mode))
    ink = " ".join(str(value) for value in over)
    painting = f"{ink} k {rectangle(0, 0, 50, 80)} f"
    if how == "stroke":
        painting = f"{ink} K {mm(80)} w 0 {mm(40)} m {mm(50)} {mm(40)} l S"
    resources: dict[str, Any] = {"State": state}
    more: dict[str, Any] = {}
    if "group" in how and how != "page group":
        group = Dictionary(S=Name.Transparency, CS=Name.DeviceCMYK, I=how == "isolated group")
        inner = book.state(ca=opacity, CA=opacity)
        resources["Form"] = book.form(f"/In gs {painting}", resources={"In": inner}, Group=group)
        resources["State"] = book.state(BM=Name("/" + mode))
        painting = "/Form Do"
    elif how == "page group":
        more["Group"] = Dictionary(S=Name.Transparency, CS=Name.DeviceCMYK, I=True)
    ground = f"{' '.join(str(value) for value in under)} k {rectangle(0, 0, 100, 80)} f"
    book.page(f"{ground} /State gs {painting}", resources=resources, **more)
    seen = look(book, tmp_path).at(25, 40)
    inks = zip(("Cyan", "Magenta", "Yellow", "Black"), under, over, strict=True)
    expected = {name: blended(mode, below, above, opacity) for name, below, above in inks}
    assert seen == pytest.approx({name: value for name, value in expected.items() if value}, abs=1)


def test_abutting_tiles_add_up_even_beside_see_through_art(tmp_path: Path) -> None:
    """60 x 4 is 240 % in every pixel of a ground cut into strips; with anti-aliasing seams read 179 %."""
    book = Book()
    strips = " ".join(f"{rectangle(0.3 + 0.9731 * index, 10, 0.9731, 60)} f" for index in range(60))
    content = f"0.6 0.6 0.6 0.6 k {strips} /See gs 0 0 0 1 k {rectangle(70, 10, 20, 20)} f"
    book.page(content, resources={"See": book.state(ca=0.5, BM=Name.Multiply)})
    pixels = look(book, tmp_path).pixels
    top, bottom, left, right = pixels.pixel_box(Box(2, 12, 56, 68))
    total = sum(plane[top:bottom, left:right].astype(int) for plane in pixels.planes)
    assert total.min() == total.max() == 4 * 153
