"""Colours and inks found in PDFs wherever they hide, and left alone where they do not print.

What is painted is known, since the artwork is made here; coverage is the painted area over the trim's (arithmetic).
"""

from __future__ import annotations

import os
from pathlib import Path

import pytest
from artwork import Book, _linear, mm, rectangle
from pikepdf import Array, Dictionary, Name
from PIL import Image
from whole import found_in, report_of

PATCH = rectangle(10, 20, 30, 20)
WHITE_POINT = Array([0.9505, 1.0, 1.089])
#: Profiles that come with ghostscript (libgs-common).
ICC = Path("/usr/share/color/icc/ghostscript")
profiles = pytest.mark.skipif(
    not ICC.exists() and os.environ.get("CI") != "true", reason="needs the profiles of libgs-common"
)


def kinds(findings):
    return sorted({finding.id.partition(".")[2] for finding in findings})


def transparency(space) -> Dictionary:
    return Dictionary(S=Name.Transparency, CS=space, I=True)


# --- RGB in every disguise ---


def in_vector(book):
    book.page(f"1 0 0 rg {PATCH} f")


def in_stroke(book):
    book.page(f"0.2 0.4 0.1 RG 5 w {PATCH} S")


def in_nested_forms(book):
    inner = book.form(f"1 0 0 rg {PATCH} f")
    outer = book.form("/Inner Do", resources={"Inner": inner})
    book.page("/Outer Do", resources={"Outer": outer})


def in_pattern(book):
    cell = book.tiling("1 0 0 rg 0 0 5 5 re f", cell=(10, 10))
    book.page(f"/Pattern cs /P scn {PATCH} f", resources={"P": cell})


def in_shading(book):
    shading = Dictionary(
        ShadingType=2,
        ColorSpace=Name.DeviceRGB,
        Coords=Array([0, 0, mm(40), 0]),
        Function=_linear([1.0, 0.0, 0.0], [0.0, 0.0, 1.0]),
    )
    book.page(f"q {PATCH} W n /S sh Q", resources={"S": shading})


def in_shading_pattern(book):
    shading = Dictionary(
        ShadingType=2,
        ColorSpace=Name.DeviceRGB,
        Coords=Array([0, 0, mm(40), 0]),
        Function=_linear([1.0, 0.0, 0.0], [0.0, 0.0, 1.0]),
        Extend=Array([True, True]),
    )
    pattern = Dictionary(Type=Name.Pattern, PatternType=2, Shading=shading)
    book.page(f"/Pattern cs /P scn {PATCH} f", resources={"P": pattern})


def in_indexed_colour(book):
    table = book.stream(bytes([255, 0, 0, 0, 0, 255]))
    space = Array([Name.Indexed, Name.DeviceRGB, 1, table])
    book.page(f"/I cs 1 sc {PATCH} f", resources={"I": space})


def in_calibrated(book):
    space = Array([Name.CalRGB, Dictionary(WhitePoint=WHITE_POINT)])
    book.page(f"/C cs 1 0 0 sc {PATCH} f", resources={"C": space})


def in_type3(book):
    font = book.type3_font({"a": "1000 0 d0 1 0 0 rg 0 0 800 800 re f"})
    book.page(f"BT /F 60 Tf {mm(20)} {mm(20)} Td (a) Tj ET", resources={"F": font})


def in_annotation(book):
    page = book.page("")
    x, y = mm(30), mm(30)
    look = book.form("1 0 0 rg 0 0 60 40 re f", BBox=Array([0, 0, 60, 40]))
    note = Dictionary(
        Type=Name.Annot, Subtype=Name.Stamp, Rect=Array([x, y, x + 60, y + 40]), F=4, AP=Dictionary(N=look)
    )
    page.obj.Annots = Array([book.pdf.make_indirect(note)])


def in_default_of_a_form(book):
    """A form inherits nothing: its own resources say what its device colours are."""
    form = book.form(f"1 0 0 rg {PATCH} f")
    form.Resources.ColorSpace = Dictionary(DefaultRGB=Array([Name.CalRGB, Dictionary(WhitePoint=WHITE_POINT)]))
    book.page("/F Do", resources={"F": form})


VECTORS = [
    in_vector,
    in_stroke,
    in_nested_forms,
    in_pattern,
    in_shading,
    in_shading_pattern,
    in_indexed_colour,
    in_calibrated,
    in_type3,
    in_default_of_a_form,
]


