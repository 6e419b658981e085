"""From what checks found to findings: grouping, severities, keys, knock-on, waivers."""

from __future__ import annotations

import itertools
from datetime import date

import pytest

from preflight.checking import all_checks
from preflight.findings import Finding, Found, NotJudged, Severity, Unchecked, Verdict, counts_of, verdict_of
from preflight.inventory.model import CellGrid, Plates
from preflight.judging import MOST_BOXES, group, judge, place_print
from preflight.ticket import Job, Press, Ticket, Waive
from preflight.units import Box

SHA = "ab" * 32


def a_job(*waives: Waive, **severities: dict[str, str]) -> Job:
    """A job under which every kind is a stop, unless said otherwise (``resolution={"soft": "ask"}``)."""
    table = {name: dict.fromkeys(check.kinds, Severity.STOP) for name, check in all_checks().items()}
    for name, kinds in severities.items():
        table[name] |= {kind: Severity(severity) for kind, severity in kinds.items()}
    return Job(Ticket(waive=waives), Press(150), {}, table)


def low(box: Box | None, ppi: float = 100.0, page: int | None = 1, **more: object) -> Found:
    return Found("low", page, box, ppi, 150.0, "ppi", values={"part": "picture"}, **more)  # type: ignore[arg-type]


def judged(*founds: Found, job: Job | None = None, check: str = "resolution") -> list[Finding]:
    return judge([(check, found) for found in founds], job or a_job(), SHA)


# --- grouping: same id and page, and the same object or places within 2 mm (contract, "Grouping") ----------------------


def test_places_two_millimetres_apart_are_one_finding_with_the_worst_value() -> None:
    [one] = judged(low(Box(0, 0, 10, 10), 120.0), low(Box(12, 0, 20, 10), 90.0), low(Box(12, 12, 20, 15), 110.0))

    assert one.box_mm == [0, 0, 20, 15]
    assert one.count == 3
    assert one.measured == 90.0
    assert "90 ppi" in one.message


def test_places_farther_apart_stay_two() -> None:
    assert len(judged(low(Box(0, 0, 10, 10)), low(Box(12.1, 0, 20, 10)))) == 2


def test_the_worse_of_too_much_is_the_higher() -> None:
    founds = [
        Found("excessive", 1, Box(x, 0, x + 5, 5), ppi, 450.0, "ppi", worse="high", values={"part": "picture"})
        for x, ppi in ((0, 500.0), (5, 900.0), (10, 700.0))
    ]

    [one] = judged(*founds)

    assert one.measured == 900.0


def test_other_pages_and_other_kinds_are_other_findings() -> None:
    box = Box(0, 0, 10, 10)

    found = judged(low(box), low(box, page=2), Found("soft", 1, box, 200.0, 225.0, "ppi"))

    assert [(finding.id, finding.page) for finding in found] == [
        ("resolution.low", 1),
        ("resolution.low", 2),
        ("resolution.soft", 1),
    ]


def test_one_object_far_apart_is_one_finding() -> None:
    [one] = judged(low(Box(0, 0, 10, 10), source="image 7"), low(Box(100, 100, 110, 110), source="image 7"))

    assert one.count == 2
    assert one.box_mm == [0, 0, 110, 110]


def test_two_things_of_one_object_stay_apart() -> None:
    """Two inks in one picture are two plates, whatever they are painted by."""
    inks = [
        Found("low", 1, Box(0, 0, 10, 10), subject=ink, source="image 7", values={"part": "picture"})
        for ink in ("Fern Green", "Moss")
    ]

    assert len(judged(*inks)) == 2


def test_what_has_no_place_is_one_finding() -> None:
    [one] = judged(low(None, 120.0), low(None, 80.0))

    assert (one.count, one.box_mm, one.measured) == (2, None, 80.0)


@pytest.mark.parametrize("order", list(itertools.permutations(range(4))))
def test_grouping_does_not_depend_on_the_order_of_painting(order: tuple[int, ...]) -> None:
    """Three places in a bent chain, and a fourth inside the chain's common box that touches none of them."""
    places = [Box(0, 0, 30, 2), Box(0, 0, 2, 30), Box(0, 28, 30, 30), Box(14, 14, 16, 16)]

    found = judged(*(low(places[index]) for index in order))

    assert sorted((finding.box_mm, finding.count) for finding in found) == [([0, 0, 30, 30], 3), ([14, 14, 16, 16], 1)]


