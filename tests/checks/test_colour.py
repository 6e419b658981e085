"""Colour spaces in use, inks on the plates, intents and spot names, on facts written by hand and on artwork made in code."""

from __future__ import annotations

import pytest
from by_hand import (
    FOGRA39,
    document_of,
    file_answers,
    ids,
    job_of,
    judged,
    not_judged,
    page_answers,
    page_of,
    painted,
    plate,
    summary,
)

from preflight.conditions import conditions_named, names_condition
from preflight.inks import ink_core, ordered_core
from preflight.inventory.model import Colour, OutputIntent, SpotRecipe
from preflight.places import covered_area, gather
from preflight.ticket import Finishing, SideInks
from preflight.units import Box

CMYK = ("Cyan", "Magenta", "Yellow", "Black")
RED = Colour("rgb", "DeviceRGB", values=(1.0, 0.0, 0.0))
PROFILED = Colour("icc-cmyk", "ICCBased(CMYK,Uncoated)", CMYK, (0.0, 0.0, 0.0, 1.0), profile_md5="aaaa")
ALL = Colour("separation", "Separation(DeviceCMYK,All)", ("All",), (1.0,))


def on_page(*things, document=None, **order):
    job = job_of(**order)
    return judged("colour", page_answers("colour", page_of(*things), job, document), job)


def in_file(*pages, document=None, rules="sheetfed-coated", **order):
    job = job_of(rules, **order)
    return judged("colour", file_answers("colour", list(pages), job, document), job)


# --- colour spaces, page by page ---


@pytest.mark.parametrize("family", ["rgb", "cal-rgb", "icc-rgb"])
def test_rgb_of_any_kind_is_asked_about_with_its_area(family) -> None:
    (finding,) = on_page(painted(Colour(family, values=(0.2, 0.4, 0.1))))
    assert ids([finding]) == ["colour.rgb ask"]
    assert (finding.measured, finding.unit, finding.details["what"]) == (100.0, "mm2", "vectors")


def test_pictures_and_vectors_are_told_apart() -> None:
    things = [painted(RED, kind="image"), painted(RED, kind="text"), painted(RED, (12, 12, 30, 30), kind="shading")]
    findings = on_page(*things)
    assert [finding.details["what"] for finding in findings] == ["images", "vectors"]
    assert findings[1].count == 2
    # 10 x 10 and 18 x 18 mm that share 8 x 8
    assert findings[1].measured == pytest.approx(100.0 + 324.0 - 64.0)


def test_places_far_apart_are_two_findings_and_one_picture_placed_twice_is_one() -> None:
    far = (60.0, 60.0, 70.0, 70.0)
    assert len(on_page(painted(RED), painted(RED, far))) == 2
    (finding,) = on_page(*(painted(RED, box, kind="image", object_key="7") for box in ((10, 10, 20, 20), far)))
    assert finding.count == 2


@pytest.mark.parametrize(
    "thing",
    [
        painted(Colour("cmyk", inks=CMYK, values=(0, 0, 0, 1))),
        painted(Colour("gray", inks=("Black",), values=(0.5,))),
        painted(Colour("separation", inks=("Fern Green",), values=(1.0,))),
        painted(RED, covered=True),
        painted(RED, alpha=0.0),
        painted(RED, visible_mm=None),
        painted(Colour("rgb", values=(1.0, 1.0, 1.0))),
        painted(None, kind="group"),
    ],
    ids=["cmyk", "gray", "spot", "covered", "no alpha", "clipped away", "paper white", "no colour"],
)
def test_what_is_no_rgb_in_print_is_silent(thing) -> None:
    assert on_page(thing) == []


@pytest.mark.parametrize(
    ("thing", "what"),
    [
        (painted(Colour("rgb"), kind="mask"), "soft masks"),
        (painted(RED, inside=("form", "soft-mask")), "soft masks"),
    ],
)
def test_rgb_in_masks_and_blend_spaces_is_told_for_itself(thing, what) -> None:
    (finding,) = on_page(thing)
    assert (finding.id, finding.details["what"]) == ("colour.rgb", what)


def test_a_group_blends_in_rgb_where_something_shows_in_it() -> None:
    group = painted(Colour("icc-rgb"), kind="group")
    inside = painted(Colour("cmyk", inks=CMYK, values=(0, 1, 0, 0)), order=1, inside=("form", "group"))
    (finding,) = on_page(group, inside)
    assert (finding.id, finding.details["what"]) == ("colour.rgb", "blend spaces")
    assert on_page(group) == []