@pytest.mark.parametrize("draw", VECTORS)
def test_rgb_vectors_are_found_in_every_disguise(draw, tmp_path) -> None:
    book = Book()
    draw(book)
    findings = found_in(book, tmp_path, "colour")
    assert [finding.details["what"] for finding in findings if finding.id == "colour.rgb"] == ["vectors"]


def test_the_place_and_area_of_rgb(tmp_path) -> None:
    """A patch of 30 x 20 mm, 10 mm from the left and 40 mm from the top of a trim of 80 mm."""
    book = Book()
    in_nested_forms(book)
    (finding,) = (each for each in found_in(book, tmp_path, "colour") if each.id == "colour.rgb")
    assert finding.box_mm == pytest.approx([10.0, 40.0, 40.0, 60.0], abs=0.1)
    assert finding.measured == pytest.approx(600.0, rel=0.02)


def picture(book, space, **entries):
    image = book.image(60, 40, space=space, **entries)
    book.page(f"q {mm(30)} 0 0 {mm(20)} {mm(10)} {mm(20)} cm /Im Do Q", resources={"Im": image})


def indexed_rgb(book):
    return Array([Name.Indexed, Name.DeviceRGB, 3, book.stream(bytes(range(0, 240, 20)))])


@pytest.mark.parametrize(
    "space",
    [lambda _: Name.DeviceRGB, indexed_rgb, lambda _: Array([Name.CalRGB, Dictionary(WhitePoint=WHITE_POINT)])],
    ids=["device", "indexed", "calibrated"],
)
def test_rgb_pictures_are_found(space, tmp_path) -> None:
    book = Book()
    picture(book, space(book), bits=8)
    (finding,) = (each for each in found_in(book, tmp_path, "colour") if each.id == "colour.rgb")
    assert finding.details["what"] == "images"
    assert finding.box_mm == pytest.approx([10.0, 40.0, 40.0, 60.0], abs=0.1)


def test_an_inline_picture_in_rgb_is_found(tmp_path) -> None:
    book = Book()
    data = bytes(range(12)).decode("latin-1")
    book.page(f"q {mm(30)} 0 0 {mm(20)} 0 0 cm BI /W 2 /H 2 /CS /RGB /BPC 8 ID {data}\nEI Q")
    (finding,) = (each for each in found_in(book, tmp_path, "colour") if each.id == "colour.rgb")
    assert finding.details["what"] == "images"


@profiles
@pytest.mark.parametrize("what", ["vectors", "images"])
def test_rgb_with_a_profile_is_found(what, tmp_path) -> None:
    book = Book()
    space = book.icc(ICC / "default_rgb.icc", 3)
    if what == "images":
        picture(book, space)
    else:
        book.page(f"/C cs 1 0 0 sc {PATCH} f", resources={"C": space})
    (finding,) = (each for each in found_in(book, tmp_path, "colour") if each.id == "colour.rgb")
    assert finding.details["what"] == what


def test_a_printing_annotation_in_rgb_is_found(tmp_path) -> None:
    book = Book()
    in_annotation(book)
    assert "rgb" in kinds(found_in(book, tmp_path, "colour"))


def test_a_soft_mask_made_in_rgb_is_found(tmp_path) -> None:
    book = Book()
    group = book.form(f"1 1 0 rg {PATCH} f", Group=transparency(Name.DeviceRGB))
    mask = book.state(SMask=Dictionary(Type=Name.Mask, S=Name.Luminosity, G=group))
    book.page(f"/M gs 0 0 0 0.5 k {PATCH} f", resources={"M": mask})
    found = [each.details["what"] for each in found_in(book, tmp_path, "colour") if each.id == "colour.rgb"]
    assert found == ["soft masks"]


def test_a_mask_of_strength_alone_takes_no_colour(tmp_path) -> None:
    """ISO 32000-2, 11.5.2: of an alpha mask's group only the strength counts."""
    book = Book()
    group = book.form(f"1 0 0 rg {PATCH} f", Group=transparency(Name.DeviceRGB))
    mask = book.state(SMask=Dictionary(Type=Name.Mask, S=Name.Alpha, G=group))
    after = "/None gs 1 0 0 rg 30 30 50 50 re f"
    book.page(f"q /M gs 0 0 0 0.5 k {PATCH} f Q", resources={"M": mask})
    assert "rgb" not in kinds(found_in(book, tmp_path, "colour"))
    book.page(f"q /M gs 0 0 0 0.5 k {PATCH} f Q {after}", resources={"M": mask, "None": book.state(SMask=Name.None_)})
    assert [each.page for each in found_in(book, tmp_path, "colour") if each.id == "colour.rgb"] == [2]


