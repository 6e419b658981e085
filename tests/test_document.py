"""What a file says as a whole: intents, layers, spots, what acts, what is attached, print settings of its own, its claim.

Truth by construction, each with the clause of ISO 32000-2 that says so; every test of a fault has a twin that must stay silent.
"""

from __future__ import annotations

import hashlib

import pikepdf
import pytest
from artwork import Book, mm
from opened import CMYK_PROFILE, RGB_PROFILE, needs, opened
from pikepdf import Array, Dictionary, Name, String

from preflight.inventory.functions import FunctionFault, evaluate

BLACK = f"0 0 0 1 k {mm(10)} {mm(10)} {mm(20)} {mm(20)} re f"


def facts_of(book: Book, folder, **order):
    if not len(book.pdf.pages):
        book.page(BLACK)
    with opened(book, folder, **order) as artwork:
        return artwork.facts


def javascript(**more) -> Dictionary:
    return Dictionary(S=Name.JavaScript, JS=String("app.alert('fern')"), **more)


def go_to(book: Book) -> Dictionary:
    return Dictionary(S=Name.GoTo, D=Array([book.pdf.pages[0].obj, Name.Fit]))


def annotation(book: Book, subtype: str, **entries):
    return book.pdf.make_indirect(
        Dictionary(Type=Name.Annot, Subtype=Name("/" + subtype), Rect=Array([50, 50, 100, 70]), **entries)
    )


# --- what acts (12.6) ------------------------------------------------------------------------------------------------


def _open_action(book, action):
    book.pdf.Root.OpenAction = action


def _page_action(book, action):
    book.pdf.pages[0].obj.AA = Dictionary(O=action)


def _link(book, action):
    book.pdf.pages[0].obj.Annots = Array([annotation(book, "Link", A=action)])


def _bookmark(book, action):
    item = book.pdf.make_indirect(Dictionary(Title="Contents", A=action))
    book.pdf.Root.Outlines = book.pdf.make_indirect(Dictionary(Type=Name.Outlines, First=item, Last=item, Count=1))


def _field(book, action):
    field = annotation(book, "Widget", FT=Name.Btn, T=String("send"), AA=Dictionary(U=action))
    book.pdf.pages[0].obj.Annots = Array([field])
    book.pdf.Root.AcroForm = Dictionary(Fields=Array([field]))


PLACES = [_open_action, _page_action, _link, _bookmark, _field]


@pytest.mark.parametrize("hang", PLACES)
@pytest.mark.parametrize("kind", ["JavaScript", "Launch", "SubmitForm", "ImportData"])
def test_scripts_launches_and_submissions_wherever_they_hang(hang, kind, tmp_path):
    book = Book()
    book.page(BLACK)
    hang(book, Dictionary(S=Name("/" + kind), JS=String("1"), F=String("a")))
    assert {item.what for item in facts_of(book, tmp_path).active} == {kind}


@pytest.mark.parametrize("hang", PLACES)
def test_going_to_a_place_is_left_alone(hang, tmp_path):
    book = Book()
    book.page(BLACK)
    hang(book, go_to(book))
    assert facts_of(book, tmp_path).active == ()


def test_a_destination_on_opening_is_left_alone(tmp_path):
    book = Book()
    book.page(BLACK)
    book.pdf.Root.OpenAction = Array([book.pdf.pages[0].obj, Name.Fit])
    book.pdf.Root.PageLabels = Dictionary(Nums=Array([0, Dictionary(S=Name.r)]))
    book.pdf.pages[0].obj.Annots = Array([annotation(book, "Link", A=Dictionary(S=Name.URI, URI=String("https://x")))])
    assert facts_of(book, tmp_path).active == ()


def test_what_starts_by_itself_is_told_whatever_it_does_but_going(tmp_path):
    book = Book()
    book.page(BLACK)
    book.pdf.Root.AA = Dictionary(WP=Dictionary(S=Name.Hide, T=String("x")))
    (item,) = facts_of(book, tmp_path).active
    assert (item.what, item.where, item.page) == ("Hide", "before printing", None)


def test_scripts_in_the_names_of_the_file_and_after_a_harmless_action(tmp_path):
    book = Book()
    book.page(BLACK)
    book.pdf.Root.Names = Dictionary(JavaScript=Dictionary(Names=Array([String("start"), javascript()])))
    book.pdf.Root.OpenAction = Dictionary(
        S=Name.GoTo, D=Array([book.pdf.pages[0].obj, Name.Fit]), Next=Array([javascript()])
    )
    places = {item.where for item in facts_of(book, tmp_path).active}
    assert places == {"on opening the file (start)", "on opening the file"}


