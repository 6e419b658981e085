"""Bar codes judged by facts written by hand, and in artwork: sizes, quiet zones, colours, content; and what must be let be.

Limits: 0.264 mm for EAN and UPC at 80 % of 0.330 mm, 0.495 mm for ITF-14 and GS1-128, quiet zones (GS1 size guide, GS1 General
Specifications); 0.254 mm and 4 modules for QR (its inventor's public pages).
"""

from __future__ import annotations

from dataclasses import replace

import pytest
from artwork import Book, mm, rectangle
from by_hand import document_of, file_answers, ids, job_of, judged, not_judged, page_answers, page_of, summary
from symbols import SEEDS, code_128, data_matrix, drawn, ean_8, ean_13, itf, qr, rectangles
from twins import HIDDEN, NESTED, Thing
from twins import book as twin_book
from whole import found_in

from preflight.findings import Finding
from preflight.inventory.model import BarcodeSeen
from preflight.units import Box

WIDE = dict.fromkeys(("left", "top", "right", "bottom", "corners"), 12.0)
URL = "https://fernhollow.example/seeds"
K = "0 0 0 1 k"


def code(symbology: str = "EAN-13", text: str | None = SEEDS, x_mm: float | None = 0.33, **facts) -> BarcodeSeen:
    facts.setdefault(
        "quiet_modules", WIDE if symbology in ("QR Code", "Data Matrix") else {"left": 12.0, "right": 12.0}
    )
    usual = {
        "decoded": True,
        "inks": ("Black",),
        "inks_percent": {"Black": 100.0},
        "reflectance_bar": 0.02,
        "reflectance_ground": 1.0,
        "height_mm": 22.85,
    }
    return BarcodeSeen(Box(20.0, 30.0, 51.0, 52.0), symbology, text, x_mm, **(usual | facts))


def found(*codes: BarcodeSeen, trim_mm=(100.0, 80.0), **order) -> list[Finding]:
    job = job_of(**order)
    return judged("barcode", page_answers("barcode", page_of(trim_mm=trim_mm, barcodes=codes), job), job)


# --- size ------------------------------------------------------------------------------------------------------------

LEAST = [
    ("EAN-13", 0.264),
    ("EAN-8", 0.264),
    ("UPC-A", 0.264),
    ("UPC-E", 0.264),
    ("ITF", 0.495),
    ("Code 128", 0.495),
    ("QR Code", 0.254),
]


@pytest.mark.parametrize(("symbology", "least_mm"), LEAST)
def test_a_module_below_the_least(symbology, least_mm):
    (finding,) = found(code(symbology, x_mm=0.95 * least_mm))
    assert (finding.id, finding.severity, finding.unit) == ("barcode.too-small", "ask", "mm")
    assert finding.measured == pytest.approx(0.95 * least_mm, abs=0.001)
    assert finding.limit == pytest.approx(least_mm, abs=0.0005)
    assert SEEDS in finding.remedy
    assert found(code(symbology, x_mm=least_mm)) == []
    assert found(code(symbology, x_mm=0.995 * least_mm)) == []
    assert found(code(symbology, x_mm=3 * least_mm)) == []


@pytest.mark.parametrize(
    "unknown", [code("DataBar", x_mm=0.1), code(x_mm=None), code("bar code", None, None, quiet_modules={})]
)
def test_what_has_no_size_or_no_limit_is_not_too_small(unknown):
    assert "barcode.too-small ask" not in ids(found(unknown))


# --- quiet zone ------------------------------------------------------------------------------------------------------

CLEAR = [
    ("EAN-13", 11, 7),
    ("EAN-8", 7, 7),
    ("UPC-A", 9, 9),
    ("UPC-E", 9, 7),
    ("ITF", 10, 10),
    ("Code 128", 10, 10),
]