def test_an_isolated_group_that_blends_in_rgb_is_found(tmp_path) -> None:
    book = Book()
    group = book.form(f"0 1 0 0 k {PATCH} f", Group=transparency(Name.DeviceRGB))
    multiply = book.state(BM=Name.Multiply)
    book.page("/M gs /G Do", resources={"M": multiply, "G": group})
    (found,) = [each for each in found_in(book, tmp_path, "colour") if each.id == "colour.rgb"]
    assert found.details["what"] == "blend spaces"
    # The patch in trim space (page 100 x 80 mm), not the group's own box, which is larger than the page.
    assert found.box_mm == pytest.approx([10, 40, 40, 60], abs=0.5)
    assert found.measured == pytest.approx(600, rel=0.02)


def test_a_page_that_blends_in_rgb_is_found(tmp_path) -> None:
    book = Book()
    half = book.state(ca=0.5)
    book.page(f"/H gs 0 1 0 0 k {PATCH} f", resources={"H": half}, Group=transparency(Name.DeviceRGB))
    found = [each.details["what"] for each in found_in(book, tmp_path, "colour") if each.id == "colour.rgb"]
    assert found == ["blend spaces"]


# --- RGB that does not print, and what is no RGB ---


def hidden_layer(book):
    layer = book.layer("draft", on=False)
    book.page(f"/OC /L BDC 1 0 0 rg {PATCH} f EMC", resources={"L": layer})


def clipped_away(book):
    book.page(f"q {rectangle(60, 60, 5, 5)} W n 1 0 0 rg {PATCH} f Q")


def unused_form(book):
    book.page("0 0 0 1 k 0 0 10 10 re f", resources={"F": book.form(f"1 0 0 rg {PATCH} f")})


def covered(book):
    book.page(f"1 0 0 rg {PATCH} f 0 0 0 0.2 k {rectangle(5, 15, 50, 40)} f")


def off_the_page(book):
    book.page(f"1 0 0 rg {rectangle(200, 20, 30, 20)} f")


def outside_the_bleed(book):
    book.page(f"1 0 0 rg {rectangle(-9, 20, 5, 20)} f")


def no_alpha(book):
    book.page(f"/N gs 1 0 0 rg {PATCH} f", resources={"N": book.state(ca=0)})


def invisible_text(book):
    book.page(f"1 0 0 rg BT /F 20 Tf 3 Tr {mm(20)} {mm(20)} Td (fern) Tj ET", resources={"F": book.base_font()})


def white_paper(book):
    book.page(f"1 1 1 rg {PATCH} f")


def spot_with_rgb_alternate(book):
    space = Array([Name.Separation, Name("/Fern Green"), Name.DeviceRGB, _linear([1.0, 1, 1], [0.1, 0.5, 0.1])])
    book.page(f"/S cs 1 scn {PATCH} f", resources={"S": space})


def opaque_page_group(book):
    book.page(f"0 1 0 0 k {PATCH} f", Group=transparency(Name.DeviceRGB))


def note_that_does_not_print(book):
    in_annotation(book)
    book.pdf.pages[0].Annots[0].F = 0


@pytest.mark.parametrize(
    "draw",
    [
        hidden_layer,
        clipped_away,
        unused_form,
        covered,
        off_the_page,
        outside_the_bleed,
        no_alpha,
        invisible_text,
        white_paper,
        spot_with_rgb_alternate,
        opaque_page_group,
        note_that_does_not_print,
    ],
)
def test_rgb_that_does_not_print_is_silent(draw, tmp_path) -> None:
    book = Book()
    draw(book)
    assert "rgb" not in kinds(found_in(book, tmp_path, "colour"))


# --- Lab, calibrated gray, profiled CMYK ---


def lab():
    return Array([Name.Lab, Dictionary(WhitePoint=WHITE_POINT, Range=Array([-100, 100, -100, 100]))])


def cal_gray(**entries):
    return Array([Name.CalGray, Dictionary(WhitePoint=WHITE_POINT, **entries)])


def lab_vector(book):
    book.page(f"/C cs 50 20 20 sc {PATCH} f", resources={"C": lab()})