@pytest.mark.parametrize(
    ("facts", "found"),
    [
        ({"group_family": "rgb", "transparency": ("soft mask",)}, ["colour.rgb ask"]),
        ({"group_family": "icc-rgb", "transparency": ("blend mode Multiply",)}, ["colour.rgb ask"]),
        ({"group_family": "rgb"}, []),
        ({"group_family": "cmyk", "transparency": ("soft mask",)}, []),
        ({"transparency": ("soft mask",)}, []),
    ],
    ids=["rgb", "profiled rgb", "nothing transparent", "cmyk", "no group"],
)
def test_the_blend_space_of_a_page(facts, found) -> None:
    job = job_of()
    assert ids(judged("colour", page_answers("colour", page_of(**facts), job), job)) == found


@pytest.mark.parametrize("family", ["lab", "icc-lab", "cal-gray"])
def test_measured_colour_is_asked_about(family) -> None:
    assert ids(on_page(painted(Colour(family, values=(50.0,))))) == ["colour.lab ask"]


def test_a_spot_with_a_lab_alternate_is_a_spot() -> None:
    spot = Colour("separation", "Separation(Lab,Fern Green)", ("Fern Green",), (1.0,))
    assert on_page(painted(spot)) == []


@pytest.mark.parametrize(
    ("intents", "found"),
    [
        ((), ["colour.other-cmyk ask"]),
        ((OutputIntent("GTS_PDFX", "FOGRA39", profile_md5="bbbb"),), ["colour.other-cmyk ask"]),
        ((OutputIntent("GTS_PDFX", "FOGRA39", profile_md5="aaaa"),), []),
        ((OutputIntent("GTS_PDFX", "FOGRA39"),), ["colour.other-cmyk ask"]),
    ],
    ids=["no intent", "another profile", "the intent's profile", "an intent by name, another condition"],
)
def test_profiled_cmyk_against_the_intent(intents, found) -> None:
    assert ids(on_page(painted(PROFILED), document=document_of(intents=intents))) == found


def test_profiled_cmyk_of_the_condition_an_intent_names() -> None:
    colour = Colour("icc-cmyk", "", CMYK, (0, 0, 0, 1), profile_md5="aaaa", profile_description="Coated FOGRA39L")
    assert on_page(painted(colour), document=document_of(intents=(OutputIntent("GTS_PDFX", "FOGRA39"),))) == []


@pytest.mark.parametrize(
    ("description", "found"),
    [
        ("Coated FOGRA39 (ISO 12647-2:2004)", []),
        ("our own press", []),
        (None, []),
        ("Uncoated FOGRA29 (ISO 12647-2:2004)", ["colour.other-cmyk ask"]),
    ],
)
def test_the_profile_of_an_image_file_is_its_intent(description, found) -> None:
    colour = Colour("icc-cmyk", "", CMYK, profile_md5="aaaa", profile_description=description)
    assert ids(on_page(painted(colour, kind="image"), document=document_of("tiff", intents=()))) == found


def test_the_registration_colour_inside_the_trim_stops() -> None:
    (finding,) = on_page(painted(ALL, (-20.0, 10.0, 5.0, 11.0)))
    assert ids([finding]) == ["colour.registration stop"]
    assert finding.box_mm == [0.0, 10.0, 5.0, 11.0]


@pytest.mark.parametrize(
    "thing",
    [
        painted(ALL, (-8.0, -0.1, -2.0, 0.1)),
        painted(ALL, (-8.0, -8.0, 108.0, 88.0), parts_mm=(Box(-8, -0.1, -2, 0.1), Box(102, 80, 108, 80.2))),
        painted(ALL, (10, 10, 20, 20), covered=True),
        painted(Colour("none", "Separation(DeviceCMYK,None)", ("None",), (1.0,))),
    ],
    ids=["a mark outside", "all marks in one path", "covered", "None"],
)
def test_registration_marks_outside_the_trim_are_silent(thing) -> None:
    assert on_page(thing) == []


def test_one_of_several_pieces_inside_the_trim_is_enough() -> None:
    thing = painted(ALL, (-8, -8, 50, 50), parts_mm=(Box(-8, -0.1, -2, 0.1), Box(40, 40, 50, 50)))
    (finding,) = on_page(thing)
    assert finding.box_mm == [40.0, 40.0, 50.0, 50.0]