def test_groups_of_a_page_are_not_grouped_again() -> None:
    """Their common boxes may meet where none of their places do."""
    answers = [("resolution", low(place)) for place in (Box(0, 0, 30, 2), Box(0, 0, 2, 30), Box(14, 14, 16, 16))]
    job = a_job()

    early = group(list(answers), job)
    late = judge([(name, found) for name, found in early if isinstance(found, Found)], job, SHA)

    assert len(early) == len(late) == len(judge(answers, job, SHA)) == 2


def test_what_is_not_found_passes_through_grouping() -> None:
    answers = [("resolution", NotJudged("resolution", "no ticket")), ("resolution", Unchecked("resolution", 1, "why"))]

    assert group(list(answers), a_job()) == answers


def test_what_must_not_be_merged_is_not() -> None:
    assert len(judged(*(low(Box(0, 0, 10, 10), groups=False) for _ in range(3)))) == 3


def test_over_twenty_of_a_kind_are_one_with_their_places() -> None:
    """Exactly 20 stay 20; the 21st makes them one (contract: over 20)."""
    places = [Box(10 * x, 10 * y, 10 * x + 5, 10 * y + 5) for x in range(7) for y in range(3)]

    assert len(judged(*(low(place) for place in places[:20]))) == 20
    [one] = judged(*(low(place, 100.0 - index) for index, place in enumerate(places)))

    assert one.count == 21
    assert one.measured == 80.0
    assert one.box_mm == [0, 0, 65, 25]
    assert len(one.details["boxes_mm"]) == 21
    assert [10, 20, 15, 25] in one.details["boxes_mm"]


def test_over_twenty_names_all_its_subjects() -> None:
    founds = [low(Box(10 * at, 0, 10 * at + 5, 5), subject=f"font {at}") for at in range(21)]

    [one] = judged(*founds)

    assert one.details["subjects"] == [f"font {at}" for at in range(21)]


def test_a_page_strewn_with_faults_is_judged_at_once() -> None:
    """Twenty thousand thin lines: one finding, and no list without end."""
    founds = [low(Box(x * 4, y * 4, x * 4 + 1, y * 4 + 1)) for x in range(200) for y in range(100)]

    [one] = judged(*founds)

    assert one.count == 20_000
    assert len(one.details["boxes_mm"]) == MOST_BOXES


def test_file_wide_facts_gather_their_pages() -> None:
    [one] = judged(low(None, page=2, details={"pages": [2, 5]}), low(None, page=2, details={"pages": [3]}))

    assert one.details["pages"] == [2, 3, 5]


# --- severity, order, counts --------------------------------------------------------------------------------------------


def test_the_rules_give_the_severity_and_off_is_silent() -> None:
    job = a_job(resolution={"low": "note", "soft": "off"})

    found = judged(low(Box(0, 0, 1, 1)), Found("soft", 1, Box(0, 0, 1, 1), 200.0, 225.0, "ppi"), job=job)

    assert [(finding.id, finding.severity) for finding in found] == [("resolution.low", Severity.NOTE)]
    assert group([("resolution", Found("soft", 1, None))], job) == []


def test_the_milder_case_has_its_own_severity_and_is_not_merged_with_the_other() -> None:
    job = a_job(resolution={"low-mild": "note"})

    stop, note = judged(low(Box(0, 0, 1, 1)), low(Box(0, 0, 1, 1), mild=True), job=job)

    assert (stop.severity, "mild" in stop.details) == (Severity.STOP, False)
    assert (note.severity, note.details["mild"]) == (Severity.NOTE, True)
    assert stop.id == note.id == "resolution.low"


def test_without_a_severity_of_its_own_the_milder_case_has_the_kinds() -> None:
    [one] = judged(low(Box(0, 0, 1, 1), mild=True))

    assert one.severity is Severity.STOP


def test_worst_first_then_by_page_and_place() -> None:
    job = a_job(resolution={"soft": "ask"})
    soft = Found("soft", 1, Box(0, 0, 1, 1), 200.0, 225.0, "ppi")
    places = [low(Box(50, 40, 60, 50), page=2), low(Box(0, 40, 10, 50), page=2), low(Box(0, 0, 1, 1), page=9)]

    found = judged(soft, *places, job=job)

    assert [(finding.severity.value, finding.page, finding.box_mm[0]) for finding in found if finding.box_mm] == [
        ("stop", 2, 0),
        ("stop", 2, 50),
        ("stop", 9, 0),
        ("ask", 1, 0),
    ]


