"""The HTML report as text: nothing from outside, nothing a stranger wrote becomes markup, everything is in it."""

from __future__ import annotations

import base64
import hashlib
import itertools
import re
from dataclasses import replace
from html.parser import HTMLParser
from pathlib import Path

import pytest
from report.sample import HOSTILE, clean_report, finding, hostile_report, illustrated, page, report

from preflight.findings import Report, Unchecked, counts_of, verdict_of
from preflight.report import docket, html
from preflight.report.html import html_report
from preflight.report.sheet import sheet_of

VOID = {"meta", "link", "img", "input", "br", "image", "use", "rect", "path"}


class Tree(HTMLParser):
    """Collects elements and checks that every one is closed in turn."""

    def __init__(self, text: str) -> None:
        super().__init__(convert_charrefs=True)
        self.open: list[str] = []
        self.elements: list[tuple[str, dict[str, str | None]]] = []
        self.words: list[str] = []
        self.feed(text)
        self.close()
        assert self.open == []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.elements.append((tag, dict(attrs)))
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.elements.append((tag, dict(attrs)))

    def handle_endtag(self, tag: str) -> None:
        assert self.open, tag
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        if not self.open or self.open[-1] not in ("style", "script"):
            self.words.append(data)

    @property
    def text(self) -> str:
        return " ".join(" ".join(self.words).split())

    def all(self, tag: str) -> list[dict[str, str | None]]:
        return [attrs for name, attrs in self.elements if name == tag]

    def ids(self) -> list[str]:
        return [attrs["id"] or "" for _, attrs in self.elements if "id" in attrs]


