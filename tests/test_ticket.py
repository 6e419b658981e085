"""Tickets: every key of the job as ordered, and one line with file, key and nearest name on anything else."""

import dataclasses
import hashlib
import json
from datetime import date

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from toml_text import toml_text

from preflight.checking import all_checks
from preflight.errors import UsageFault
from preflight.rules import settle
from preflight.ticket import Finishing, SideInks, Ticket, Waive
from preflight.ticketfile import load_ticket, read_ticket

WHOLE = """
job = "TP-4711"
customer = "Fernhollow Botanic Garden"
title = "Spring guide"
trim_mm = [148, 210.0]
pages = 16
bleed_mm = 3
inks = { front = ["Cyan", "Magenta", "Yellow", "Black", "Fern Green"], back = ["Black"] }
binding = "saddle-stitch"
fold = "letter"
panels_mm = [100, 100, 97]
part = "body"
spine_mm = 0
stock = "Silk coated 135 g"
caliper_mm = 0.11
cover_caliper_mm = 0.25
blank_pages = [2, 15]
quantity = 5000
finishing = [{ process = "die-cut", ink = "Die" }, { process = "varnish", ink = "Spot UV" }]
printed_size_mm = [400, 600]
food_label = true
label_surface_cm2 = 75.5
barcodes = ["4006381333931"]

[[waive]]
id = "resolution.low"
by = "R. Hale"
on = 2026-11-25
why = "the only picture there is"
page = 3

[[waive]]
id = "resolution.soft"
by = "R. Hale"
on = "2026-11-26"
why = "seen"
key = "0123456789abcdef"
sha256 = "ABCDEF0123456789abcdef0123456789abcdef0123456789abcdef0123456789"
measured = 180.5
"""


@pytest.fixture
def own(tmp_path):
    def write(text, name="ticket.toml"):
        path = tmp_path / name
        path.write_bytes(text if isinstance(text, bytes) else text.encode())
        return path

    return write


def test_every_key_of_a_ticket(own):
    ticket = read_ticket(own(WHOLE))
    assert ticket == Ticket(
        job="TP-4711",
        customer="Fernhollow Botanic Garden",
        title="Spring guide",
        trim_mm=(148.0, 210.0),
        pages=16,
        bleed_mm=3.0,
        inks=SideInks(front=("Cyan", "Magenta", "Yellow", "Black", "Fern Green"), back=("Black",)),
        binding="saddle-stitch",
        fold="letter",
        panels_mm=(100.0, 100.0, 97.0),
        part="body",
        spine_mm=0.0,
        stock="Silk coated 135 g",
        caliper_mm=0.11,
        cover_caliper_mm=0.25,
        blank_pages=(2, 15),
        quantity=5000,
        finishing=(Finishing("die-cut", "Die"), Finishing("varnish", "Spot UV")),
        printed_size_mm=(400.0, 600.0),
        food_label=True,
        label_surface_cm2=75.5,
        barcodes=("4006381333931",),
        waive=(
            Waive("resolution.low", "R. Hale", date(2026, 11, 25), "the only picture there is", page=3),
            Waive(
                "resolution.soft",
                "R. Hale",
                date(2026, 11, 26),
                "seen",
                key="0123456789abcdef",
                sha256="abcdef0123456789abcdef0123456789abcdef0123456789abcdef0123456789",
                measured=180.5,
            ),
        ),
    )
    given = {item.name for item in dataclasses.fields(Ticket) if getattr(ticket, item.name) != item.default}
    assert given == {item.name for item in dataclasses.fields(Ticket)}, "a key is missing in this test"


def test_an_empty_ticket_orders_nothing(own):
    assert read_ticket(own("")) == Ticket()


def test_texts_left_empty_are_not_given(own):
    assert read_ticket(own('job = ""\ncustomer = " "\ntitle = ""\nstock = ""\n')) == Ticket()


def test_the_ticket_is_settled_into_the_job(own):
    path = own('job = "TP-1"\nbleed_mm = 5\ninks = ["Black", "Fern Green"]\n')
    job = settle("newsprint", path)
    assert job.order.job == "TP-1"
    assert job.ticket_sha256 == hashlib.sha256(path.read_bytes()).hexdigest() == load_ticket(path)[1]
    assert job.bleed_mm == 5.0
    assert job.order.inks_of(1) == job.order.inks_of(2) == ("Black", "Fern Green")
    assert settle("newsprint").ticket is None
    assert settle("newsprint").rules_sha256 == job.rules_sha256


def test_front_inks_are_those_of_odd_pages(own):
    ticket = read_ticket(own('inks = { front = ["Cyan", "Black"], back = [] }'))
    assert ticket.inks_of(1) == ("Cyan", "Black")
    assert ticket.inks_of(2) == ()