def test_a_page_without_a_size_is_no_crash() -> None:
    job = job_of()
    page = page_of(painted(RED, kind="image"), painted(ALL), trim_mm=None)
    assert ids(judged("colour", page_answers("colour", page, job, document_of("png")), job)) == ["colour.rgb ask"]


# --- inks on the plates ---


def test_an_ink_that_is_not_ordered_stops_with_its_coverage() -> None:
    pages = [summary(1, plates=(plate("Black"),)), summary(2, plates=(plate("Black"), plate("Fern Green", 2.5)))]
    (finding,) = in_file(*pages, inks=CMYK[3:])
    assert ids([finding]) == ["colour.unexpected-ink stop"]
    assert (finding.page, finding.measured, finding.unit) == (2, 2.5, "percent")
    assert finding.details["ink"] == "Fern Green"
    assert "Fern Green" in finding.message


def test_front_inks_are_those_of_odd_pages() -> None:
    plates = (plate("Black"), plate("Fern Green"))
    order = {"inks": SideInks(front=("Black", "Fern Green"), back=("Black",))}
    assert in_file(summary(1, plates=plates), summary(2, plates=plates[:1]), **order) == []
    (finding,) = in_file(summary(1, plates=plates), summary(2, plates=plates), **order)
    assert (finding.id, finding.page) == ("colour.unexpected-ink", 2)


@pytest.mark.parametrize(
    "other",
    [
        plate("Fern Green", 0.0, highest=0.0, marked_mm2=0.0),
        plate("Fern Green", 0.0, highest=0.4),
        plate("BLACK"),
        plate("Process Black"),
        plate("Die line"),
        plate("All"),
    ],
    ids=["declared but unused", "below one percent", "other case", "other words", "ordered for finishing", "All"],
)
def test_inks_that_are_ordered_or_mark_nothing_are_silent(other) -> None:
    findings = in_file(
        summary(plates=(plate("Black"), other)), inks=("Black",), finishing=(Finishing("die-cut", "die-line"),)
    )
    assert "colour.unexpected-ink" not in [finding.id for finding in findings]


def test_without_ordered_inks_the_spots_found_are_a_note() -> None:
    pages = [
        summary(1, plates=(plate("Cyan"), plate("Fern Green"))),
        summary(2, plates=(plate("Moss"), plate("Black"))),
    ]
    answers = file_answers("colour", pages, job_of())
    (finding,) = judged("colour", answers, job_of())
    assert ids([finding]) == ["colour.unexpected-ink note"]
    assert finding.details["inks"] == ["Fern Green", "Moss"]
    assert len(not_judged(answers)) == 1


def test_process_colours_without_ordered_inks_are_silent() -> None:
    assert in_file(summary(plates=tuple(plate(ink) for ink in CMYK))) == []


def test_an_ordered_ink_that_marks_nothing() -> None:
    (finding,) = in_file(summary(plates=(plate("Black"), plate("Moss", marked_mm2=0.0))), inks=("Black", "Moss"))
    assert ids([finding]) == ["colour.missing-ink ask"]
    assert (finding.page, finding.details["ink"]) == (None, "Moss")


@pytest.mark.parametrize("name", ["Fern Green", "FERN GREEN", "Fern Green C", "fern-green"])
def test_an_ordered_ink_under_another_spelling_is_there(name) -> None:
    assert in_file(summary(plates=(plate(name),)), inks=("Fern Green",)) == []


def test_c_m_y_and_k_may_be_ordered_by_their_letters() -> None:
    assert in_file(summary(plates=tuple(plate(ink) for ink in CMYK)), inks=("C", "M", "Y", "K")) == []


def test_a_back_ink_missing_on_the_back() -> None:
    order = {"inks": SideInks(front=("Black",), back=("Black", "Moss"))}
    pages = [summary(1, plates=(plate("Black"),)), summary(2, plates=(plate("Black"),))]
    (finding,) = in_file(*pages, **order)
    assert (finding.id, finding.details) == ("colour.missing-ink", {"ink": "Moss", "side": "back", "subject": "Moss"})
    assert in_file(pages[0], **order) == []


def test_an_ink_is_not_missing_where_a_page_was_not_measured() -> None:
    pages = [summary(1, plates=(plate("Black"),)), summary(2, blank_trim=None)]
    assert in_file(*pages, inks=("Black", "Moss")) == []