@pytest.mark.parametrize(("symbology", "left", "right"), CLEAR)
def test_the_quiet_zone_of_each_kind(symbology, left, right):
    fits = {"left": float(left), "right": float(right)}
    assert found(code(symbology, quiet_modules=fits, x_mm=0.5)) == []
    for side in ("left", "right"):
        (finding,) = found(code(symbology, quiet_modules=fits | {side: fits[side] - 1.0}, x_mm=0.5))
        assert (finding.id, finding.severity, finding.unit) == ("barcode.quiet-zone", "ask", "modules")
        assert (finding.measured, finding.limit) == (fits[side] - 1.0, fits[side])
        assert finding.details["sides"] == [side]
        assert side in finding.message


@pytest.mark.parametrize("side", WIDE)
def test_the_quiet_zone_of_a_qr_code_goes_all_round(side):
    assert found(code("QR Code", URL, quiet_modules=dict.fromkeys(WIDE, 4.0))) == []
    (finding,) = found(code("QR Code", URL, quiet_modules=WIDE | {side: 2.5}))
    assert (finding.measured, finding.limit, finding.details["sides"]) == (2.5, 4.0, [side])


def test_the_side_that_lacks_most_is_measured():
    (finding,) = found(code(quiet_modules={"left": 9.0, "right": 2.0}))
    assert (finding.measured, finding.limit) == (2.0, 7.0)
    assert finding.details["sides"] == ["left", "right"]


def test_a_quarter_of_a_module_is_no_lack():
    assert found(code(quiet_modules={"left": 10.8, "right": 6.8})) == []


# --- colour ----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("seen", "reason"),
    [
        (code(reflectance_bar=0.8, inks_percent={"Magenta": 100.0}), "red light"),
        (code(reflectance_bar=0.02, reflectance_ground=0.05), "red light"),
        (code(reflectance_bar=0.45, inks_percent={"Deep Blue": 100.0}, reflectance_ground=0.8), "red light"),
        (code(inks_percent={"Cyan": 60.0, "Black": 100.0}), "several inks"),
        (code(inks_percent={"Black": 70.0}), "tint"),
        (code(reversed_out=True, inks_percent={}, reflectance_bar=1.0, reflectance_ground=0.02), "lighter"),
    ],
    ids=["red bars", "dark ground", "half as dark", "several inks", "a tint", "light on dark"],
)
def test_colours_a_scanner_may_not_read(seen, reason):
    (finding,) = found(seen)
    assert (finding.id, finding.severity) == ("barcode.colour", "ask")
    assert reason in finding.message
    assert (finding.measured is not None) == (reason == "red light")


@pytest.mark.parametrize(
    "seen",
    [
        code(),
        code(inks_percent={"Deep Green": 100.0}, reflectance_bar=0.1),
        code(reflectance_ground=0.8),
        code(inks_percent={"Black": 99.6}),
        code(inks_percent={"Black": 100.0, "Yellow": 5.0}),
        code(reflectance_bar=None, reflectance_ground=None),
    ],
    ids=["black on white", "dark green", "on red", "rounding", "a trace of yellow", "not known"],
)
def test_colours_left_alone(seen):
    assert found(seen) == []


def test_one_finding_names_every_reason():
    (finding,) = found(code(reflectance_bar=0.78, inks_percent={"Magenta": 100.0, "Yellow": 100.0}))
    assert len(finding.details["reasons"]) == 2


# --- content ---------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("seen", "why"),
    [
        (code(decoded=False, fault="check digit", check_digit_ok=False, text="4006381333932"), "check digit"),
        (code("ITF", "15400141288764", 0.5, check_digit_ok=False), "check digit"),
        (code(decoded=False, fault="damaged", text=None), "cannot be decoded"),
        (code("Tall", None, None, decoded=False, fault="font", quiet_modules={}, inks_percent={}), "shows no bar code"),
    ],
    ids=["check digit", "check digit of a carton", "damaged", "font"],
)
def test_what_cannot_be_read(seen, why):
    (finding,) = found(seen)
    assert (finding.id, finding.severity) == ("barcode.unreadable", "ask")
    assert why in finding.message
    assert why in finding.remedy


