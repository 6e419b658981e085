"""Live transparency, blend spaces and layers found in PDFs; what does not show is left alone."""

from __future__ import annotations

import pytest
from artwork import Book, mm, rectangle
from pikepdf import Array, Dictionary, Name
from whole import found_in

from preflight.findings import Finding
from preflight.inventory.layers import read_layers

PATCH = rectangle(20, 30, 30, 20)


def blend(space) -> dict:
    return {"Group": Dictionary(S=Name.Transparency, CS=space)}


def claim(book: Book, version: str) -> None:
    book.pdf.docinfo["/GTS_PDFXVersion"] = version


def told(book: Book, folder) -> list[Finding]:
    return found_in(book, folder, "transparency")


def soft_mask(book: Book) -> dict:
    group = Dictionary(S=Name.Transparency, CS=Name.DeviceGray)
    mask = book.form(f"0.5 g {PATCH} f", Group=group)
    return {"G": book.state(SMask=Dictionary(S=Name.Luminosity, G=mask))}


def faded_group(book: Book) -> dict:
    group = Dictionary(S=Name.Transparency, CS=Name.DeviceCMYK)
    return {"X": book.form(f"1 0 0 0 k {PATCH} f", Group=group), "G": book.state(ca=0.5)}


def masked_picture(book: Book) -> dict:
    mask = book.image(40, 30, space=Name.DeviceGray)
    return {"Im": book.image(40, 30, SMask=mask)}


LIVE = {
    "opacity": (f"/G gs 1 0 0 0 k {PATCH} f", lambda book: {"G": book.state(ca=0.5)}),
    "stroke opacity": (f"/G gs 1 0 0 0 K 5 w {PATCH} S", lambda book: {"G": book.state(CA=0.5)}),
    "blend mode": (f"/G gs 1 0 0 0 k {PATCH} f", lambda book: {"G": book.state(BM=Name.Multiply)}),
    "soft mask": (f"/G gs 1 0 0 0 k {PATCH} f", soft_mask),
    "group": ("/G gs /X Do", faded_group),
    "picture": (f"q {mm(30)} 0 0 {mm(20)} {mm(20)} {mm(30)} cm /Im Do Q", masked_picture),
}


@pytest.mark.parametrize("name", LIVE)
@pytest.mark.parametrize("version", ["PDF/X-1:2001", "PDF/X-3:2003", "PDF/X-4", None])
def test_live_transparency_and_what_the_file_claims(tmp_path, name, version):
    book = Book()
    content, resources = LIVE[name]
    book.page(content, resources=resources(book), **blend(Name.DeviceCMYK))
    if version:
        claim(book, version)
    found = told(book, tmp_path)
    if version in ("PDF/X-1:2001", "PDF/X-3:2003"):
        assert [f"{finding.id} {finding.severity}" for finding in found] == ["transparency.live ask"]
        assert found[0].box_mm == pytest.approx([20, 30, 50, 50], abs=2.0)
    else:
        assert found == []


@pytest.mark.parametrize("name", LIVE)
@pytest.mark.parametrize("space", [Name.DeviceRGB, None])
def test_live_transparency_without_the_press_colours(tmp_path, name, space):
    book = Book()
    content, resources = LIVE[name]
    book.page(content, resources=resources(book), **(blend(space) if space else {}))
    assert [f"{finding.id} {finding.severity}" for finding in told(book, tmp_path)] == ["transparency.blend-space ask"]


UNSEEN = {
    "nothing transparent": (f"1 0 0 0 k {PATCH} f", lambda book: {"G": book.state(ca=0.5)}),
    "full strength": (f"/G gs 1 0 0 0 k {PATCH} f", lambda book: {"G": book.state(ca=1.0, BM=Name.Normal)}),
    "clipped away": (
        f"q {rectangle(0, 0, 3, 3)} W n /G gs 1 0 0 0 k {PATCH} f Q",
        lambda book: {"G": book.state(ca=0.5)},
    ),
    "off the page": (f"/G gs 1 0 0 0 k {rectangle(300, 300, 5, 5)} f", lambda book: {"G": book.state(ca=0.5)}),
    "covered later": (
        f"/G gs 1 0 0 0 k {PATCH} f /N gs 0 1 0 0 k {rectangle(0, 0, 100, 80)} f",
        lambda book: {"G": book.state(ca=0.5, BM=Name.Multiply), "N": book.state(ca=1, BM=Name.Normal)},
    ),
    "on a layer that is off": (
        f"/OC /L BDC /G gs 1 0 0 0 k {PATCH} f EMC",
        lambda book: {"G": book.state(ca=0.5), "L": book.layer("Notes", on=False)},
    ),
}