# --- names and recipes of spot inks ---


@pytest.mark.parametrize(
    "names",
    [
        ("Fern Green", "FERN GREEN"),
        ("Fern Green", "FernGreen"),
        ("PMS 356 C", "PMS 356 U"),
        ("PMS 356C", "PMS 356 CVC"),
        ("Black", "black"),
        ("Fern Green", "Fern  Green ", "fern_green coated"),
    ],
)
def test_one_ink_under_several_names(names) -> None:
    (finding,) = in_file(summary(plates=tuple(plate(name) for name in names)), inks=names)
    assert ids([finding]) == ["colour.spot-names-clash ask"]
    assert finding.details["inks"] == sorted(names)


@pytest.mark.parametrize(
    "names",
    [
        ("PMS 356 C", "PMS 357 C"),
        ("Fern Green", "Fern Gold"),
        ("Blue", "Process Blue"),
        ("\udcfc\udcff", "\udce4\udcff"),
    ],
)
def test_different_inks_do_not_clash(names) -> None:
    assert in_file(summary(plates=tuple(plate(name) for name in names)), inks=names) == []


def test_names_clash_across_pages_and_only_where_both_mark() -> None:
    one, other = plate("Moss"), plate("MOSS")
    (finding,) = in_file(summary(1, plates=(one,)), summary(2, plates=(other,)), inks=("Moss",))
    assert finding.details["pages"] == [1, 2]
    assert in_file(summary(plates=(one, plate("MOSS", highest=0.0, marked_mm2=0.0))), inks=("Moss",)) == []


RECIPE = SpotRecipe("Moss", "DeviceCMYK", (0.8, 0.1, 0.9, 0.2), pages=(1,))


@pytest.mark.parametrize(
    "other",
    [
        SpotRecipe("Moss", "DeviceCMYK", (0.8, 0.1, 0.9, 0.3), pages=(2,)),
        SpotRecipe("Moss", "Lab", (40.0, -30.0, 30.0), pages=(2,)),
        SpotRecipe("Moss", "DeviceRGB", (0.1, 0.4, 0.1), pages=(2,)),
    ],
    ids=["other tints", "Lab", "RGB"],
)
def test_one_spot_with_two_recipes(other) -> None:
    document = document_of(spot_recipes=(RECIPE, other))
    (finding,) = in_file(summary(plates=(plate("Moss"),)), document=document, inks=("Moss",))
    assert ids([finding]) == ["colour.spot-recipes-differ ask"]
    assert (finding.page, finding.details["pages"]) == (1, [1, 2])


@pytest.mark.parametrize(
    "recipes",
    [
        (RECIPE, SpotRecipe("Moss", "DeviceCMYK", (0.802, 0.1, 0.9, 0.2))),
        (SpotRecipe("Unused", "Lab", (1.0, 1.0, 1.0)), SpotRecipe("Unused", "Lab", (90.0, 1.0, 1.0))),
        (SpotRecipe("Black", "DeviceGray", (0.0,)), SpotRecipe("Black", "DeviceCMYK", (0.0, 0.0, 0.0, 1.0))),
        (SpotRecipe("Moss", "Lab", (40.0, 1.0, 1.0)), SpotRecipe("Moss", "Lab", (40.4, 1.0, 1.0))),
    ],
    ids=["rounding", "unused ink", "a process ink", "Lab rounding"],
)
def test_recipes_that_are_one_or_do_not_matter(recipes) -> None:
    document = document_of(spot_recipes=recipes)
    assert in_file(summary(plates=(plate("Moss"), plate("Black"))), document=document, inks=("Moss", "Black")) == []


# --- output intents ---


@pytest.mark.parametrize(
    "intent",
    [
        FOGRA39,
        OutputIntent("GTS_PDFX", "FOGRA39L"),
        OutputIntent("GTS_PDFX", "Custom", info="Coated FOGRA39 (ISO 12647-2:2004)"),
        OutputIntent("GTS_PDFX", "Custom", profile_description="Coated FOGRA39 (ISO 12647-2:2004)"),
        OutputIntent("GTS_PDFX", "cgats tr006"),
        OutputIntent("GTS_PDFX", "FOGRA51"),
    ],
)
def test_an_intent_for_this_stock_is_silent(intent) -> None:
    assert in_file(summary(), document=document_of(intents=(intent,)), inks=()) == []