def test_actions_bookmarks_and_fields_in_a_circle_come_to_an_end(tmp_path):
    book = Book()
    book.page(BLACK)
    action = book.pdf.make_indirect(javascript())
    action.Next = Array([action])
    item = book.pdf.make_indirect(Dictionary(Title="a", A=action))
    item.Next = item
    item.First = item
    book.pdf.Root.Outlines = Dictionary(First=item)
    field = book.pdf.make_indirect(Dictionary(T=String("f"), A=action))
    field.Kids = Array([field])
    book.pdf.Root.AcroForm = Dictionary(Fields=Array([field]))
    node = book.pdf.make_indirect(Dictionary(Names=Array([String("a"), action])))
    node.Kids = Array([node])
    book.pdf.Root.Names = Dictionary(JavaScript=node)
    assert {found.what for found in facts_of(book, tmp_path).active} == {"JavaScript"}


# --- attachments -----------------------------------------------------------------------------------------------------


def test_attachments_by_name_from_the_list_and_from_a_page(tmp_path):
    book = Book()
    book.page(BLACK)
    book.pdf.attachments["stock list.csv"] = b"fern,3"
    file = book.pdf.make_indirect(Dictionary(Type=Name.Filespec, UF=String("Blüte.jpg")))
    book.pdf.pages[0].obj.Annots = Array([annotation(book, "FileAttachment", FS=file)])
    assert facts_of(book, tmp_path).attachments == ("stock list.csv", "Blüte.jpg")


def test_names_of_any_bytes_can_be_reported(tmp_path):
    book = Book()
    book.page(BLACK)
    file = book.pdf.make_indirect(Dictionary(Type=Name.Filespec, F=String(b"\xff\xfe\x00\xd8a\x07<b>")))
    book.pdf.pages[0].obj.Annots = Array([annotation(book, "FileAttachment", FS=file)])
    (name,) = facts_of(book, tmp_path).attachments
    name.encode("utf-8")


def test_attachments_that_belong_to_the_file_or_a_page_without_being_listed(tmp_path):
    """Associated files (ISO 32000-2, 14.13); one that only names a file elsewhere is not in this one."""
    book = Book()
    page = book.page("")
    stream = book.pdf.make_stream(b"fern,3", Type=Name.EmbeddedFile)
    book.pdf.Root.AF = Array([Dictionary(Type=Name.Filespec, UF="stock list.csv", EF=Dictionary(UF=stream))])
    page.obj.AF = Array(
        [
            Dictionary(Type=Name.Filespec, F="plan.svg", EF=Dictionary(F=stream)),
            Dictionary(Type=Name.Filespec, F="elsewhere.csv"),
        ]
    )
    assert facts_of(book, tmp_path).attachments == ("stock list.csv", "plan.svg")


def test_no_attachment_no_word(tmp_path):
    assert facts_of(Book(), tmp_path).attachments == ()


# --- preseparated pages (ISO 32000-1, 14.11.4) -----------------------------------------------------------------------


def test_pages_that_are_single_plates(tmp_path):
    book = Book()
    for ink in ("Cyan", None, "Black"):
        page = book.page(BLACK)
        if ink:
            page.obj.SeparationInfo = Dictionary(Pages=Array([page.obj]), DeviceColorant=Name("/" + ink))
    assert facts_of(book, tmp_path).preseparated_pages == (1, 3)


# --- print settings of its own (Table 57) ----------------------------------------------------------------------------


def curve(exponent: float = 2.0) -> Dictionary:
    return Dictionary(FunctionType=2, Domain=Array([0, 1]), C0=Array([0]), C1=Array([1]), N=exponent)


def halftone() -> Dictionary:
    return Dictionary(Type=Name.Halftone, HalftoneType=1, Frequency=60, Angle=45, SpotFunction=Name.Round)


def settings_of(book: Book, folder) -> set[str]:
    return {setting.what for setting in facts_of(book, folder).foreign_settings}