@pytest.mark.parametrize("name", UNSEEN)
def test_what_does_not_show_needs_no_blend_space(tmp_path, name):
    book = Book()
    content, resources = UNSEEN[name]
    book.page(content, resources=resources(book))
    claim(book, "PDF/X-3:2003")
    assert told(book, tmp_path) == []


def test_an_rgb_group_for_nothing_is_a_note(tmp_path):
    book = Book()
    book.page(f"1 0 0 0 k {PATCH} f", **blend(Name.DeviceRGB))
    book.page(f"1 0 0 0 k {PATCH} f", **blend(Name.DeviceCMYK))
    (finding,) = told(book, tmp_path)
    assert (finding.id, finding.severity, finding.page) == ("transparency.blend-space", "note", 1)


# --- layers ----------------------------------------------------------------------------------------------------------


def printing(book: Book, layer, state: str) -> None:
    """Gives a layer a print state of its own, and has the configuration heed it."""
    layer.Usage = Dictionary(Print=Dictionary(PrintState=Name("/" + state)))
    configuration = book.pdf.Root.OCProperties.D
    applications = configuration.get("/AS", Array())
    applications.append(Dictionary(Event=Name.Print, Category=Array([Name.Print]), OCGs=Array([layer])))
    configuration.AS = applications


def layered(book: Book, folder, on: bool, prints: str | None, **entries) -> list[Finding]:
    layer = book.layer("Deutsch", on=on, **entries)
    if prints:
        printing(book, layer, prints)
    book.page(f"/OC /L BDC 1 0 0 0 k {PATCH} f EMC", resources={"L": layer})
    return found_in(book, folder, "layers")


def test_a_hidden_layer_that_prints(tmp_path):
    (finding,) = layered(Book(), tmp_path, on=False, prints="ON")
    assert (finding.id, finding.severity, finding.page) == ("layers.print-differs", "ask", 1)
    assert finding.details["layer"] == "Deutsch"


def test_a_shown_layer_that_does_not_print(tmp_path):
    (finding,) = layered(Book(), tmp_path, on=True, prints="OFF")
    assert "does not print" in finding.message


@pytest.mark.parametrize(
    ("on", "prints", "entries"),
    [
        (True, None, {}),
        (False, None, {}),
        (True, "ON", {}),
        (False, "OFF", {}),
        (
            True,
            "OFF",
            {
                "GTS_Metadata": Dictionary(
                    GTS_ProcStepsGroup=Name.Structural, GTS_ProcStepsType=Name.Cutting, Type=Name.GTS_Metadata
                )
            },
        ),
    ],
    ids=["on", "off", "on and prints", "off and does not print", "cutting"],
)
def test_layers_left_alone(tmp_path, on, prints, entries):
    assert layered(Book(), tmp_path, on, prints, **entries) == []


def test_layers_named_by_forms_and_memberships_hold_something():
    book = Book()
    layers = {name: book.layer(name, on=True) for name in ("Form", "Member", "Either", "Leer")}
    for layer in layers.values():
        printing(book, layer, "OFF")
    form = book.form(f"1 0 0 0 k {PATCH} f", OC=layers["Form"])
    member = Dictionary(Type=Name.OCMD, OCGs=layers["Member"])
    either = book.pdf.make_indirect(
        Dictionary(Type=Name.OCMD, VE=Array([Name.Or, Array([Name.Not, layers["Either"]])]))
    )
    content = f"/X Do /OC /M BDC {PATCH} f EMC /OC /E BDC {PATCH} f EMC"
    book.page(content, resources={"X": form, "M": member, "E": either})
    used = {layer.name: layer.used for layer in read_layers(book.pdf)}
    assert used == {"Form": None, "Member": None, "Either": None, "Leer": False}


@pytest.mark.parametrize(("on", "prints"), [(False, "ON"), (True, "OFF")])
def test_a_layer_without_contents_is_left_alone(tmp_path, on, prints):
    book = Book()
    printing(book, book.layer("Leer", on=on), prints)
    book.page(f"1 0 0 0 k {PATCH} f")
    assert found_in(book, tmp_path, "layers") == []