def lab_picture(book):
    picture(book, lab())


def lab_palette(book):
    picture(book, Array([Name.Indexed, lab(), 3, book.stream(bytes(range(0, 240, 20)))]))


def gray_calibrated(book):
    book.page(f"/C cs 0.5 sc {PATCH} f", resources={"C": cal_gray()})


def gray_calibrated_with_gamma(book):
    book.page(f"/C cs 0.5 sc {PATCH} f", resources={"C": cal_gray(Gamma=2.2)})


def gray_calibrated_picture(book):
    picture(book, cal_gray(Gamma=1.8))


def gray_by_default(book):
    page = book.page(f"0.5 g {PATCH} f")
    page.obj.Resources.ColorSpace = Dictionary(DefaultGray=cal_gray())


@pytest.mark.parametrize(
    "draw",
    [
        lab_vector,
        lab_picture,
        lab_palette,
        gray_calibrated,
        gray_calibrated_with_gamma,
        gray_calibrated_picture,
        gray_by_default,
    ],
)
def test_measured_colour_is_found_in_every_disguise(draw, tmp_path) -> None:
    book = Book()
    draw(book)
    assert "lab" in kinds(found_in(book, tmp_path, "colour"))


def spot_with_lab_alternate(book):
    space = Array([Name.Separation, Name("/Fern Green"), lab(), _linear([100.0, 0, 0], [40.0, -30, 30])])
    book.page(f"/S cs 1 scn {PATCH} f", resources={"S": space})


def plain_gray(book):
    book.page(f"0.5 g {PATCH} f")


def unused_calibrated_default(book):
    page = book.page(f"0 0 0 1 k {PATCH} f")
    page.obj.Resources.ColorSpace = Dictionary(DefaultGray=cal_gray())


@pytest.mark.parametrize("draw", [spot_with_lab_alternate, plain_gray, unused_calibrated_default])
def test_no_measured_colour_where_none_is_used(draw, tmp_path) -> None:
    book = Book()
    draw(book)
    assert "lab" not in kinds(found_in(book, tmp_path, "colour"))


def cmyk_vector(book, space):
    book.page(f"/C cs 0 0 0 1 sc {PATCH} f", resources={"C": space})


def cmyk_picture(book, space):
    picture(book, space)


def cmyk_by_default(book, space):
    page = book.page(f"0 0 0 1 k {PATCH} f")
    page.obj.Resources.ColorSpace = Dictionary(DefaultCMYK=space)


@profiles
@pytest.mark.parametrize("draw", [cmyk_vector, cmyk_picture, cmyk_by_default])
def test_profiled_cmyk_that_is_not_the_intent(draw, tmp_path) -> None:
    book = Book()
    draw(book, book.icc(ICC / "default_cmyk.icc", 4))
    assert "other-cmyk" in kinds(found_in(book, tmp_path, "colour"))


@profiles
@pytest.mark.parametrize("draw", [cmyk_vector, cmyk_picture, cmyk_by_default])
def test_profiled_cmyk_of_the_intent_is_silent(draw, tmp_path) -> None:
    book = Book()
    draw(book, book.icc(ICC / "default_cmyk.icc", 4))
    book.output_intent("FOGRA39", ICC / "default_cmyk.icc")
    assert "other-cmyk" not in kinds(found_in(book, tmp_path, "colour"))


# --- inks on the plates: unexpected, missing, doubled ---

PROCESS = ("Cyan", "Magenta", "Yellow", "Black")


def spot_patch(book):
    book.page(f"/S cs 1 scn {PATCH} f", resources={"S": book.spot("Fern Green")})


def spot_in_device_n(book):
    book.page(f"/S cs 0.5 1 scn {PATCH} f", resources={"S": book.device_n(["Black", "Fern Green"])})


def spot_in_palette(book):
    picture(book, Array([Name.Indexed, book.spot("Fern Green"), 1, book.stream(b"\xff\xff")]), bits=1)


def spot_in_shading(book):
    shading = Dictionary(
        ShadingType=2,
        ColorSpace=book.spot("Fern Green"),
        Coords=Array([0, 0, mm(40), 0]),
        Function=_linear([1.0], [0.99]),
        Extend=Array([True, True]),
    )
    book.page(f"q {PATCH} W n /S sh Q", resources={"S": shading})