@pytest.mark.parametrize(
    ("entries", "what"),
    [
        ({"TR": curve()}, "transfer curve"),
        ({"TR2": Array([curve(), Name.Identity, Name.Identity, Name.Identity])}, "transfer curve"),
        ({"HT": halftone()}, "own halftone"),
        ({"BG": curve()}, "black generation"),
        ({"UCR2": curve()}, "undercolour removal"),
    ],
)
@pytest.mark.parametrize("inside", ["page", "form", "pattern", "type3", "soft mask", "annotation"])
def test_settings_in_use_wherever_they_are_nested(entries, what, inside, tmp_path):
    book = Book()
    state = book.state(**entries)
    if inside == "page":
        book.page(f"/G gs {BLACK}", resources={"G": state})
    elif inside == "form":
        outer = book.form("/Inner Do", resources={"Inner": book.form(f"/G gs {BLACK}", resources={"G": state})})
        book.page("/Outer Do", resources={"Outer": outer})
    elif inside == "pattern":
        tile = book.tiling(f"/G gs {BLACK}", cell=(9, 9), resources={"G": state})
        book.page("/Pattern cs /T scn 0 0 50 50 re f", resources={"T": tile})
    elif inside == "type3":
        font = book.type3_font({"A": "1000 0 d0 /G gs 0 0 500 500 re f"}, resources={"G": state})
        book.page("BT /F 12 Tf (A) Tj ET", resources={"F": font})
    elif inside == "soft mask":
        group = book.form(
            f"/G gs {BLACK}", resources={"G": state}, Group=Dictionary(S=Name.Transparency, CS=Name.DeviceGray)
        )
        mask = book.state(SMask=Dictionary(S=Name.Luminosity, G=group))
        book.page(f"/M gs {BLACK}", resources={"M": mask})
    else:
        stamp = book.form(f"/G gs {BLACK}", resources={"G": state})
        book.page(BLACK).obj.Annots = Array([annotation(book, "Stamp", F=4, AP=Dictionary(N=stamp))])
    assert settings_of(book, tmp_path) == {what}


@pytest.mark.parametrize(
    "entries",
    [
        {"TR": Name.Identity},
        {"TR": Array([Name.Identity] * 4)},
        {"TR2": Name.Default, "HT": Name.Default, "BG2": Name.Default, "UCR2": Name.Default},
        {"TR": curve(1)},  # from 0 straight to 1
        {"TR": curve(2), "TR2": Name.Default},  # the newer entry holds (ISO 32000-2, Table 57)
        {"OP": True, "ca": 0.5},
    ],
)
def test_settings_that_change_nothing_are_left_alone(entries, tmp_path):
    book = Book()
    book.page(f"/G gs {BLACK}", resources={"G": book.state(**entries)})
    assert settings_of(book, tmp_path) == set()


def test_settings_that_are_listed_and_not_used_are_left_alone(tmp_path):
    book = Book()
    form = book.form(f"/G gs {BLACK}", resources={"G": book.state(HT=halftone())})
    page = book.page(
        f"/GS1 gs {BLACK}", resources={"G": book.state(TR=curve()), "Form": form, "GS1": book.state(OP=True)}
    )
    page.obj.Annots = Array([annotation(book, "Stamp", F=0, AP=Dictionary(N=form))])
    assert settings_of(book, tmp_path) == set()


def test_postscript_opi_and_content_elsewhere(tmp_path):
    book = Book()
    postscript = book.stream(b"showpage", Type=Name.XObject, Subtype=Name.PS)
    proxy = book.image(10, 10, OPI=Dictionary({"/2.0": Dictionary(Type=Name.OPI, F=String("fine.tif"))}))
    elsewhere = book.image(10, 10, F=String("picture.dat"))
    reference = book.form("", Ref=Dictionary(F=String("other.pdf"), Page=0))
    things = {"Ps": postscript, "Proxy": proxy, "Far": elsewhere, "Ref": reference}
    book.page("/Ps Do /Proxy Do /Far Do /Ref Do", resources=things)
    assert settings_of(book, tmp_path) == {"PostScript object", "OPI proxy", "content in another file"}
    twin = Book()
    twin.page("/Image Do", resources={"Image": twin.image(10, 10)})
    assert settings_of(twin, tmp_path) == set()


def test_pages_are_named(tmp_path):
    book = Book()
    state = book.pdf.make_indirect(book.state(TR=curve()))
    book.page(BLACK)
    book.page(f"/G gs {BLACK}", resources={"G": state})
    book.page(f"/G gs {BLACK}", resources={"G": state})
    assert [setting.page for setting in facts_of(book, tmp_path).foreign_settings] == [2, 3]