@pytest.mark.parametrize("day", ["2026-11-25", '"2026-11-25"', "2026-11-25T09:30:00Z", "2026-11-25 09:30:00"])
def test_the_day_of_a_waiver_in_every_spelling(own, day):
    waive = f'[[waive]]\nid = "resolution.low"\nby = "R. Hale"\non = {day}\nwhy = "seen"\n'
    assert read_ticket(own(waive)).waive[0].on == date(2026, 11, 25)


@pytest.mark.parametrize(
    "text",
    [
        'fold = "gate"',
        'fold = "accordion"\nbinding = "saddle-stitch"',
        'part = "cover"\npages = 64\ntrim_mm = [302, 210]',
        "pages = 7\nbinding = 'perfect'",
        "blank_pages = [40]\npages = 16",
        "panels_mm = [1]",
        "food_label = true",
    ],
)
def test_orders_that_contradict_each_other_are_no_fault_of_the_file(own, text):
    assert read_ticket(own(text)) != Ticket()


def waive(**change):
    entry = {"id": "resolution.low", "by": "R. Hale", "on": "2026-11-25", "why": "seen"} | change
    return toml_text({"waive": [{key: value for key, value in entry.items() if value is not None}]})


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("trim = [148, 210]", ["trim:", "unknown key", "trim_mm"]),
        ('trim_mm = "A5"', ["trim_mm", "a list of 2 numbers above 0", '"A5"']),
        ("trim_mm = [148]", ["trim_mm", "a list of 2 numbers", "[148]"]),
        ("trim_mm = [148, 210, 3]", ["trim_mm", "a list of 2 numbers", "[148, 210, 3]"]),
        ("trim_mm = [148, 0]", ["trim_mm", "above 0", "[148, 0]"]),
        ("trim_mm = [148, -210]", ["trim_mm", "above 0", "-210"]),
        ("trim_mm = [148, inf]", ["trim_mm", "above 0", "inf"]),
        ("trim_mm = [148, nan]", ["trim_mm", "above 0", "nan"]),
        ("trim_mm = ['148', 210]", ["trim_mm", "numbers", '"148"']),
        ("trim_mm = [true, 210]", ["trim_mm", "numbers", "true"]),
        ("trim_mm = [148000, 210000]", ["trim_mm", "at most 100000", "210000"]),
        ("trim_mm = 148", ["trim_mm", "a list of 2 numbers", "148"]),
        ("bleed_mm = -3", ["bleed_mm", "0 or more", "-3"]),
        ("pages = 0", ["pages", "a whole number above 0", "0"]),
        ("pages = 16.0", ["pages", "a whole number", "16.0"]),
        ('pages = "16"', ["pages", "a whole number", '"16"']),
        ("pages = true", ["pages", "a whole number", "true"]),
        ("blank_pages = 2", ["blank_pages", "a list of whole numbers", "2"]),
        ("blank_pages = [0]", ["blank_pages", "above 0", "[0]"]),
        ('binding = "sadle-stitch"', ["binding", "saddle-stitch", '"sadle-stitch"', "nearest is saddle-stitch"]),
        ("binding = false", ["binding", "one of none, saddle-stitch", "false"]),
        ('fold = "z"', ["fold", "letter, gate, roll, accordion"]),
        ('inks = "Cyan"', ["inks", "a list of ink names", '"Cyan"']),
        ("inks = []", ["inks", "at least one"]),
        ("inks = [1]", ["inks", "a list of texts", "[1]"]),
        ('inks = [" "]', ["inks", "not blank"]),
        ('inks = { fornt = ["Cyan"] }', ["inks.fornt", "unknown key", "front"]),
        ("inks = { front = [], back = [] }", ["inks", "at least one"]),
        ('inks = { front = "Cyan" }', ["inks.front", "a list of texts"]),
        ('finishing = ["die-cut"]', ["finishing", "a list of tables", "a list of 1"]),
        ('finishing = { process = "foil", ink = "Gold" }', ["finishing", "a list of tables", "a table"]),
        ('finishing = [{ process = "diecut", ink = "Die" }]', ["finishing[1].process", "die-cut"]),
        ('finishing = [{ process = "die-cut" }]', ["finishing[1]", "lacks ink"]),
        (
            'finishing = [{ process = "foil", ink = "G" }, { process = "foil", inks = "G" }]',
            ["finishing[2].inks", "ink"],
        ),
        ('food_label = "yes"', ["food_label", "true or false", '"yes"']),
        ("barcodes = [4006381333931]", ["barcodes", "a list of texts", "4006381333931"]),
        ('job = "a\\nb"', ["job", "a text", "control"]),
        ("job = 4711", ["job", "a text", "4711"]),
        ("[press]\nscreen_lpi = 150", ["press", "unknown key"]),
        (waive(id="resolution.lo"), ["waive[1].id", "resolution.lo", "unknown id", "resolution.low"]),
        (waive(id="resolution"), ["waive[1].id", "unknown id", "resolution."]),
        (waive(by=None), ["waive[1]", "lacks by"]),
        (waive(on=None), ["waive[1]", "lacks on"]),
        (waive(why=" "), ["waive[1].why", "not blank"]),
        (waive(on="25.11.2026"), ["waive[1].on", "a date such as 2026-11-25", '"25.11.2026"']),
        (waive(on="2026-02-30"), ["waive[1].on", "a date"]),
        (waive(on=20261125), ["waive[1].on", "a date"]),
        (waive(page=0), ["waive[1].page", "above 0", "0"]),
        (waive(page="3"), ["waive[1].page", "a whole number", '"3"']),
        (waive(sha256="abc"), ["waive[1].sha256", "64 hexadecimal digits", '"abc"']),
        (waive(pge=3), ["waive[1].pge", "unknown key", "page"]),
        ("waive = 3", ["waive", "a list of tables"]),
        ("job = ", ["not valid TOML"]),
        ("on = 2026-02-30", ["not valid TOML"]),
    ],
)
def test_wrong_tickets_are_refused_in_one_line(own, text, words):
    with pytest.raises(UsageFault) as caught:
        read_ticket(own(text))
    message = str(caught.value)
    assert message.isprintable()
    at = 0
    for word in ("ticket.toml", *words):
        assert word in message[at:], f"{word!r} is not in {message!r} after {message[:at]!r}"
        at = message.index(word, at)