def spot_in_pattern(book):
    cell = book.tiling("/S cs 1 scn 0 0 20 20 re f", cell=(20, 20), resources={"S": book.spot("Fern Green")})
    book.page(f"/Pattern cs /P scn {PATCH} f", resources={"P": cell})


def spot_in_type3(book):
    font = book.type3_font({"a": "1000 0 d0 /S cs 1 scn 0 0 1000 1000 re f"}, resources={"S": book.spot("Fern Green")})
    size = mm(30)
    book.page(f"BT /F {size} Tf {size} 0 0 {mm(20)} {mm(10)} {mm(20)} Tm /F 1 Tf (a) Tj ET", resources={"F": font})


@pytest.mark.parametrize(
    "draw", [spot_patch, spot_in_device_n, spot_in_palette, spot_in_shading, spot_in_pattern, spot_in_type3]
)
def test_an_ink_not_ordered_is_found_with_its_coverage(draw, tmp_path) -> None:
    """A solid of 30 x 20 mm on a trim of 100 x 80 mm covers 7.5 %."""
    book = Book()
    draw(book)
    (finding,) = (
        each for each in found_in(book, tmp_path, "colour", inks=PROCESS) if each.id == "colour.unexpected-ink"
    )
    assert (finding.severity, finding.page, finding.details["ink"]) == ("stop", 1, "Fern Green")
    assert finding.measured == pytest.approx(7.5, abs=0.15)
    assert finding.box_mm == pytest.approx([10.0, 40.0, 40.0, 60.0], abs=0.6)


def unused_spot(book):
    book.page(f"0 0 0 1 k {PATCH} f", resources={"S": book.spot("Fern Green")})


def spot_on_a_hidden_layer(book):
    layer = book.layer("old", on=False)
    book.page(f"/OC /L BDC /S cs 1 scn {PATCH} f EMC", resources={"L": layer, "S": book.spot("Fern Green")})


def spot_outside_the_bleed(book):
    book.page(f"/S cs 1 scn {rectangle(-9, 10, 5, 20)} f", resources={"S": book.spot("Fern Green")})


def spot_knocked_out(book):
    book.page(f"/S cs 1 scn {PATCH} f 0 0 0 1 k {PATCH} f", resources={"S": book.spot("Fern Green")})


def spot_at_nothing(book):
    book.page(f"/S cs 0 scn {PATCH} f", resources={"S": book.spot("Fern Green")})


@pytest.mark.parametrize(
    "draw", [unused_spot, spot_on_a_hidden_layer, spot_outside_the_bleed, spot_knocked_out, spot_at_nothing]
)
@pytest.mark.parametrize("order", [{"inks": PROCESS}, {}], ids=["ordered", "no ticket"])
def test_an_ink_that_marks_nothing_is_silent(draw, order, tmp_path) -> None:
    book = Book()
    draw(book)
    assert "unexpected-ink" not in kinds(found_in(book, tmp_path, "colour", **order))


def test_without_a_ticket_the_spots_found_are_listed(tmp_path) -> None:
    book = Book()
    spot_patch(book)
    (finding,) = (each for each in found_in(book, tmp_path, "colour") if each.id == "colour.unexpected-ink")
    assert (finding.severity, finding.details["inks"]) == ("note", ["Fern Green"])


@pytest.mark.parametrize(
    "draw", [unused_spot, spot_on_a_hidden_layer, spot_outside_the_bleed, spot_knocked_out, spot_at_nothing]
)
def test_an_ordered_spot_that_marks_nothing_is_missing(draw, tmp_path) -> None:
    book = Book()
    draw(book)
    findings = found_in(book, tmp_path, "colour", inks=("Fern Green",))
    assert [each.details["ink"] for each in findings if each.id == "colour.missing-ink"] == ["Fern Green"]


@pytest.mark.parametrize("draw", [spot_patch, spot_in_device_n, spot_in_palette, spot_in_shading, spot_in_pattern])
def test_an_ordered_spot_that_marks_is_there(draw, tmp_path) -> None:
    book = Book()
    draw(book)
    assert "missing-ink" not in kinds(found_in(book, tmp_path, "colour", inks=("Fern Green",)))


OTHER_PATCH = rectangle(60, 20, 10, 10)


def spelled_on_one_page(book):
    spots = {"A": book.spot("Fern Green"), "B": book.spot("FERN GREEN C")}
    book.page(f"/A cs 1 scn {PATCH} f /B cs 1 scn {OTHER_PATCH} f", resources=spots)