@pytest.mark.parametrize(
    ("text", "ordered"),
    [
        (SEEDS, ("4012345678901",)),
        (SEEDS, ("4006381333930",)),
        (URL, (SEEDS,)),
        ("FERN", ("Fern",)),
    ],
)
def test_a_code_that_is_not_ordered(text, ordered):
    (finding,) = found(code("QR Code" if text == URL else "EAN-13", text), barcodes=ordered)
    assert finding.id == "barcode.unreadable"
    assert ordered[0] in finding.message


@pytest.mark.parametrize(
    ("seen", "ordered"),
    [
        (code(), (SEEDS,)),
        (code(), ("4012345678901", "4 006381 333931")),
        (code("UPC-A", "036000291452"), ("0036000291452",)),
        (code("EAN-13", "0036000291452"), ("036000291452",)),
        (code("UPC-E", "01234565"), ("012345000065",)),
        (code("ITF", "04006381333931", 0.5), (SEEDS,)),
        (code("Code 128", "(01)04006381333931", 0.5), (SEEDS,)),
        (code("QR Code", URL), (URL,)),
        (code("QR Code", URL), ()),
    ],
    ids=[
        "the number",
        "with spaces",
        "13 digits",
        "12 digits",
        "UPC-E",
        "carton",
        "GS1-128",
        "a link",
        "nothing ordered",
    ],
)
def test_an_ordered_code(seen, ordered):
    assert found(seen, barcodes=ordered) == []


def of_file(ordered: tuple[str, ...], *texts: tuple[str, ...], undecoded: int | None = 0) -> list[Finding]:
    job = job_of(barcodes=ordered)
    pages = [
        replace(summary(number), barcodes=held, barcodes_undecoded=undecoded) for number, held in enumerate(texts, 1)
    ]
    return judged("barcode", file_answers("barcode", pages, job, document_of(pages=len(pages))), job)


def test_an_ordered_number_that_is_nowhere():
    (finding,) = of_file((SEEDS, "4012345678901"), (), ("4012345678901",))
    assert (finding.id, finding.severity, finding.page) == ("barcode.unreadable", "ask", None)
    assert SEEDS in finding.message
    assert SEEDS in finding.remedy


@pytest.mark.parametrize(
    ("ordered", "texts", "undecoded"),
    [
        ((SEEDS,), ((), (SEEDS,)), 0),
        (("036000291452",), (("0036000291452",),), 0),
        ((SEEDS,), ((),), 1),
        ((SEEDS,), ((),), None),
    ],
    ids=["on another page", "13 digits", "one that cannot be read may be it", "a page not looked through"],
)
def test_an_ordered_number_that_may_be_there(ordered, texts, undecoded):
    assert of_file(ordered, *texts, undecoded=undecoded) == []


def test_without_numbers_in_the_ticket_that_is_not_judged():
    job = job_of()
    answers = file_answers("barcode", [summary()], job)
    assert judged("barcode", answers, job) == []
    assert any("codes" in why for why in not_judged(answers))


def test_strange_texts_do_no_harm():
    (finding,) = found(code("QR Code", "\x00\udcff{evil}" * 40), barcodes=(SEEDS,))
    assert finding.message
    assert len(finding.message) < 300


# --- in artwork ------------------------------------------------------------------------------------------------------


def in_art(content: str, folder, resources=None, **order) -> list[Finding]:
    book = Book()
    book.page(content, resources=resources(book) if resources else {})
    return found_in(book, folder, "barcode", **order)


@pytest.mark.parametrize(
    ("symbol", "x_mm", "limit"),
    [
        (ean_13(), 0.2475, 0.264),  # 75 %: for on-demand print only, not for offset
        (ean_8(), 0.25, 0.264),
        (itf("154001412887"), 0.3, 0.495),
        (code_128("FERN26"), 0.33, 0.495),
        (qr(version=3), 0.2, 0.254),
    ],
    ids=["EAN-13", "EAN-8", "ITF", "Code 128", "QR"],
)
def test_small_codes(tmp_path, symbol, x_mm, limit):
    found_there = in_art(drawn(symbol, 15, 30, x_mm), tmp_path)
    assert [finding.id for finding in found_there] == ["barcode.too-small"]
    assert found_there[0].measured == pytest.approx(x_mm, rel=0.02)
    assert found_there[0].limit == pytest.approx(limit, abs=0.0005)
    assert found_there[0].box_mm is not None
    assert found_there[0].box_mm[0] == pytest.approx(15, abs=0.1)