def test_forms_in_a_circle_and_very_deep_ones_come_to_an_end(tmp_path):
    book = Book()
    form = book.form("/Me Do /G gs", resources={"G": book.state(TR=curve())})
    form.Resources.XObject = Dictionary(Me=form)
    book.page("/Form Do", resources={"Form": form})
    assert settings_of(book, tmp_path) == {"transfer curve"}
    deep = Book()
    inner = deep.form(BLACK)
    for _ in range(200):
        inner = deep.form("/Inner Do", resources={"Inner": inner})
    deep.page("/Inner Do", resources={"Inner": inner})
    facts = facts_of(deep, tmp_path)
    assert "deeper" in facts.unknown["document"]


# --- output intents (14.11.5) ----------------------------------------------------------------------------------------


@needs(CMYK_PROFILE)
def test_an_output_intent_with_its_profile(tmp_path):
    book = Book()
    book.output_intent("FOGRA39", CMYK_PROFILE)
    (intent,) = facts_of(book, tmp_path).output_intents
    data = CMYK_PROFILE.read_bytes()
    assert (intent.subtype, intent.identifier, intent.profile_components) == ("GTS_PDFX", "FOGRA39", 4)
    assert intent.profile_md5 == hashlib.md5(data, usedforsecurity=False).hexdigest()
    assert intent.profile_bytes == len(data)
    assert intent.profile_description == "Artifex CMYK SWOP Profile"  # as iccdump of the same file says


def test_intents_of_single_pages(tmp_path):
    """ISO 32000-2, Table 31: a page may bring output intents of its own."""
    book = Book()
    intents = []
    for name in ("FOGRA39", "FOGRA29"):
        book.output_intent(name)
        intents.append(book.pdf.Root.OutputIntents)
    del book.pdf.Root.OutputIntents
    for which in (None, 0, 1, 0):
        page = book.page(BLACK)
        if which is not None:
            page.obj.OutputIntents = intents[which]
    facts = facts_of(book, tmp_path)
    assert facts.output_intents == ()
    assert [(intent.identifier, intent.pages) for intent in facts.page_intents] == [
        ("FOGRA39", (2, 4)),
        ("FOGRA29", (3,)),
    ]


def test_intents_by_name_alone_and_no_intent(tmp_path):
    book = Book()
    book.output_intent("CGATS TR 006")
    book.pdf.Root.OutputIntents[0].RegistryName = String("http://www.color.org")
    (intent,) = facts_of(book, tmp_path).output_intents
    assert (intent.identifier, intent.registry, intent.profile_md5) == ("CGATS TR 006", "http://www.color.org", None)
    assert facts_of(Book(), tmp_path).output_intents == ()


@needs(CMYK_PROFILE)
def test_a_shops_profile_set_in_memory_is_not_the_files(tmp_path):
    from dataclasses import replace

    from whole import job_for

    from preflight.inventory.opening import open_artwork

    book = Book()
    book.page(BLACK)
    job = job_for()
    job = replace(job, press=replace(job.press, profile=str(CMYK_PROFILE)))
    with open_artwork(book.save(tmp_path / "art.pdf"), job=job) as artwork:
        assert artwork.facts.output_intents == ()


# --- layers (8.11; ISO 19593-1) --------------------------------------------------------------------------------------


def test_layers_with_their_states_and_processing_steps(tmp_path):
    book = Book()
    book.layer("Text")
    book.layer("Notes", on=False)
    step = Dictionary(GTS_ProcStepsGroup=Name.Structural, GTS_ProcStepsType=Name.Cutting)
    book.layer("Die", GTS_Metadata=step)
    layers = facts_of(book, tmp_path).layers
    assert [(layer.name, layer.shown, layer.printed, layer.processing_step) for layer in layers] == [
        ("Text", True, True, None),
        ("Notes", False, False, None),
        ("Die", True, True, "Structural/Cutting"),
    ]


def test_base_state_off_and_intents_for_design(tmp_path):
    book = Book()
    book.layer("On")
    book.layer("Neither")
    book.layer("Design", on=False, Intent=Name.Design)
    configuration = book.pdf.Root.OCProperties.D
    configuration.BaseState = Name.OFF
    configuration.ON = Array([book.pdf.Root.OCProperties.OCGs[0]])
    layers = facts_of(book, tmp_path).layers
    assert [layer.printed for layer in layers] == [True, False, True]