def test_texts_are_filled_and_a_strangers_braces_stay_text() -> None:
    founds = Found("low", 1, Box(0, 0, 1, 1), 71.9444, 150.0, "ppi", values={"part": "{measured} {0} {x.__class__}"})

    [one] = judged(founds)

    assert "The {measured} {0} {x.__class__} prints at 71.94 ppi" in one.message
    assert one.measured == 71.944


def test_a_value_nobody_gave_reads_as_unknown() -> None:
    [one] = judged(Found("low", 1, Box(0, 0, 1, 1)))

    assert one.message.startswith("The unknown prints at unknown ppi")
    assert (one.measured, one.limit, one.unit) == (None, None, None)


# --- knock-on (contract) ------------------------------------------------------------------------------------------------


def spread_answers() -> list[tuple[str, Found]]:
    kinds = all_checks()["pages"].kinds
    return [
        ("trim", Found("spread", 1)),
        ("trim", Found("wrong-size", 2)),
        *(("pages", Found(kind, None)) for kind in kinds),
        ("resolution", low(Box(0, 0, 1, 1))),
    ]


def test_a_spread_silences_size_and_page_count() -> None:
    found = judge(spread_answers(), a_job(), SHA)

    assert {finding.id for finding in found} == {"trim.spread", "resolution.low"}


def test_a_spread_that_is_switched_off_silences_nothing() -> None:
    found = judge(spread_answers(), a_job(trim={"spread": "off"}), SHA)

    assert {"trim.wrong-size", "pages.wrong-count", "resolution.low"} <= {finding.id for finding in found}


# --- keys (contract: id, subject and a coarse print of the plates; no page, no object numbers) ---------------------------


def test_a_key_survives_another_page_place_and_value() -> None:
    [one] = judged(low(Box(0, 0, 10, 10), fingerprint="1-2-3", page=4, source="image 7"))
    [other] = judged(low(Box(50, 0, 60, 10), 110.0, fingerprint="1-2-3", page=9, source="image 12"))

    assert one.key == other.key


@pytest.mark.parametrize("change", [{"subject": "Moss"}, {"fingerprint": "1-2-4"}])
def test_another_subject_or_ground_has_another_key(change: dict[str, str]) -> None:
    same = {"subject": "Fern Green", "fingerprint": "1-2-3"}

    keys = {judged(low(Box(0, 0, 1, 1), **same))[0].key, judged(low(Box(0, 0, 1, 1), **(same | change)))[0].key}

    assert len(keys) == 2


def test_twins_are_numbered_in_reading_order() -> None:
    found = judged(*(low(Box(0, y, 10, y + 5), fingerprint="1") for y in (40, 80, 0)))

    key = found[0].key
    assert [finding.key for finding in found] == [key, f"{key}~2", f"{key}~3"]
    assert [finding.box_mm[1] for finding in found if finding.box_mm] == [0, 40, 80]


def test_a_strangers_half_characters_make_a_key_like_any_other() -> None:
    [one] = judged(low(Box(0, 0, 1, 1), subject="ink\udcff"))

    assert len(one.key) == 16
    assert one.details["subject"] == "ink\udcff"


def grid(data: list[list[int]], planes: int = 1) -> Plates:
    rows, columns = len(data), len(data[0])
    cells = bytes(value for row in data for value in row) * planes
    return Plates(
        (),
        Box(0, 0, 1, 1),
        None,
        15.0,
        (),
        (),
        CellGrid(planes, rows, columns, (-3.0, -3.0), 0.5, cells),
        "",
        "",
        "",
        False,
    )


def test_the_print_of_a_place_is_its_ink_in_nine_fields() -> None:
    """A 9 x 9 mm box, upper third solid: 255 of one plate is 100 %, which is step 4 of quarters."""
    data = [[255 if row < 6 else 0 for _ in range(30)] for row in range(30)]
    solid_top = Box(-3.0, -3.0, 6.0, 6.0)

    assert place_print(grid(data), solid_top) == "4-4-4-0-0-0-0-0-0"
    assert place_print(grid(data, planes=2), solid_top) == "8-8-8-0-0-0-0-0-0"


@pytest.mark.parametrize(
    "box", [Box(-500, -500, -400, -400), Box(400, 400, 500, 500), Box(0, 0, 0, 0), Box(-3, -3, 900, 900)]
)
def test_the_print_of_a_place_beyond_the_plates_is_no_fault(box: Box) -> None:
    assert place_print(grid([[0] * 30] * 30), box).count("-") == 8