@pytest.mark.parametrize(
    ("symbol", "x_mm"),
    [(ean_13(), 0.264), (ean_8(), 0.264), (itf("1234567890"), 0.495), (code_128("F26"), 0.495), (qr(version=3), 0.254)],
    ids=["EAN-13", "EAN-8", "ITF", "Code 128", "QR"],
)
def test_codes_exactly_at_their_least_size(tmp_path, symbol, x_mm):
    assert in_art(drawn(symbol, 15, 30, x_mm), tmp_path) == []


def frame(x: float, y: float, width: float, height: float) -> str:
    return f"0 0 0 1 K 0.25 w {rectangle(x, y, width, height)} S"


@pytest.mark.parametrize(
    "beside",
    [
        frame(20 - 5 * 0.33, 28, 105 * 0.33, 25),
        f"1 0 0 0 k {rectangle(10, 28, 10 - 5 * 0.33, 25)} f {rectangle(20 + 100 * 0.33, 28, 10, 25)} f",
        f"/S cs 0.8 scn {rectangle(10, 28, 10 - 5 * 0.33, 25)} f {rectangle(20 + 100 * 0.33, 28, 10, 25)} f",
        f"/X Do 1 0 0 1 {mm(105 * 0.33 + 1)} 0 cm /X Do",
    ],
    ids=["a frame", "cyan", "a spot ink", "a form"],
)
def test_a_quiet_zone_of_five_modules(tmp_path, beside):
    def resources(book):
        left = book.form(f"{K} {rectangle(20 - 5 * 0.33 - 1, 35, 1, 1)} f")
        return {"S": book.spot("Deep Blue", (1, 0.8, 0, 0.3)), "X": left}

    (finding,) = in_art(drawn(ean_13(), 20, 30, 0.33) + beside, tmp_path, resources)
    assert finding.id == "barcode.quiet-zone"
    assert (finding.measured, finding.limit) == (pytest.approx(5.0, abs=0.2), 11.0)
    assert finding.details["sides"] == ["left", "right"]


@pytest.mark.parametrize(
    "beside",
    [
        frame(20 - 11.2 * 0.33, 28, (95 + 18.4) * 0.33, 25),
        f"0 1 0 0 k {rectangle(10, 28, 8, 25)} f 0 0 1 0 k {rectangle(52, 28, 8, 25)} f",
        f"{K} {rectangle(17, 26, 1.5, 2.5)} f {rectangle(25, 26, 20, 2.5)} f",
        f"0 0 0 0 k {rectangle(15, 28, 5, 25)} f",
        f"0.05 0 0 0 k {rectangle(10, 28, 10, 25)} f",
        f"/V cs 1 scn {rectangle(10, 28, 60, 25)} f",
    ],
    ids=["a frame far enough", "colours red light passes", "the digits", "white", "a breath of cyan", "varnish"],
)
def test_a_quiet_zone_that_is_clear(tmp_path, beside):
    def resources(book):
        return {"V": book.spot("Varnish", (0, 0, 0.1, 0)), "On": book.state(OP=True, op=True, OPM=1)}

    assert in_art(drawn(ean_13(), 20, 30, 0.33) + "/On gs " + beside, tmp_path, resources) == []