def test_shown_and_printed_may_differ(tmp_path):
    book = Book()
    usage = Dictionary(Print=Dictionary(PrintState=Name.ON), View=Dictionary(ViewState=Name.OFF))
    layer = book.layer("Watermark", Usage=usage)
    book.pdf.Root.OCProperties.D.AS = Array(
        [
            Dictionary(Event=Name("/" + event), Category=Array([Name("/" + event)]), OCGs=Array([layer]))
            for event in ("View", "Print")
        ]
    )
    (fact,) = facts_of(book, tmp_path).layers
    assert (fact.shown, fact.printed) == (False, True)


def test_an_expression_without_sense_makes_the_layers_unknown(tmp_path):
    for written, known in (
        (Array([Name.Not]), False),
        (Array([Name.Nor, None]), False),
        (Array([Name.Not, None]), True),
    ):
        book = Book()
        layer = book.layer("Text")
        expression = Array([item if item is not None else layer for item in written])
        group = book.pdf.make_indirect(Dictionary(Type=Name.OCMD, VE=expression))
        book.page(f"/OC /M BDC {BLACK} EMC", resources={"M": group})
        assert ("layers" not in facts_of(book, tmp_path).unknown) == known


def test_the_pages_that_name_a_layer(tmp_path):
    book = Book()
    layer, other = book.layer("Text"), book.layer("Notes", on=False)
    group = book.pdf.make_indirect(Dictionary(Type=Name.OCMD, VE=Array([Name.Not, other])))
    book.page("")
    book.page(f"/OC /M BDC {BLACK} EMC", resources={"M": layer})
    book.page(f"/F Do /OC /M BDC {BLACK} EMC", resources={"M": group, "F": book.form(BLACK, OC=layer)})
    text, notes = facts_of(book, tmp_path).layers
    assert (text.pages, notes.pages) == ((2, 3), (3,))


# --- spot recipes (8.6.6.4) ------------------------------------------------------------------------------------------


def test_recipes_at_full_and_half_strength(tmp_path):
    book = Book()
    book.page("/S cs 1 scn 0 0 9 9 re f", resources={"S": book.spot("Fern Green", (0.8, 0.1, 0.9, 0.2))})
    (recipe,) = facts_of(book, tmp_path).spot_recipes
    assert (recipe.ink, recipe.alternate, recipe.pages) == ("Fern Green", "DeviceCMYK", (1,))
    assert recipe.full == pytest.approx((0.8, 0.1, 0.9, 0.2))
    assert recipe.half == pytest.approx((0.4, 0.05, 0.45, 0.1))


def test_two_recipes_of_one_name_are_two_entries(tmp_path):
    book = Book()
    book.page("/S cs 1 scn 0 0 9 9 re f", resources={"S": book.spot("Moss", (1, 0, 1, 0))})
    form = book.form("/S CS 1 SCN 0 0 9 9 re S", resources={"S": book.spot("Moss", (0.9, 0, 1, 0))})
    book.page("/F Do", resources={"F": form})
    recipes = facts_of(book, tmp_path).spot_recipes
    assert [(recipe.ink, recipe.full[0], recipe.pages) for recipe in recipes] == [
        ("Moss", 1.0, (1,)),
        ("Moss", pytest.approx(0.9), (2,)),
    ]


def test_process_inks_registration_and_spaces_not_used_have_no_recipe(tmp_path):
    book = Book()
    things = {
        "B": book.spot("Black", (0, 0, 0, 1)),
        "A": book.spot("All", (1, 1, 1, 1)),
        "N": book.spot("None"),
        "U": book.spot("Unused"),
    }
    book.page("/B cs 1 scn /A cs 1 scn /N cs 1 scn 0 0 9 9 re f", resources=things)
    assert facts_of(book, tmp_path).spot_recipes == ()