@pytest.mark.parametrize(
    "intent",
    [
        OutputIntent("GTS_PDFX", "FOGRA29"),
        OutputIntent("GTS_PDFX", "IFRA26"),
        OutputIntent("GTS_PDFX", "FOGRA29", info="not FOGRA39"),
        OutputIntent("GTS_PDFX", "FOGRA39", profile_description="Uncoated FOGRA29 (ISO 12647-2:2004)"),
        OutputIntent("GTS_PDFX", "Custom", info="our own press"),
        OutputIntent("GTS_PDFX", None),
        OutputIntent("GTS_PDFX", "sRGB", profile_components=3),
    ],
)
def test_an_intent_for_another_condition_asks(intent) -> None:
    (finding,) = in_file(summary(), document=document_of(intents=(intent,)), inks=())
    assert ids([finding]) == ["colour.intent-missing ask"]
    assert finding.page is None
    assert "FOGRA39" in finding.message


def test_a_pages_own_intent_stands_instead_of_the_files() -> None:
    """ISO 32000-2, Table 31: OutputIntents of a page."""
    files, own = (OutputIntent("GTS_PDFX", "FOGRA39"),), (OutputIntent("GTS_PDFX", "FOGRA29", pages=(2, 3)),)
    pages = [summary(number=number) for number in (1, 2, 3)]
    (finding,) = in_file(*pages, document=document_of(intents=files, page_intents=own), inks=())
    assert (finding.id, finding.severity, finding.page) == ("colour.intent-missing", "ask", 2)
    assert finding.details["pages"] == [2, 3]
    fits = (OutputIntent("GTS_PDFX", "FOGRA39", pages=(1, 2, 3)),)
    assert in_file(*pages, document=document_of(intents=(), page_intents=fits), inks=()) == []
    (finding,) = in_file(*pages, document=document_of(intents=(), page_intents=own), inks=())[1:]
    assert (finding.severity, finding.page, finding.details["pages"]) == ("note", 1, [1])


@pytest.mark.parametrize(
    "intents", [(), (OutputIntent("GTS_PDFA1", "sRGB", profile_components=3),)], ids=["none", "for an archive, RGB"]
)
def test_no_intent_is_a_note(intents) -> None:
    (finding,) = in_file(summary(), document=document_of(intents=intents), inks=())
    assert ids([finding]) == ["colour.intent-missing note"]
    assert finding.details["mild"] is True


def test_an_intent_is_accepted_by_the_stock_it_is_for() -> None:
    uncoated = document_of(intents=(OutputIntent("GTS_PDFX", "FOGRA47"),))
    assert in_file(summary(), document=uncoated, rules="sheetfed-uncoated", inks=()) == []


def test_an_image_file_has_no_intent_to_miss() -> None:
    assert in_file(summary(), document=document_of("tiff", intents=()), inks=()) == []


# --- names, conditions, places ---


@pytest.mark.parametrize(
    ("text", "condition", "named"),
    [
        ("Coated FOGRA39 (ISO 12647-2:2004)", "FOGRA39", True),
        ("Coated FOGRA39 2004", "FOGRA39", True),
        ("FOGRA390", "FOGRA39", False),
        ("TR 006", "CGATS TR 006", True),
        ("CGATS TR 0061", "CGATS TR 006", False),
        (None, "FOGRA39", False),
    ],
)
def test_conditions_by_name(text, condition, named) -> None:
    assert names_condition(text, condition) is named


def test_conditions_named_in_a_text() -> None:
    assert conditions_named("Coated FOGRA39L or IFRA 26, not SWOP") == ("fogra39", "ifra26")


def test_suffixes_count_as_words_only() -> None:
    assert ink_core("Gold C", ("c",)) == "gold"
    assert ink_core("Magic", ("c",)) == "magic"
    assert ink_core("C", ("c",)) == "c"
    assert ordered_core("K") == "black"


def test_area_of_boxes_that_overlap() -> None:
    assert covered_area([Box(0, 0, 2, 2), Box(1, 1, 3, 3), Box(10, 0, 11, 1)]) == pytest.approx(4 + 4 - 1 + 1)


def test_places_join_through_a_box_between_them() -> None:
    apart = [(Box(0, 0, 1, 1), ""), (Box(6, 0, 7, 1), "")]
    assert len(gather(apart)) == 2
    assert len(gather([*apart, (Box(2.5, 0, 4.5, 1), "")])) == 1