def test_without_plates_or_place_there_is_no_print() -> None:
    assert place_print(None, Box(0, 0, 1, 1)) == ""
    assert place_print(grid([[0]]), None) == ""


# --- waivers ------------------------------------------------------------------------------------------------------------


def waive(identifier: str = "resolution.low", page: int | None = 1, **more: object) -> Waive:
    return Waive(identifier, "M. Quill", date(2026, 11, 20), "customer knows", page=page, **more)  # type: ignore[arg-type]


def is_waived(entry: Waive, found: Found, sha256: str | None = SHA) -> bool:
    [one] = judge([("resolution", found)], a_job(entry), sha256)
    return one.waived is not None


def key_of(found: Found) -> str:
    return judged(found)[0].key


def test_a_waived_finding_stays_counts_apart_and_moves_no_verdict() -> None:
    found = judged(low(Box(0, 0, 1, 1)), job=a_job(waive()))

    assert found[0].waived is not None
    assert (found[0].waived.by, found[0].waived.on, found[0].waived.why) == ("M. Quill", "2026-11-20", "customer knows")
    assert counts_of(found, []) == {"stop": 0, "ask": 0, "note": 0, "waived": 1, "unchecked": 0}
    assert verdict_of(found, []) is Verdict.GO
    assert verdict_of(found, [Unchecked("font", None, "why")]) is Verdict.UNCHECKED


def test_a_waiver_holds_for_its_id_and_page_only() -> None:
    here = low(Box(0, 0, 1, 1))

    assert is_waived(waive(), here)
    assert not is_waived(waive(page=2), here)
    assert not is_waived(waive("resolution.soft"), here)
    assert not is_waived(waive(page=None), here)
    assert is_waived(waive(page=None), low(None, page=None))


def test_a_waiver_with_a_key_holds_for_that_finding_only() -> None:
    first, second = (low(Box(x, 0, x + 1, 1), fingerprint=str(x)) for x in (0, 50))
    job = a_job(waive(key=key_of(first)))

    found = judge([("resolution", first), ("resolution", second)], job, SHA)

    assert [finding.waived is not None for finding in found] == [True, False]


def test_a_waiver_for_a_file_holds_for_that_file() -> None:
    here = low(Box(0, 0, 1, 1))

    assert is_waived(waive(sha256=SHA), here)
    assert not is_waived(waive(sha256=SHA), here, sha256="cd" * 32)
    assert not is_waived(waive(sha256=SHA), here, sha256=None)


@pytest.mark.parametrize(
    ("accepted", "now", "holds"),
    [(100.0, 100.0, True), (100.0, 120.0, True), (100.0, 99.6, True), (100.0, 99.0, False), (None, 100.0, False)],
)
def test_a_waiver_outlives_a_new_file_for_the_same_key_with_no_worse_value(
    accepted: float | None, now: float, *, holds: bool
) -> None:
    """0.5 ppi is the tolerance of the contract."""
    here = low(Box(0, 0, 1, 1), now)

    assert is_waived(waive(sha256="cd" * 32, key=key_of(here), measured=accepted), here) is holds


@pytest.mark.parametrize(("now", "holds"), [(900.0, True), (800.0, True), (901.0, False)])
def test_no_worse_is_no_higher_where_too_much_is_the_fault(now: float, *, holds: bool) -> None:
    found = Found("excessive", 1, Box(0, 0, 1, 1), now, 450.0, "ppi", worse="high", values={"part": "picture"})
    entry = waive("resolution.excessive", sha256="cd" * 32, key=key_of(found), measured=900.0)

    assert is_waived(entry, found) is holds


@pytest.mark.parametrize(
    ("accepted", "now", "holds"),
    [(448.0, 448.0, True), (448.0, 300.0, True), (448.0, 456.0, True), (448.0, 522.7, False), (None, 448.0, False)],
)
def test_a_value_without_a_limit_may_not_grow(accepted: float | None, now: float, *, holds: bool) -> None:
    """An area in a wrong colour; two in the hundred may come from another export."""
    found = Found("soft", 1, Box(0, 0, 1, 1), now, None, "mm2", values={"part": "picture"})
    entry = waive("resolution.soft", sha256="cd" * 32, key=key_of(found), measured=accepted)

    assert is_waived(entry, found) is holds
    assert is_waived(waive("resolution.soft"), found)


def test_where_there_is_no_value_the_same_key_is_enough() -> None:
    found = Found("low", 1, Box(0, 0, 1, 1))

    assert is_waived(waive(sha256="cd" * 32, key=key_of(found)), found)