def test_recipes_of_images_shadings_and_inks_listed_in_a_mixture(tmp_path):
    book = Book()
    shading = Dictionary(ShadingType=2, ColorSpace=book.spot("Bark"), Coords=Array([0, 0, 9, 9]), Function=curve(1))
    mixture = book.device_n(["Leaf", "Black"])
    mixture.append(Dictionary(Subtype=Name.NChannel, Colorants=Dictionary(Leaf=book.spot("Leaf"))))
    things = {"I": book.image(4, 4, space=book.spot("Petal")), "Sh": shading, "D": mixture}
    book.page("/I Do /Sh sh /D cs 1 0 scn 0 0 9 9 re f", resources=things)
    assert sorted(recipe.ink for recipe in facts_of(book, tmp_path).spot_recipes) == ["Bark", "Leaf", "Petal"]


def test_ink_names_of_any_bytes(tmp_path):
    book = Book()
    book.page("/S cs 1 scn 0 0 9 9 re f", resources={"S": book.spot("Green")})
    path = book.save(tmp_path / "art.pdf")
    path.write_bytes(path.read_bytes().replace(b"/Green", b"/Gr\xff\xfen"))
    with opened(path, tmp_path) as artwork:
        (recipe,) = artwork.facts.spot_recipes
    assert recipe.ink == "Gr\\xff\\xfen"


# --- functions (7.10) ------------------------------------------------------------------------------------------------


#: Streams live as long as the file they belong to.
SCRATCH = pikepdf.Pdf.new()


def calculator(program: str, inputs: int = 1, outputs: int = 1):
    stream = pikepdf.Stream(SCRATCH, program.encode())
    stream.FunctionType = 4
    stream.Domain = Array([0, 1] * inputs)
    stream.Range = Array([-100, 100] * outputs)
    return stream


@pytest.mark.parametrize(
    ("program", "inputs", "expected"),
    [
        ("{ 1 exch sub }", [0.25], [0.75]),
        ("{ dup 0.5 gt { pop 1 } { 2 mul } ifelse }", [0.25], [0.5]),
        ("{ dup 0.5 gt { pop 1 } { 2 mul } ifelse }", [0.75], [1.0]),
        ("{ 0.3 exch 0.6 3 1 roll }", [0.9], [0.6, 0.3, 0.9]),
        ("{ 2 copy add 3 1 roll sub }", [0.5, 0.25], [0.75, 0.25]),
        ("{ 360 mul sin }", [0.25], [1.0]),
        ("{ pop 7 2 idiv 7 2 mod -7 2 idiv }", [0.0], [3, 1, -3]),
        ("{ pop 9 sqrt 2 3 exp 100 log }", [0.0], [3, 8, 2]),
        ("{ pop true false or { 5 } if }", [0.0], [5]),
        ("{ pop 2.5 round -2.5 truncate 2.2 ceiling 3 2 bitshift }", [0.0], [3, -2, 3, 12]),
        ("{ pop 1 0 atan 0 1 atan 1 index }", [0.0], [90, 0, 90]),
    ],
)
def test_calculator_programs(program, inputs, expected):
    """Expected values by hand from the operators' definitions (Table 42)."""
    outputs = len(expected)
    assert evaluate(calculator(program, len(inputs), outputs), inputs) == pytest.approx(expected)


@pytest.mark.parametrize(
    "program",
    ["", "{ pop", "{ foo }", "{ 1 0 div }", "{ pop pop pop }", "{ " * 90 + "}" * 90, "{ -3 sqrt }", "{ 1 if }"],
)
def test_programs_that_are_wrong_are_a_fault_and_nothing_worse(program):
    with pytest.raises(FunctionFault):
        evaluate(calculator(program), [0.5])


def test_sampled_functions_interpolate_in_all_their_inputs():
    stream = pikepdf.Stream(SCRATCH, bytes([0, 255, 255, 0]))
    for key, value in {
        "FunctionType": 0, "BitsPerSample": 8, "Size": Array([2, 2]), "Domain": Array([0, 1, 0, 1]), "Range": Array([0, 1]),
    }.items():  # fmt: skip
        stream[Name("/" + key)] = value
    corners = {(0, 0): 0, (1, 0): 1, (0, 1): 1, (1, 1): 0, (0.5, 0.5): 0.5, (0.5, 0): 0.5, (0.25, 0): 0.25}
    for point, value in corners.items():
        assert evaluate(stream, list(point)) == pytest.approx([value], abs=0.001)