@pytest.fixture(scope="module")
def pictures(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("pictures")


@pytest.fixture(scope="module")
def whole(pictures: Path) -> Report:
    return illustrated(pictures, pages={1, 3, 7, 9})


@pytest.fixture(scope="module")
def tree(whole: Report, pictures: Path) -> Tree:
    return Tree(html_report(whole, pictures))


# --- one file, no request ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("make", [report, clean_report, hostile_report])
def test_the_page_asks_for_nothing(make: object) -> None:
    text = html_report(make())  # type: ignore[operator]
    tree = Tree(text)

    for tag, attrs in tree.elements:
        for name in ("src", "href", "srcset", "poster", "data", "action", "style"):
            value = attrs.get(name) or ""
            assert not re.search(r"(?i)https?:|//|url\(", value) or value.startswith("data:"), (tag, name, value)
            if name in ("src", "href") and value:
                assert value.startswith(("#", "data:"))
    style = (html.TEMPLATES / "docket.css").read_text(encoding="utf-8")
    assert not re.search(r"@import|url\(|https?:", style)


def test_the_policy_forbids_everything_but_its_own_style_script_and_pictures(tree: Tree) -> None:
    [policy] = [meta["content"] for meta in tree.all("meta") if meta.get("http-equiv") == "Content-Security-Policy"]
    script = (html.TEMPLATES / "docket.js").read_bytes()
    digest = base64.b64encode(hashlib.sha256(script).digest()).decode()

    assert (policy or "").split("; ") == [
        "default-src 'none'",
        "img-src data:",
        "style-src 'unsafe-inline'",
        f"script-src 'sha256-{digest}'",
        "base-uri 'none'",
        "form-action 'none'",
    ]


# --- strangers' text -----------------------------------------------------------------------------------------------------


def test_a_strangers_text_never_becomes_markup() -> None:
    text = html_report(hostile_report())
    tree = Tree(text)

    assert len(tree.all("script")) == 1
    assert not [attrs for _, attrs in tree.elements if any(name.startswith("on") for name in attrs)]
    assert "alert(1)" in tree.text  # shown as what it is
    assert "{{ 7*7 }}" in tree.text
    assert not re.search(r"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\u202a-\u202e\u2066-\u2069\ud800-\udfff]", text)
    text.encode("utf-8")


def test_names_keep_their_own_reading_direction() -> None:
    text = html_report(report(name="מדריך האביב.pdf"))

    assert "<bdi>מדריך האביב.pdf</bdi>" in text


def test_a_picture_name_never_leads_out_of_its_folder(whole: Report, pictures: Path, tmp_path: Path) -> None:
    secret = tmp_path / "secret.jpg"
    secret.write_bytes(b"\xff\xd8\xff secret")
    inner = tmp_path / "pictures"
    inner.mkdir()
    names = ["../secret.jpg", str(secret), "a\x00b", "..", "."]

    for name in names:
        asked = replace(whole, pages=[replace(page(1), picture=name)])
        assert base64.b64encode(b"\xff\xd8\xff secret").decode() not in html_report(asked, inner)


def test_what_is_no_picture_is_not_put_in(tmp_path: Path) -> None:
    (tmp_path / "page-0001.jpg").write_bytes(b"<svg onload=alert(1)>")

    assert (
        Tree(html_report(replace(report(), pages=[replace(page(1), picture="page-0001.jpg")]), tmp_path)).all("image")
        == []
    )


# --- structure -----------------------------------------------------------------------------------------------------------


def test_links_and_labels_lead_somewhere(tree: Tree) -> None:
    ids = tree.ids()

    assert len(ids) == len(set(ids))
    for _, attrs in tree.elements:
        for name in ("aria-labelledby", "aria-describedby"):
            if attrs.get(name):
                assert attrs[name] in ids
        if (attrs.get("href") or "").startswith("#"):
            assert (attrs["href"] or "")[1:] in ids, attrs


def test_landmarks_headings_and_texts_for_those_who_do_not_see(tree: Tree) -> None:
    tags = [tag for tag, _ in tree.elements]

    assert tags.count("main") == tags.count("h1") == 1
    assert tags.count("footer") == 1
    levels = [int(tag[1]) for tag in tags if re.fullmatch(r"h[1-6]", tag)]
    assert all(after - before <= 1 for before, after in itertools.pairwise(levels))
    assert all(image.get("alt") for image in tree.all("img"))
    assert all(nav.get("aria-label") or nav.get("aria-labelledby") for nav in tree.all("nav"))
    for svg in tree.all("svg"):
        assert svg.get("aria-hidden") == "true" or svg.get("aria-label")
    assert tree.all("html")[0].get("lang") == "en"


def test_verdict_job_and_gaps_stand_before_everything_else(tree: Tree) -> None:
    order = [
        "No plates from this file yet",
        "26-1182",
        "Not checked",
        "total-ink on pages 6, 8",
        "Route Intake",
        "Pages",
        "Intake can the file be opened",
    ]

    places = [tree.text.index(word) for word in order]
    assert places == sorted(places)


def test_findings_stand_by_stage_worst_first_and_waived_last(whole: Report) -> None:
    stages = docket.stages_of(whole)

    assert [stage.stage.value for stage in stages] == ["intake", "plates", "press", "bindery"]
    plates = stages[1]
    assert [slip.state for slip in plates.slips] == ["stop", "ask", "waived"]
    assert [entry.number for stage in stages for slip in stage.slips for entry in slip.places] == list(range(1, 14))


def test_a_finding_says_all_that_is_needed(tree: Tree) -> None:
    text = tree.text

    for words in (
        "The picture prints at 71.9 ppi; the least for this screen ruling is 150 ppi.",
        "page 3, 12 mm from left trim, 30 mm from top",
        "worst 71.9 ppi, limit 150 ppi",
        "Please put in the original photo",
        "Nothing on press brings the detail back.",  # why it matters, from the check's own words
        "s = 2 x l x f, factor 1.5 acceptable (standard.toml)",
        "Accepted by M. Quill on 2026-11-20:",
        "no caliper in the ticket",
        "This shop changed from the standard rules: line.hairline: ask instead of stop.",
        "preflight 0.1.0",
    ):
        assert words in text, words


def test_the_gauge_is_told_in_words_too(tree: Tree) -> None:
    gauges = [attrs["aria-label"] for attrs in tree.all("div") if attrs.get("class") == "gauge"]

    assert "Measured 71.9 ppi; the limit is at least 150 ppi" in gauges
    assert "Measured 352.6 %; the limit is at most 330 %" in gauges
    # A size to be met is no least and no most.
    assert not any("148 mm" in (label or "") for label in gauges)


@pytest.mark.parametrize(
    ("measured", "limit", "expected"),
    [
        (75.0, 150.0, (40.0, 80.0, True)),
        (400.0, 300.0, (80.0, 60.0, False)),
        (-1.0, 3.0, (0.0, 80.0, True)),
        (150.0, 150.0, None),
        (None, 150.0, None),
        (3.0, None, None),
        (0.0, 0.0, None),
    ],
)
def test_the_two_marks_of_a_gauge(
    measured: float | None, limit: float | None, expected: tuple[float, float, bool] | None
) -> None:
    """The longer of both is four fifths of the line."""
    gauge = docket.gauge_of(finding("resolution.low", measured=measured, limit=limit, unit="ppi"))

    assert (gauge and (gauge.measured, gauge.limit, gauge.low)) == expected


def test_each_page_has_the_tab_of_its_state(whole: Report) -> None:
    states = docket.page_states(whole)

    assert [states[number] for number in range(1, 17)] == [
        "stop", "ask", "stop", "ask", "stop", "unchecked", "stop", "unchecked",
        "stop", "clear", "ask", "clear", "note", "clear", "clear", "clear",
    ]  # fmt: skip


def test_a_page_nobody_measured_is_not_clear() -> None:
    cut = replace(clean_report(), pages=[page(1)])

    assert docket.page_states(cut) == {1: "clear", 2: "unchecked"}


def test_a_stop_outweighs_a_gap_on_the_same_page() -> None:
    both = replace(report(), unchecked=[Unchecked("font", 3, "why")])

    assert docket.page_states(both)[3] == "stop"


def test_the_shapes_differ_without_colour() -> None:
    """Each state has its own cut or filling, not only its own colour."""
    style = (html.TEMPLATES / "docket.css").read_text(encoding="utf-8")
    cuts = {}
    for state in ("stop", "ask", "note", "go", "waived", "unchecked"):
        rule = re.search(rf"\.tab-{state}[,{{][^}}]*}}", style)
        assert rule
        cut = re.search(r"clip-path:[^;}]+", rule.group())
        cuts[state] = cut.group() if cut else "square, with a hole"
    assert len(set(cuts.values())) == len(cuts)


# --- words ---------------------------------------------------------------------------------------------------------------


def test_nothing_found_is_said_of_these_rules_only() -> None:
    text = Tree(html_report(clean_report())).text

    assert "Nothing found against these rules." in text
    assert "perfect" not in text.casefold()
    assert "no contract proof" in text
    assert "food, medicine and safety were not reviewed" in text


def test_with_gaps_nothing_found_speaks_of_what_was_checked() -> None:
    gaps = [Unchecked("font", None, "why")]
    text = Tree(html_report(replace(clean_report(), unchecked=gaps, verdict=verdict_of([], gaps)))).text

    assert "Nothing found against these rules in what could be checked." in text


def test_a_file_that_cannot_be_opened_is_not_called_clear() -> None:
    locked = finding("file.locked", "stop", "intake", None, message="The file needs a password to open.")
    whole = report()
    dead = replace(whole, findings=[locked], unchecked=[], pages=[], file=replace(whole.file, pages=None))

    text = Tree(html_report(dead)).text

    assert "No page could be looked at, so nothing else is known about this file." in text
    assert "nothing found" not in text.partition("What this docket says")[0]
    assert text.count("not looked at") == 3


# --- size ----------------------------------------------------------------------------------------------------------------


def big_pictures(folder: Path, pages: int, size: int) -> Report:
    """Pages whose pictures are ``size`` bytes of JPEG, and a finding with one on each."""
    data = b"\xff\xd8\xff\xe0" + b"x" * (size - 4)
    findings = []
    for number in range(1, pages + 1):
        (folder / f"page-{number}.jpg").write_bytes(data)
        (folder / f"finding-{number}.jpg").write_bytes(data)
        findings.append(
            finding("resolution.low", page=number, box=[0, 0, 9, 9], details={"picture": f"finding-{number}.jpg"})
        )
    entries = [replace(page(number), picture=f"page-{number}.jpg") for number in range(1, pages + 1)]
    return replace(report(pages=pages), findings=findings, pages=entries, unchecked=[], counts=counts_of(findings, []))


def test_sixty_four_pages_stay_under_fifteen_megabytes(tmp_path: Path) -> None:
    """With pictures at the largest that pictures.py writes: 110 kB a page and 45 kB a finding."""
    text = html_report(big_pictures(tmp_path, 64, 110_000), tmp_path)
    tree = Tree(text)

    assert len(text.encode()) < 15e6
    assert len(tree.all("img")) == 64  # the findings come first
    assert len(tree.all("image")) == 31
    assert "33 pictures stayed outside" in tree.text


def test_words_that_take_much_room_push_pictures_out(tmp_path: Path) -> None:
    whole = big_pictures(tmp_path, 64, 110_000)
    wordy = [replace(entry, message="A thing that takes long to say. " * 900) for entry in whole.findings]

    text = html_report(replace(whole, findings=wordy), tmp_path)

    assert len(text.encode()) < 15e6
    assert text.count("data:image/jpeg") > 60


def test_a_long_book_shows_the_pages_that_have_something_to_say() -> None:
    tree = Tree(html_report(report(pages=300)))
    sheets = [attrs for attrs in tree.all("article") if attrs.get("class") == "sheet"]

    assert len(sheets) == 11
    assert "Pages with nothing to say are left out here" in tree.text


# --- sheets --------------------------------------------------------------------------------------------------------------


def test_marks_are_inside_the_drawing_and_large_enough_to_be_seen(whole: Report) -> None:
    places = docket.numbered(whole)
    for entry in whole.pages:
        sheet = sheet_of(entry, docket.findings_on(places, entry), None)
        for mark in sheet.marks:
            assert sheet.view.contains(mark.box, slack=0.01)
            assert min(mark.box.width, mark.box.height) >= 8 * sheet.px - 0.01


def test_a_finding_of_many_places_has_a_mark_for_each(whole: Report) -> None:
    entry = whole.pages[8]
    sheet = sheet_of(entry, docket.findings_on(docket.numbered(whole), entry), None)

    assert sum(mark.place.finding.id == "line.hairline" for mark in sheet.marks) == 24


def test_a_page_of_unknown_size_has_its_findings_in_words() -> None:
    unknown = replace(page(1), trim_mm=None, bleed_mm=None)
    places = docket.numbered(replace(report(), findings=[finding("image.unknown-size", page=1)]))

    sheet = sheet_of(unknown, places, None)

    assert (sheet.marks, len(sheet.loose)) == ((), 1)
    assert dict(sheet.facts)["Trim"].startswith("size unknown")
    html_report(replace(report(pages=1), pages=[unknown], findings=[finding("image.unknown-size", page=1)]))


def test_hostile_details_are_told_or_left_to_the_json_report() -> None:
    told = docket.details_of(
        finding(
            "a.b",
            details={"n": 1.5, "deep": {"a": {"b": [1]}}, "rows": [[1, 2]], "many": list(range(99)), HOSTILE: True},
        )
    )

    assert [said for _, said in told] == ["1.5", "yes"]
    assert "\x1b" not in told[1][0]


# --- pictures without a picture of their own --------------------------------------------------------------------------------


def test_a_finding_without_a_picture_is_cut_from_its_page(whole: Report, pictures: Path) -> None:
    """Findings of the whole file, and the thirteenth of a page, have a place and no picture made for them."""
    bare = [replace(entry, details={}) if entry.id == "margins.near-trim" else entry for entry in whole.findings]
    tree = Tree(html_report(replace(whole, findings=bare), pictures))

    [cut] = [attrs for attrs in tree.all("svg") if attrs.get("class") == "cut-out"]
    x, y, wide, high = (float(value) for value in (cut["viewbox"] or "").split())
    # 12 mm around [2.1, 190, 40, 194], no further than the page's picture goes.
    assert (x, y) == (-3, 178)
    assert (x + wide, y + high) == pytest.approx((52, 206), abs=0.01)
    assert "boxed" in (cut["aria-label"] or "")


@pytest.mark.parametrize("box", [[-500, -500, -400, -400], [900, 900, 901, 901], [0, 0, 0, 0], [-1e6, -1e6, 1e6, 1e6]])
def test_a_place_beyond_the_page_is_no_fault(whole: Report, pictures: Path, box: list[float]) -> None:
    odd = replace(whole, findings=[finding("binding.spine-width", page=3, box=box)])
    tree = Tree(html_report(odd, pictures))

    [cut] = [attrs for attrs in tree.all("svg") if attrs.get("class") == "cut-out"]
    assert all(float(value) > 0 for value in (cut["viewbox"] or "").split()[2:])
    for rect in tree.all("rect"):
        assert float(rect["width"] or 0) >= 0
        assert float(rect["height"] or 0) >= 0


# --- the press and what it costs ---------------------------------------------------------------------------------------------


def test_each_unit_says_its_ink_and_how_much(tree: Tree) -> None:
    switches = [attrs for attrs in tree.all("input") if "unit-switch" in (attrs.get("class") or "")]

    assert len(switches) == 4 * 4  # four pages with pictures, four inks on them
    assert tree.text.count("plate: none") == 4  # and a spot that is on none
    assert "Press units in running order : untick one to lift its plate off Black 7.3 %" in tree.text.replace(
        "7.4", "7.3"
    )


def test_plates_are_lifted_only_where_all_their_pictures_are_there(
    whole: Report, tmp_path: Path, pictures: Path
) -> None:
    import shutil

    folder = tmp_path / "pictures"
    shutil.copytree(pictures, folder)
    (folder / "page-0003-plate-02.jpg").unlink()

    text = html_report(whole, folder)

    assert text.count('class="unit-switch unit-switch-1"') == 3
    assert 'name="cut-3"' in text


def test_what_a_missed_fault_costs_is_said_with_its_parts(tree: Tree) -> None:
    said = "EUR 1,150, seen after the run (4 plates 38, make-ready 105, spoiled sheets 1,007)"

    assert f"What it costs if missed {said}" in tree.text
    assert "Dearest if missed" in tree.text


def test_without_figures_nothing_is_said_of_cost() -> None:
    assert "missed" not in Tree(html_report(clean_report())).text


def test_strange_costs_are_left_out() -> None:
    for cost in ("x", {}, {"amount": "9"}, {"amount": 3, "parts": ["a"], "currency": ["<b>"], "seen": None}):
        html_report(replace(report(), findings=[finding("line.hairline", details={"cost_if_missed": cost})]))


def test_before_and_after_stand_side_by_side_at_every_place(tmp_path: Path) -> None:
    found = []
    for number in (1, 2):
        details = {}
        for key in ("picture", "picture_without_overprint"):
            details[key] = f"{key}-{number}.png"
            (tmp_path / details[key]).write_bytes(b"\x89PNG\r\n\x1a\n" + b"\0" * 30 + bytes([number]))
        found.append(finding("overprint.vanishes", page=number, box=[9, 9, 20, 20], details=details))

    tree = Tree(html_report(replace(report(), findings=found), tmp_path))

    alts = [image["alt"] or "" for image in tree.all("img")]
    assert len(alts) == 4
    assert [alt.startswith("Without overprint") for alt in alts] == [False, True, False, True]
    assert "On the plates Without overprint, as most screens show it" in tree.text