def test_a_waiver_may_name_a_milder_case_only_by_its_id(own):
    """The id stays the same for the milder case, so ``<kind>-mild`` is no id."""
    with pytest.raises(UsageFault, match="unknown id"):
        read_ticket(own(waive(id="resolution.low-mild")))


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (lambda path: None, "no such ticket"),
        (lambda path: path.mkdir(), "not a file"),
        (lambda path: path.write_bytes("job = 'x'".encode("utf-16")), "not UTF-8"),
        (lambda path: path.write_bytes(b"a = " + b"[" * 9999), "nested too deeply"),
        (lambda path: path.write_bytes(b"#" * 300_000), "over 256 KB"),
    ],
)
def test_a_ticket_that_cannot_be_read(tmp_path, make, words):
    path = tmp_path / "ticket.toml"
    make(path)
    with pytest.raises(UsageFault, match=words) as caught:
        settle(None, path)
    assert str(caught.value).isprintable() and str(path) in str(caught.value)


KEYS = st.text(max_size=6) | st.sampled_from(
    [
        *(item.name for holder in (Ticket, Waive, Finishing, SideInks) for item in dataclasses.fields(holder)),
        *("trim", "press", "resolution"),
    ]
)
LEAVES = (
    st.booleans()
    | st.integers()
    | st.floats()
    | st.text(max_size=12)
    | st.dates()
    | st.sampled_from(["perfect", "gate", "cover", "foil", "resolution.low", "2026-11-25"])
)
VALUES = st.recursive(
    LEAVES, lambda inner: st.lists(inner, max_size=4) | st.dictionaries(KEYS, inner, max_size=5), max_leaves=12
)


@settings(max_examples=150, deadline=None)
@given(table=st.dictionaries(KEYS, VALUES, max_size=6))
def test_no_toml_value_ends_in_anything_but_a_usage_fault(tmp_path_factory, table):
    path = tmp_path_factory.getbasetemp() / "fuzz.toml"
    path.write_text(toml_text(table), encoding="utf-8")
    try:
        ticket = read_ticket(path)
    except UsageFault as fault:
        assert str(fault).isprintable()
    else:
        assert all(getattr(ticket, key) is not None for key, value in table.items() if str(value).strip())
        json.dumps(dataclasses.asdict(ticket), default=str, allow_nan=False)


@settings(max_examples=100, deadline=None)
@given(value=VALUES, key=st.sampled_from([item.name for item in dataclasses.fields(Ticket)]))
def test_one_key_with_any_value(tmp_path_factory, value, key):
    path = tmp_path_factory.getbasetemp() / "key.toml"
    path.write_text(toml_text({key: value}), encoding="utf-8")
    try:
        read_ticket(path)
    except UsageFault as fault:
        assert f"key.toml: {key}" in str(fault)


def test_every_id_of_the_checks_can_be_waived(own):
    for name, check in all_checks().items():
        for kind in check.kinds:
            assert read_ticket(own(waive(id=f"{name}.{kind}"))).waive[0].id == f"{name}.{kind}"