def spelled_on_two_pages(book):
    book.page(f"/A cs 1 scn {PATCH} f", resources={"A": book.spot("Fern Green")})
    book.page(f"/A cs 1 scn {PATCH} f", resources={"A": book.spot("fern  green")})


def spelled_in_a_form_and_device_n(book):
    form = book.form(f"/A cs 1 1 scn {OTHER_PATCH} f", resources={"A": book.device_n(["Black", "FernGreen"])})
    book.page(f"/A cs 1 scn {PATCH} f /F Do", resources={"A": book.spot("Fern Green"), "F": form})


def process_ink_as_a_spot(book):
    book.page(f"0 0 0 1 k {PATCH} f /A cs 1 scn {OTHER_PATCH} f", resources={"A": book.spot("BLACK")})


@pytest.mark.parametrize(
    "draw", [spelled_on_one_page, spelled_on_two_pages, spelled_in_a_form_and_device_n, process_ink_as_a_spot]
)
def test_two_spellings_are_two_plates(draw, tmp_path) -> None:
    book = Book()
    draw(book)
    findings = found_in(book, tmp_path, "colour", inks=("Fern Green", "Black"))
    assert "spot-names-clash" in kinds(findings)
    assert "unexpected-ink" not in kinds(findings)


def black_as_a_separation(book):
    """A spot named Black is the process plate (ISO 32000-2, 8.6.6.4)."""
    book.page(f"0 0 0 1 k {PATCH} f /A cs 1 scn {OTHER_PATCH} f", resources={"A": book.spot("Black")})


def second_spelling_unused(book):
    spots = {"A": book.spot("Fern Green"), "B": book.spot("FERN GREEN")}
    book.page(f"/A cs 1 scn {PATCH} f", resources=spots)


@pytest.mark.parametrize("draw", [black_as_a_separation, second_spelling_unused])
def test_one_plate_is_no_clash(draw, tmp_path) -> None:
    book = Book()
    draw(book)
    assert "spot-names-clash" not in kinds(found_in(book, tmp_path, "colour", inks=("Fern Green", "Black")))


RECIPE = (0.8, 0.1, 0.9, 0.2)


def recipes_on_one_page(book, other):
    spots = {"A": book.spot("Fern Green", RECIPE), "B": book.spot("Fern Green", other)}
    book.page(f"/A cs 1 scn {PATCH} f /B cs 1 scn {OTHER_PATCH} f", resources=spots)


def recipes_on_two_pages(book, other):
    for recipe in (RECIPE, other):
        book.page(f"/A cs 1 scn {PATCH} f", resources={"A": book.spot("Fern Green", recipe)})


def recipes_in_a_form_and_a_palette(book, other):
    palette = Array([Name.Indexed, book.spot("Fern Green", other), 1, book.stream(b"\x00\xff")])
    form = book.form(f"/A cs 1 scn {OTHER_PATCH} f", resources={"A": palette})
    book.page(f"/A cs 1 scn {PATCH} f /F Do", resources={"A": book.spot("Fern Green", RECIPE), "F": form})


@pytest.mark.parametrize("draw", [recipes_on_one_page, recipes_on_two_pages, recipes_in_a_form_and_a_palette])
def test_one_name_with_two_recipes(draw, tmp_path) -> None:
    book = Book()
    draw(book, (0.8, 0.1, 0.9, 0.6))
    (finding,) = (each for each in found_in(book, tmp_path, "colour") if each.id == "colour.spot-recipes-differ")
    assert (finding.details["ink"], finding.page) == ("Fern Green", 1)


@pytest.mark.parametrize("draw", [recipes_on_one_page, recipes_on_two_pages, recipes_in_a_form_and_a_palette])
def test_one_recipe_defined_twice_is_silent(draw, tmp_path) -> None:
    book = Book()
    draw(book, RECIPE)
    assert "spot-recipes-differ" not in kinds(found_in(book, tmp_path, "colour"))


# --- the registration colour ---


def every_ink(book):
    return Array([Name.Separation, Name.All, Name.DeviceCMYK, _linear([0.0] * 4, [1.0] * 4)])


def all_patch(book):
    book.page(f"/A cs 1 scn {PATCH} f", resources={"A": every_ink(book)})