@pytest.mark.parametrize(
    "content",
    [
        drawn(ean_13(), 20, 30, 0.33, colour="0 1 1 0 k"),
        drawn(ean_13(), 20, 30, 0.33, colour="0 0 0 rg"),
        drawn(ean_13(), 20, 30, 0.33, colour="/S cs 1 scn"),
        drawn(qr(), 20, 30, 0.5, colour="0.6 0.4 0.4 1 k"),
        f"{K} {rectangle(5, 5, 80, 60)} f {drawn(ean_13(), 20, 30, 0.33, colour='0 0 0 0 k')}",
        f"1 0 0 0 k {rectangle(5, 5, 80, 60)} f {drawn(ean_13(), 20, 30, 0.33)}",
        f"/Half gs {drawn(ean_13(), 20, 30, 0.33)}",
    ],
    ids=["red", "RGB black", "a red spot ink", "rich black", "light on dark", "on cyan", "half see-through"],
)
def test_colours(tmp_path, content):
    def resources(book):
        return {"S": book.spot("Poppy", (0, 1, 1, 0)), "Half": book.state(ca=0.5)}

    assert [finding.id for finding in in_art(content, tmp_path, resources)] == ["barcode.colour"]


@pytest.mark.parametrize(
    "content",
    [
        drawn(ean_13(), 20, 30, 0.33),
        drawn(ean_13(), 20, 30, 0.33, colour="0 g"),
        drawn(ean_13(), 20, 30, 0.33, colour="/S cs 1 scn"),
        f"0 0 1 0 k {rectangle(5, 5, 80, 60)} f {drawn(ean_13(), 20, 30, 0.33)}",
        f"0 0.4 1 0 k {rectangle(5, 5, 80, 60)} f /On gs {drawn(ean_13(), 20, 30, 0.33)}",
        f"{drawn(data_matrix(), 20, 30, 0.4)}",
    ],
    ids=["black", "gray space", "a dark green spot ink", "on yellow", "overprinting orange", "Data Matrix"],
)
def test_colours_that_scan(tmp_path, content):
    def resources(book):
        return {"S": book.spot("Deep Green", (1, 0.3, 1, 0.5)), "On": book.state(OP=True, op=True, OPM=1)}

    assert in_art(content, tmp_path, resources) == []


def test_a_wrong_check_digit_in_artwork(tmp_path):
    (finding,) = in_art(drawn(ean_13("4006381333932"), 20, 30, 0.33), tmp_path)
    assert finding.id == "barcode.unreadable"
    assert "4006381333932" in finding.message


@pytest.mark.parametrize(
    ("number", "ordered", "expected"),
    [
        (SEEDS, SEEDS, []),
        ("0036000291452", "036000291452", []),
        (SEEDS, "4012345678901", [1, None]),
    ],
    ids=["the ordered one", "12 digits ordered", "another"],
)
def test_codes_and_orders(tmp_path, number, ordered, expected):
    found_there = in_art(drawn(ean_13(number), 20, 30, 0.33), tmp_path, barcodes=(ordered,))
    assert {finding.id for finding in found_there} <= {"barcode.unreadable"}
    assert sorted((finding.page for finding in found_there), key=lambda page: page or 9) == expected


def test_an_order_and_an_empty_page(tmp_path):
    (finding,) = in_art(f"{K} {rectangle(20, 20, 5, 5)} f", tmp_path, barcodes=(SEEDS,))
    assert (finding.id, finding.page) == ("barcode.unreadable", None)


SMALL = Thing(f"{K} {' '.join(rectangles(ean_8(), 20, 25, 0.2, 12))} f", (20.0, 25.0, 13.4, 12.0))


@pytest.mark.parametrize("way", NESTED)
def test_a_nested_code_is_judged(tmp_path, way):
    found_there = found_in(twin_book(SMALL, way), tmp_path, "barcode")
    assert "barcode.too-small" in [finding.id for finding in found_there]


@pytest.mark.parametrize("way", HIDDEN)
def test_a_code_that_nobody_sees_is_not(tmp_path, way):
    assert found_in(twin_book(SMALL, way), tmp_path, "barcode") == []


def test_repeats_of_a_label_are_told_one_by_one(tmp_path):
    tile = "".join(drawn(ean_8(), 5 + 45 * x, 10 + 30 * y, 0.25, 15) for x in range(2) for y in range(2))
    found_there = in_art(tile, tmp_path)
    assert [finding.id for finding in found_there] == ["barcode.too-small"] * 4
    assert len({finding.key for finding in found_there}) == 4
