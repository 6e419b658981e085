"""Two versions held against each other, with reports made by hand: what is fixed, still there, new, and what cannot be told."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner
from report.sample import clean_report, finding, hostile_report, illustrated, page, report
from report.test_html import Tree

from preflight.cli import main
from preflight.findings import Finding, NotJudged, PageReport, PlateReport, Report, Severity, Unchecked
from preflight.report.changes import comparison_html, pages_changed, render_comparison, summary_words
from preflight.report.compare import Comparison, compare, comparison_to_json
from preflight.report.json_report import report_to_json
from preflight.report.same_pages import match_pages

#: Prints of four pages that nobody takes for one another: 12 x 16 fields of one ink level each, in four patterns.
PRINTS = ["0123456789ab" * 16, "ba9876543210" * 16, "0a0a0a0a0a0a" * 16, "5" * 96 + "9" * 96]


def sheet(number: int, print_: str = "", **more: Any) -> PageReport:
    # Plates as on page 2: page 1 of the sample has an ink more than the others.
    whole = replace(page(2), number=number, trim_mm=[148.0, 210.0], fingerprint=print_ or PRINTS[number - 1])
    return replace(whole, **more)


def version(*findings: Finding, pages: list[PageReport] | None = None, **more: Any) -> Report:
    pages = [sheet(number) for number in range(1, 5)] if pages is None else pages
    return replace(report(pages=len(pages)), findings=list(findings), pages=pages, unchecked=[], not_judged=[], **more)


def low(page_: int = 1, box: tuple[float, ...] = (10, 10, 60, 50), ppi: float = 100.0, **more: Any) -> Finding:
    return finding("resolution.low", page=page_, box=list(box), measured=ppi, limit=150.0, unit="ppi", **more)


def fates(comparison: Comparison) -> dict[str, int]:
    return {
        name: len(getattr(comparison, name))
        for name in ("fixed", "still", "added", "open", "left_out")
        if getattr(comparison, name)
    }


# --- pages ---------------------------------------------------------------------------------------------------------------


def pages_of(*prints: str) -> list[PageReport]:
    return [sheet(number, print_) for number, print_ in enumerate(prints, 1)]


def told(old: list[PageReport], new: list[PageReport]) -> list[tuple[int | None, int | None, str]]:
    return [(fate.old, fate.new, fate.fate) for fate in match_pages(old, new)]


def one_step_off(print_: str, fields: int) -> str:
    """A print with ``fields`` fields tipped to the next step, as a new compression does."""
    return "".join(f"{max(0, int(digit, 16) - 1):x}" for digit in print_[:fields]) + print_[fields:]


def test_pages_that_stay_are_the_same() -> None:
    assert told(pages_of(*PRINTS), pages_of(*PRINTS)) == [(n, n, "same") for n in range(1, 5)]


def test_pages_are_followed_to_their_new_place() -> None:
    a, b, c, d = PRINTS

    assert told(pages_of(a, b, c, d), pages_of(d, a, c, b)) == [
        (4, 1, "moved"), (1, 2, "moved"), (3, 3, "same"), (2, 4, "moved"),
    ]  # fmt: skip


def test_a_page_compressed_anew_is_the_same_page() -> None:
    a, b, *_ = PRINTS
    again = [one_step_off(a, 25), one_step_off(b, 25)]

    assert told(pages_of(a, b), pages_of(*again)) == [(1, 1, "same"), (2, 2, "same")]


def test_a_page_that_looks_different_is_changed_at_its_place() -> None:
    a, b, c, d = PRINTS

    assert told(pages_of(a, b, c), pages_of(a, d, c)) == [(1, 1, "same"), (2, 2, "changed"), (3, 3, "same")]


def test_pages_come_and_go() -> None:
    a, b, c, _ = PRINTS

    assert told(pages_of(a, c), pages_of(a, b, c)) == [(1, 1, "same"), (None, 2, "added"), (2, 3, "moved")]
    assert told(pages_of(a, b, c), pages_of(a, c)) == [(1, 1, "same"), (3, 2, "moved"), (2, None, "removed")]


def test_a_page_put_in_and_one_taken_out_elsewhere_are_no_change() -> None:
    a, b, c, d = PRINTS
    new = "7" * 192

    # The third page is taken out, another put in before the second.
    assert told(pages_of(a, b, c, d), pages_of(a, new, b, d)) == [
        (1, 1, "same"), (None, 2, "added"), (2, 3, "moved"), (4, 4, "same"), (3, None, "removed"),
    ]  # fmt: skip


def test_a_page_that_was_changed_keeps_its_neighbours_when_one_is_put_in() -> None:
    a, b, c, d = PRINTS
    new, other = "7" * 192, "8" * 192

    assert told(pages_of(a, b, c, d), pages_of(new, a, b, other, d)) == [
        (None, 1, "added"), (1, 2, "moved"), (2, 3, "moved"), (3, 4, "changed"), (4, 5, "moved"),
    ]  # fmt: skip


def test_a_fault_is_followed_to_the_twin_of_its_page() -> None:
    """Of pages that look alike one kept its number by chance, since a page before them was taken out: the fault did not move."""
    a, b, c, _ = PRINTS
    old = version(low(3, key="k3"), pages=pages_of(a, b, c, c))

    assert fates(compare(old, version(low(2, key="k3"), pages=pages_of(a, c, c)))) == {"still": 1}
    # Somewhere else on the page, or another fault, it is another.
    moved = low(2, box=(80, 100, 130, 140), key="k3")
    assert fates(compare(old, version(moved, pages=pages_of(a, c, c)))) == {"fixed": 1, "added": 1}
    assert fates(compare(old, version(low(2, key="k4"), pages=pages_of(a, c, c)))) == {"fixed": 1, "added": 1}
    # Each of two twins with the fault keeps its own.
    both = version(low(3, key="k3"), low(4, key="k3~2"), pages=pages_of(a, b, c, c))
    now = version(low(2, key="k3"), low(3, key="k3~2"), pages=pages_of(a, c, c))
    assert fates(compare(both, now)) == {"still": 2}


def test_a_page_changed_in_a_corner_is_found_elsewhere() -> None:
    a, b, c, d = PRINTS
    corner = "f" * 24 + d[24:]

    assert (4, 1, "changed") in told(pages_of(a, b, c, d), pages_of(corner, "7" * 192, b, a, c))


def test_pages_that_moved_together_are_told_together() -> None:
    a, b, c, d = PRINTS
    old, new = (
        replace(clean_report(), pages=pages_of(a, b, c, d)),
        replace(clean_report(), pages=pages_of("7" * 192, a, b, d, c)),
    )

    assert pages_changed(compare(old, new)) == [
        "page 1 added", "pages moved: 1 to 2 are now 2 to 3, 3 is now 5",
    ]  # fmt: skip


def test_two_files_that_have_nothing_in_common_are_told() -> None:
    others = [digit * 192 for digit in "2468"]
    old = replace(clean_report(), pages=pages_of(*PRINTS))
    old = replace(old, file=replace(old.file, pages=4))
    new, again = (replace(old, pages=pages_of(*prints)) for prints in (others, [PRINTS[0], *others[1:]]))

    assert "No page looks like one of the former file" in render_comparison(compare(old, new))
    assert "No page looks" not in render_comparison(compare(old, again))


def test_twins_keep_their_numbers() -> None:
    """Blank pages look like one another."""
    blank = "0" * 192

    assert told(pages_of(blank, blank, blank), pages_of(blank, blank, blank)) == [(n, n, "same") for n in (1, 2, 3)]


def test_another_ink_is_another_page() -> None:
    with_ink = sheet(1, plates=[*sheet(1).plates, PlateReport("Fern Green", "spot", 4.1)])

    assert [fate for *_, fate in told([sheet(1)], [with_ink])] == ["changed"]


@pytest.mark.parametrize("print_", ["", "print-1", "zz"])
def test_pages_without_a_print_or_with_a_foreign_one_go_by_equality_and_number(print_: str) -> None:
    old = new = [replace(sheet(1), fingerprint=print_)]

    assert [(fate.old, fate.new) for fate in match_pages(old, new)] == [(1, 1)]


def test_five_hundred_pages_are_matched_at_once() -> None:
    prints = [f"{number:03x}" * 64 for number in range(500)]
    old, new = pages_of(*prints), pages_of(*reversed(prints))

    ways = {fate.old: fate.new for fate in match_pages(old, new)}

    assert sum(ways[number] == 501 - number for number in range(1, 501)) > 400  # neighbours look alike on purpose


# --- findings ------------------------------------------------------------------------------------------------------------


def test_fixed_still_there_and_new() -> None:
    hairline = finding("line.hairline", page=2, box=[5, 5, 40, 6], measured=0.1, limit=0.2, unit="pt")
    rgb = finding("colour.rgb", "ask", "press", 3, [1, 1, 9, 9])

    comparison = compare(version(low(), hairline), version(low(), rgb))

    assert [entry.id for entry in comparison.fixed] == ["line.hairline"]
    assert [entry.new.id for entry in comparison.still] == ["resolution.low"]
    assert [entry.id for entry in comparison.added] == ["colour.rgb"]


def test_a_finding_goes_along_with_its_page() -> None:
    a, b, c, d = PRINTS

    comparison = compare(version(low(2)), version(low(4), pages=pages_of(a, c, d, b)))

    assert fates(comparison) == {"still": 1}


def test_the_same_fault_on_another_page_is_another() -> None:
    assert fates(compare(version(low(2)), version(low(3)))) == {"fixed": 1, "added": 1}


@pytest.mark.parametrize(
    ("ppi", "change"), [(100.0, "same"), (101.5, "same"), (98.5, "same"), (120.0, "better"), (80.0, "worse")]
)
def test_better_and_worse_by_more_than_a_re_export_alone_can_do(ppi: float, change: str) -> None:
    """2 % is what a length may be off by (contract)."""
    comparison = compare(version(low(ppi=100.0)), version(low(ppi=ppi)))

    assert [entry.change for entry in comparison.still] == [change]


@pytest.mark.parametrize(("percent", "change"), [(380.0, "worse"), (335.0, "better"), (351.0, "same")])
def test_of_too_much_more_is_worse(percent: float, change: str) -> None:
    def ink(value: float) -> Finding:
        return finding("total-ink.high", page=1, box=[1, 1, 9, 9], measured=value, limit=330.0, unit="percent")

    assert [entry.change for entry in compare(version(ink(350.0)), version(ink(percent))).still] == [change]


def test_fewer_places_are_better() -> None:
    was, now = low(count=12, box=(10, 10, 90, 90)), low(count=3, box=(20, 20, 50, 50))

    assert [(entry.change, entry.new.count) for entry in compare(version(was), version(now)).still] == [("better", 3)]


def test_a_place_that_moved_a_little_is_the_same_place() -> None:
    assert fates(compare(version(low(key="a")), version(low(key="b", box=(14, 12, 64, 52))))) == {"still": 1}


def test_a_place_somewhere_else_on_the_page_is_another_unless_it_looks_the_same() -> None:
    far = (80.0, 100.0, 130.0, 140.0)

    assert fates(compare(version(low(key="a")), version(low(key="b", box=far)))) == {"fixed": 1, "added": 1}
    prints = [{"fingerprint": text} for text in ("4-4-0-1", "4-3-0-1")]
    moved = compare(version(low(key="a", details=prints[0])), version(low(key="b", box=far, details=prints[1])))
    assert fates(moved) == {"still": 1}


def test_the_key_tells_twins_apart_from_others() -> None:
    """Two pictures change places; each is known again by its key."""
    left, right = (10.0, 10.0, 50.0, 50.0), (80.0, 10.0, 120.0, 50.0)
    old = version(low(key="aaaa", box=left, ppi=70.0), low(key="bbbb", box=right, ppi=120.0))
    new = version(low(key="bbbb", box=left, ppi=120.0), low(key="aaaa", box=right, ppi=70.0))

    comparison = compare(old, new)

    assert [(entry.old.key, entry.new.key, entry.change) for entry in comparison.still] == [
        ("aaaa", "aaaa", "same"), ("bbbb", "bbbb", "same"),
    ]  # fmt: skip


def test_of_twins_the_nearest_is_meant() -> None:
    """One of three equal marks was mended: the other two are still there, whatever number they have now."""
    boxes = [(10.0, y, 20.0, y + 10) for y in (10.0, 60.0, 110.0)]
    old = version(*(low(key=key, box=box) for key, box in zip(("k", "k~2", "k~3"), boxes, strict=True)))
    new = version(low(key="k", box=boxes[0]), low(key="k~2", box=boxes[2]))

    comparison = compare(old, new)

    assert [entry.box_mm for entry in comparison.fixed] == [list(boxes[1])]
    assert all(entry.old.box_mm == entry.new.box_mm for entry in comparison.still)


def test_edges_and_things_are_not_mixed_up() -> None:
    left, top = (
        finding("bleed.empty", page=1, box=[-3, -3, 0, 213], measured=0.4, limit=2.0, unit="mm", details={"edge": edge})
        for edge in ("left", "top")
    )
    moss, fern = (finding("colour.unexpected-ink", page=1, details={"subject": ink}) for ink in ("Moss", "Fern"))

    assert fates(compare(version(left, moss), version(top, fern))) == {"fixed": 2, "added": 2}


def test_an_edge_or_ink_told_first_by_chance_makes_no_other_finding() -> None:
    frames = [
        finding("margins.frame", page=1, key=edge, details={"edge": edge, "subject": edge}) for edge in ("left", "top")
    ]
    gaps = [finding("trap.gap", page=1, key=inks, details={"subject": inks}) for inks in ("Moss / Fern", "Fern / Moss")]

    assert fates(compare(version(frames[0], gaps[0]), version(frames[1], gaps[1]))) == {"still": 2}


def test_a_font_subset_anew_is_the_same_font() -> None:
    was, now = (
        finding("font.not-embedded", page=1, key=tag, details={"subject": f"{tag}+Bookman"})
        for tag in ("ABCDEF", "QWERTY")
    )

    assert fates(compare(version(was), version(now))) == {"still": 1}


@pytest.mark.parametrize(
    ("old_kind", "new_kind", "change"),
    [
        ("resolution.low", "resolution.soft", "better"),
        ("resolution.soft", "resolution.low", "worse"),
        ("bleed.missing", "bleed.short", "better"),
        ("total-ink.high", "total-ink.near", "better"),
        ("line.thin", "line.hairline", "worse"),
    ],
)
def test_steps_of_one_fault_are_one_fault(old_kind: str, new_kind: str, change: str) -> None:
    was, now = (finding(kind, page=1, box=[1, 1, 9, 9], measured=1.0, limit=2.0) for kind in (old_kind, new_kind))

    assert [entry.change for entry in compare(version(was), version(now)).still] == [change]


def test_facts_of_the_whole_file_need_no_page() -> None:
    was = finding("trim.mixed-sizes", page=2, details={"pages": [2, 4]})
    now = finding("trim.mixed-sizes", page=1, details={"pages": [1]})
    script = finding("file.active-content", page=None)

    assert fates(compare(version(was, script), version(now, script))) == {"still": 2}


# --- what cannot be told -------------------------------------------------------------------------------------------------


def no_answer(new: Report) -> dict[str, int]:
    return fates(compare(version(low(2)), new))


@pytest.mark.parametrize(
    "gap",
    [
        Unchecked("resolution", 2, "w"),
        Unchecked("resolution", None, "w"),
        Unchecked("all", 2, "w"),
        Unchecked("file", None, "w"),
    ],
)
def test_gone_is_not_fixed_where_nobody_looked(gap: Unchecked) -> None:
    assert no_answer(replace(version(), unchecked=[gap])) == {"open": 1}


@pytest.mark.parametrize("gap", [Unchecked("resolution", 3, "w"), Unchecked("font", 2, "w")])
def test_a_gap_elsewhere_takes_nothing_away(gap: Unchecked) -> None:
    assert no_answer(replace(version(), unchecked=[gap])) == {"fixed": 1}


def test_gone_is_not_fixed_where_the_file_cannot_be_opened() -> None:
    dead = version(finding("file.unreadable", page=None), pages=[])

    assert fates(compare(version(low(2), finding("file.attachment", page=None)), dead)) == {"added": 1, "open": 2}


def test_gone_is_not_fixed_where_the_rules_switched_it_off() -> None:
    off = version()
    off = replace(off, rules=replace(off.rules, sha256="11" * 32, values={"resolution.severity.low": {"value": "off"}}))

    assert no_answer(off) == {"open": 1}
    assert "rules changed" in render_comparison(compare(version(low()), off))


def test_gone_is_not_fixed_where_it_was_not_ordered_any_more() -> None:
    assert no_answer(replace(version(), not_judged=[NotJudged("resolution", "no order")])) == {"open": 1}
    before = replace(version(low(2)), not_judged=[NotJudged("resolution", "no order")])
    assert fates(compare(before, replace(version(), not_judged=before.not_judged))) == {"fixed": 1}


def test_gone_is_not_fixed_where_a_spread_silences_it() -> None:
    was = version(finding("pages.wrong-count", page=None))
    now = version(finding("trim.spread", page=1))

    assert fates(compare(was, now)) == {"open": 1, "added": 1}


def test_what_left_with_its_page_is_not_called_fixed() -> None:
    a, b, c, _ = PRINTS

    comparison = compare(version(low(2), pages=pages_of(a, b, c)), version(pages=pages_of(a, c)))

    assert fates(comparison) == {"left_out": 1}


# --- sizes ---------------------------------------------------------------------------------------------------------------


def test_changed_sizes_are_told_for_the_page_that_carries_them_now() -> None:
    a, b, c, d = PRINTS
    new = pages_of(b, a, c, d)
    new[0] = replace(new[0], trim_mm=[150.0, 210.0])
    new[3] = replace(new[3], bleed_mm=[3.0, 3.0, 3.0, 0.0])
    new[2] = replace(new[2], trim_mm=[148.04, 210.0])

    comparison = compare(version(), version(pages=new))

    assert [(change.page, change.old_trim_mm, change.new_trim_mm) for change in comparison.sizes] == [
        (1, [148.0, 210.0], [150.0, 210.0]),
        (4, [148.0, 210.0], [148.0, 210.0]),
    ]
    text = render_comparison(comparison)
    assert "page 1: trim 150 x 210 mm, was 148 x 210 mm" in text
    assert "page 4: past the trim 3, 3, 3, 0 mm, was 3, 3, 3, 3 mm" in text


# --- shown ---------------------------------------------------------------------------------------------------------------


@pytest.fixture
def comparison() -> Comparison:
    a, b, _, d = PRINTS
    old = version(low(1), low(2, ppi=71.9), low(3), finding("colour.rgb", "ask", "press", 4, [1, 1, 9, 9]))
    new = version(
        low(2, ppi=96.0), finding("line.hairline", page=4, box=[1, 1, 9, 2], measured=0.1, limit=0.2, unit="pt"),
        pages=pages_of(a, b, "7" * 192, d), made_at="2026-11-27T10:00:00Z",
    )  # fmt: skip
    return compare(old, replace(new, unchecked=[Unchecked("colour", 4, "the page took longer than 60 s")]))


def test_the_answer_in_one_line(comparison: Comparison) -> None:
    assert summary_words(comparison) == "2 fixed, 1 still there, 1 new, 1 not answered this time; page 3 changed"


def test_the_terminal_shows_what_is_new_first(comparison: Comparison) -> None:
    text = render_comparison(comparison)

    heads = ["2 fixed", "NOT CHECKED IN THE NEW VERSION", "\nNEW", "STILL THERE", "NOT ANSWERED THIS TIME", "FIXED"]
    places = [text.index(head) for head in heads]
    assert places == sorted(places)
    assert "96 ppi, limit 150 ppi; better, was 71.9 ppi" in text
    assert all(len(line) <= 80 for line in text.splitlines())


def test_the_json_holds_everything(comparison: Comparison) -> None:
    data = json.loads(comparison_to_json(comparison))

    assert data["comparison_version"] == 1
    assert [entry["id"] for entry in data["fixed"]] == ["resolution.low", "resolution.low"]
    assert [(entry["change"], entry["new"]["measured"]) for entry in data["still"]] == [("better", 96.0)]
    assert [entry["id"] for entry in data["added"]] == ["line.hairline"]
    assert [entry["id"] for entry in data["open"]] == ["colour.rgb"]
    assert [(entry["new"], entry["fate"]) for entry in data["pages"]][2] == (3, "changed")


def test_the_page_says_the_same_and_asks_for_nothing(comparison: Comparison) -> None:
    tree = Tree(comparison_html(comparison))

    assert "2 fixed, 1 still there, 1 new, 1 not answered this time" in tree.text
    assert "better, was 71.9 ppi" in tree.text
    assert tree.all("script") == []
    assert not [attrs for _, attrs in tree.elements if re.search(r"(?i)https?:", str(attrs))]
    assert len(tree.ids()) == len(set(tree.ids()))


def test_pictures_of_the_new_version_are_shown(tmp_path: Path) -> None:
    whole = illustrated(tmp_path, pages={3})

    tree = Tree(comparison_html(compare(whole, whole), tmp_path))

    assert len(tree.all("img")) == 2
    assert all(str(image["src"]).startswith("data:image/jpeg") and image["alt"] for image in tree.all("img"))


def test_strangers_text_stays_text() -> None:
    comparison = compare(hostile_report(), version())

    tree = Tree(comparison_html(comparison))
    text = render_comparison(comparison)

    assert tree.all("script") == []
    assert not re.search(r"[\x00-\x09\x0b-\x1f\x7f-\x9f\u202a-\u202e]", text)
    json.loads(comparison_to_json(comparison).encode())


def test_the_very_same_file_is_told() -> None:
    assert "the very same file" in render_comparison(compare(version(), version()))


def test_what_says_the_same_is_told_once() -> None:
    """A file saved with another setting brings one fault a hundred times."""
    many = [
        finding("colour.rgb", "ask", page=1 + turn % 3, key=f"k{turn}", box=[turn, turn, turn + 1, turn + 1])
        for turn in range(100)
    ]
    text = render_comparison(compare(version(), version(*many)))

    assert "100 new" in text
    assert "ask    colour.rgb x100  pages 1 to 3" in text
    assert text.count("colour.rgb") == 1
    html = comparison_html(compare(version(), version(*many)))
    assert html.count('<article class="slip"') == 1
    assert "pages 1 to 3; 100 findings" in html


def test_waived_findings_are_told_as_such() -> None:
    waived = [entry for entry in report().findings if entry.waived]

    comparison = compare(version(*waived), version(*waived))
    [who] = [entry.waived for entry in waived if entry.waived]
    said = f"accepted by {who.by} on {who.on}: {who.why}"

    assert "waived resolution.soft" in render_comparison(comparison)
    assert said in " ".join(render_comparison(comparison).split())
    assert said in comparison_html(comparison)
    assert json.loads(comparison_to_json(comparison))["still"][0]["new"]["waived"]["by"] == who.by


# --- the command ---------------------------------------------------------------------------------------------------------


@pytest.fixture
def reports(tmp_path: Path) -> Callable[..., list[str]]:
    def write(*versions: Report) -> list[str]:
        paths = []
        for turn, one in enumerate(versions):
            path = tmp_path / f"{turn}.json"
            path.write_text(report_to_json(one), encoding="utf-8")
            paths.append(str(path))
        return paths

    return write


def test_the_command_prints_and_writes(reports: Callable[..., list[str]], tmp_path: Path) -> None:
    paths = reports(version(low()), version())
    page_path, data_path = tmp_path / "changes.html", tmp_path / "changes.json"

    result = CliRunner().invoke(main, ["compare", *paths, "--html", str(page_path), "--json", str(data_path)])

    assert (result.exit_code, result.output.splitlines()[0]) == (0, "1 fixed, 0 still there, 0 new")
    assert json.loads(data_path.read_text(encoding="utf-8"))["fixed"][0]["severity"] == Severity.STOP.value
    assert "<h1>1 fixed" in page_path.read_text(encoding="utf-8")


def test_json_on_standard_output_is_nothing_but_json(reports: Callable[..., list[str]]) -> None:
    result = CliRunner().invoke(main, ["compare", *reports(version(low()), version()), "--json", "-"])

    assert json.loads(result.stdout)["comparison_version"] == 1
    assert "1 fixed" in result.stderr


@pytest.mark.parametrize("text", ["", "{}", "[]", "<html>", '{"report_version": 99}'])
def test_what_is_no_report_is_wrong_usage(tmp_path: Path, reports: Callable[..., list[str]], text: str) -> None:
    good = reports(version())[0]
    bad = tmp_path / "bad.json"
    bad.write_text(text)

    result = CliRunner().invoke(main, ["compare", good, str(bad)])

    assert result.exit_code == 2
    assert "bad.json" in result.stderr
    assert result.stderr.count("\n") == 1


def test_reports_are_only_read(tmp_path: Path, reports: Callable[..., list[str]]) -> None:
    paths = reports(version(), version())

    for arguments in (["--json", paths[0]], ["--html", paths[1]]):
        assert CliRunner().invoke(main, ["compare", *paths, *arguments]).exit_code == 2
    assert CliRunner().invoke(main, ["compare", paths[0], str(tmp_path / "none.json")]).exit_code == 2
    assert CliRunner().invoke(main, ["compare", paths[0], str(tmp_path)]).exit_code == 2
    assert json.loads(Path(paths[0]).read_text(encoding="utf-8"))["report_version"] == 1


def test_hostile_reports_go_through_the_command(reports: Callable[..., list[str]]) -> None:
    result = CliRunner().invoke(main, ["compare", *reports(hostile_report(), hostile_report())])

    assert result.exit_code == 0
    assert "alert(1)" in result.output
    assert "\x1b" not in result.output