def all_text(book):
    resources = {"A": every_ink(book), "F": book.base_font()}
    book.page(f"/A cs 1 scn BT /F 30 Tf {mm(10)} {mm(20)} Td (fern) Tj ET", resources=resources)


def all_in_forms(book):
    inner = book.form(f"/A cs 1 scn {PATCH} f", resources={"A": every_ink(book)})
    book.page("/Outer Do", resources={"Outer": book.form("/Inner Do", resources={"Inner": inner})})


def all_in_pattern(book):
    cell = book.tiling("/A cs 1 scn 0 0 5 5 re f", cell=(10, 10), resources={"A": every_ink(book)})
    book.page(f"/Pattern cs /P scn {PATCH} f", resources={"P": cell})


def all_in_palette(book):
    picture(book, Array([Name.Indexed, every_ink(book), 1, book.stream(b"\x00\xff")]), bits=1)


@pytest.mark.parametrize("draw", [all_patch, all_text, all_in_forms, all_in_pattern, all_in_palette])
def test_the_registration_colour_inside_the_trim_stops(draw, tmp_path) -> None:
    book = Book()
    draw(book)
    (finding,) = (each for each in found_in(book, tmp_path, "colour") if each.id == "colour.registration")
    assert finding.severity == "stop"
    assert finding.page == 1


CROPS = "".join(
    f"{x} {y} m {x + dx} {y + dy} l "
    for x, y, dx, dy in [
        (mm(-4), 0, -12, 0),
        (0, mm(-4), 0, -12),
        (mm(104), 0, 12, 0),
        (mm(100), mm(-4), 0, -12),
        (mm(-4), mm(80), -12, 0),
        (0, mm(84), 0, 12),
        (mm(104), mm(80), 12, 0),
        (mm(100), mm(84), 0, 12),
    ]
)


def marks_in_one_path(book):
    book.page(f"/A CS 1 SCN 0.25 w {CROPS} S", resources={"A": every_ink(book)})


def all_on_a_hidden_layer(book):
    layer = book.layer("marks", on=False)
    book.page(f"/OC /L BDC /A cs 1 scn {PATCH} f EMC", resources={"L": layer, "A": every_ink(book)})


def all_covered(book):
    book.page(f"/A cs 1 scn {PATCH} f 0 0 0 1 k {rectangle(5, 15, 50, 40)} f", resources={"A": every_ink(book)})


@pytest.mark.parametrize("draw", [marks_in_one_path, all_on_a_hidden_layer, all_covered])
def test_the_registration_colour_outside_or_unseen_is_silent(draw, tmp_path) -> None:
    book = Book()
    draw(book)
    assert "registration" not in kinds(found_in(book, tmp_path, "colour"))


# --- output intents ---


@profiles
@pytest.mark.parametrize(
    ("identifier", "severity"), [(None, "note"), ("FOGRA39", None), ("FOGRA47", "ask"), ("IFRA26", "ask")]
)
def test_the_intent_of_a_file(identifier, severity, tmp_path) -> None:
    book = Book()
    book.page(f"0 0 0 1 k {PATCH} f")
    if identifier:
        book.output_intent(identifier)
    found = [each.severity for each in found_in(book, tmp_path, "colour") if each.id == "colour.intent-missing"]
    assert found == ([severity] if severity else [])


# --- pictures supplied as files ---


def _picture_file(folder, mode: str, ending: str):
    data = bytes((x * 37 + x // 7) % 251 for x in range(120 * 90 * 4))
    picture = Image.frombytes("CMYK", (120, 90), data).convert(mode)
    path = folder / f"art.{ending}"
    picture.save(path, dpi=(300, 300))
    return path


@pytest.mark.parametrize(
    ("mode", "ending", "found"),
    [
        ("RGB", "png", ["rgb"]),
        ("RGB", "jpg", ["rgb"]),
        ("RGB", "tif", ["rgb"]),
        ("P", "png", ["rgb"]),
        ("LAB", "tif", ["lab"]),
        ("L", "png", []),
        ("1", "tif", []),
        ("CMYK", "jpg", []),
        ("CMYK", "tif", []),
    ],
)
def test_a_picture_supplied_as_a_file(mode, ending, found, tmp_path) -> None:
    report = report_of(_picture_file(tmp_path, mode, ending))
    findings = [finding for finding in report.findings if finding.id.startswith("colour.")]
    assert kinds(findings) == found
    assert all(finding.details["what"] == "images" for finding in findings)