def test_stitched_functions_and_functions_in_functions_without_end():
    halves = Dictionary(
        FunctionType=3, Domain=Array([0, 1]), Bounds=Array([0.5]), Encode=Array([0, 1, 0, 1]), Functions=Array([curve(1), curve(2)])
    )  # fmt: skip
    assert evaluate(halves, [0.25]) == pytest.approx([0.5])
    assert evaluate(halves, [0.75]) == pytest.approx([0.25])
    pdf = pikepdf.Pdf.new()
    endless = pdf.make_indirect(
        Dictionary(FunctionType=3, Domain=Array([0, 1]), Bounds=Array([]), Encode=Array([0, 1]))
    )
    endless.Functions = Array([endless])
    with pytest.raises(FunctionFault):
        evaluate(endless, [0.5])


# --- the claim -------------------------------------------------------------------------------------------------------


def test_a_claim_in_the_document_information(tmp_path):
    book = Book()
    book.pdf.docinfo[Name.GTS_PDFXVersion] = String("PDF/X-1:2001")
    book.pdf.docinfo[Name.GTS_PDFXConformance] = String("PDF/X-1a:2001")
    book.pdf.docinfo[Name.Trapped] = Name("/False")
    book.pdf.docinfo[Name.Title] = String("Spring guide")
    book.pdf.docinfo[Name.Producer] = String("Moss Writer 3")
    facts = facts_of(book, tmp_path)
    claim = facts.claim
    assert (claim.claim, claim.info_version, claim.info_conformance) == (
        "PDF/X-1:2001",
        "PDF/X-1:2001",
        "PDF/X-1a:2001",
    )
    assert (claim.trapped, claim.has_title, claim.has_file_id, claim.xmp_version) == ("False", True, True, None)
    assert facts.producer == "Moss Writer 3"


def test_a_claim_in_the_metadata(tmp_path):
    book = Book()
    book.page(BLACK)
    book.pdf.Root.Metadata = book.stream(
        b"""<?xpacket begin="" id="W5M0MpCehiHzreSzNTczkc9d"?><x:xmpmeta xmlns:x="adobe:ns:meta/">
        <rdf:RDF xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#"><rdf:Description rdf:about=""
        xmlns:pdfxid="http://www.npes.org/pdfx/ns/id/" pdfxid:GTS_PDFXVersion="PDF/X-4"
        xmlns:xmp="http://ns.adobe.com/xap/1.0/" xmp:CreateDate="2026-03-01T10:00:00Z"
        xmlns:dc="http://purl.org/dc/elements/1.1/"><dc:title><rdf:Alt><rdf:li xml:lang="x-default">Guide</rdf:li></rdf:Alt></dc:title>
        </rdf:Description></rdf:RDF></x:xmpmeta><?xpacket end="w"?>"""
    )
    book.pdf.docinfo[Name.Title] = String("Guide")
    book.pdf.docinfo[Name.CreationDate] = String("D:20260301100000Z")
    claim = facts_of(book, tmp_path).claim
    assert (claim.claim, claim.xmp_version, claim.xmp_matches_info) == ("PDF/X-4", "PDF/X-4", True)
    assert claim.has_object_streams is False
    book.pdf.docinfo[Name.Title] = String("Another")
    assert facts_of(book, tmp_path).claim.xmp_matches_info is False


def test_metadata_that_is_an_attack_or_no_metadata_is_left_aside(tmp_path):
    for data in (b'<!DOCTYPE x [<!ENTITY a "aaaa">]><x>&a;</x>', b"<x", b"\xff\xfe\x00", b""):
        book = Book()
        book.page(BLACK)
        book.pdf.Root.Metadata = book.stream(data)
        facts = facts_of(book, tmp_path)
        assert facts.claim.claim is None
        assert "claim" not in facts.unknown


def test_object_streams_and_filters_are_told_of_claims_only(tmp_path):
    book = Book()
    book.page(BLACK)
    book.pdf.docinfo[Name.GTS_PDFXVersion] = String("PDF/X-1a:2003")
    path = tmp_path / "packed.pdf"
    book.pdf.save(path, object_stream_mode=pikepdf.ObjectStreamMode.generate)
    with opened(path, tmp_path) as artwork:
        claim = artwork.facts.claim
    assert claim.has_object_streams is True
    assert "FlateDecode" in claim.filters


@needs(RGB_PROFILE)
def test_an_intent_for_a_screen_stays_a_fact_though_plates_ignore_it(tmp_path):
    book = Book()
    book.output_intent("sRGB", RGB_PROFILE)
    (intent,) = facts_of(book, tmp_path).output_intents
    assert intent.profile_components == 3
