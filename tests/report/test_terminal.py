"""The report at a screen: order, width, and nothing a stranger's name can do to it."""

from __future__ import annotations

import io
import re
import sys
from dataclasses import replace
from pathlib import Path

import pytest
from report.sample import clean_report, hostile_report, report
from rich.cells import cell_len

from preflight.findings import NotJudged, Unchecked, Verdict, verdict_of
from preflight.report.lines import not_judged_line, unchecked_lines
from preflight.report.quiet import quiet_line
from preflight.report.terminal import Screen, render_terminal


def test_the_verdict_stands_first_and_what_was_not_checked_next() -> None:
    text = render_terminal(report())

    assert text.splitlines()[0].startswith("STOP")
    order = [
        text.index(word) for word in ("\nNOT CHECKED", "\nSTOP  ", "\nASK ", "\nNOTE ", "\nWAIVED ", "\nNot judged:")
    ]
    assert order == sorted(order)


def test_findings_are_grouped_with_place_figures_and_words() -> None:
    text = render_terminal(report())

    assert "resolution.low x3  pages 3, 5, 9; worst 71.9 ppi, limit 150 ppi\n    The picture prints at 71.9 ppi" in text
    assert text.count("resolution.low") == 1
    assert "bleed.empty  page 3, left edge; 0.4 mm, limit 2 mm" in text
    assert "total-ink.high  page 7, 60 mm from left trim, 100 mm from top" in text


def test_a_waiver_is_shown_with_name_and_date() -> None:
    assert re.search(
        r"resolution\.soft.*by M\. Quill\s+on 2026-11-20: customer knows", render_terminal(report()), re.DOTALL
    )


def test_nothing_found_is_said_of_these_rules_only() -> None:
    text = render_terminal(clean_report())

    assert text.startswith("GO  straight to plates")
    assert "nothing found against these rules" in text
    assert "perfect" not in text.casefold()


@pytest.mark.parametrize("make", [report, clean_report, hostile_report])
def test_no_line_is_wider_than_eighty_columns(make: object) -> None:
    for line in render_terminal(make()).splitlines():  # type: ignore[operator]
        assert cell_len(line) <= 80, line
        assert line == line.rstrip()


def test_wide_letters_keep_within_eighty_columns() -> None:
    text = render_terminal(report(name="春の案内" * 30 + ".pdf"))

    assert all(cell_len(line) <= 80 for line in text.splitlines())


def test_a_path_is_never_broken() -> None:
    path = Path("/srv/jobs") / ("long-" * 30) / "report.html"

    assert f"Written to {path}\n" in render_terminal(report(), [path])


def test_strangers_text_changes_nothing_on_the_terminal() -> None:
    text = render_terminal(hostile_report())

    assert not re.search(r"[\x00-\x09\x0b-\x1f\x7f-\x9f\u202a-\u202e\u2066-\u2069]", text)
    # Read as text, not as markup or picture words.
    assert "[bold]x[/bold] :smile:" in " ".join(text.split())
    text.encode("utf-8")


def test_quiet_is_one_line_a_file() -> None:
    assert quiet_line(report()) == "STOP      spring-guide.pdf: 6 stop, 4 ask, 2 notes, 1 waived, 3 not checked"
    assert quiet_line(hostile_report()).count("\n") == 0


def test_reasons_are_said_once() -> None:
    gaps = [Unchecked("total-ink", page, "took too long") for page in (6, 7, 8)] + [Unchecked("all", 9, "killed")]

    assert unchecked_lines(gaps) == ["total-ink on pages 6 to 8: took too long", "every check on page 9: killed"]
    assert unchecked_lines([Unchecked("file", None, "out of memory")]) == ["the file: out of memory"]
    on_2 = [Unchecked(check, 2, "no boxes") for check in ("bleed", "file", "trim")]
    assert unchecked_lines([*on_2, Unchecked("trim", 3, "no boxes")]) == [
        "bleed, the file on page 2: no boxes",
        "trim on pages 2, 3: no boxes",
    ]
    ordered = [NotJudged("trim", "no ticket"), NotJudged("pages", "no ticket"), NotJudged("trim", "no ticket")]
    assert not_judged_line(ordered) == "Not judged: trim, pages (no ticket)."


def test_no_colour_where_the_output_is_piped(capsys: pytest.CaptureFixture[str]) -> None:
    Screen().show(report())

    said = capsys.readouterr()
    assert said.err == ""
    assert said.out == render_terminal(report())
    assert "\x1b" not in said.out


def test_standard_output_stays_free_for_the_json_report(capsys: pytest.CaptureFixture[str]) -> None:
    screen = Screen(to_stderr=True)
    with screen.progress("a.pdf"):
        screen.show(report())

    said = capsys.readouterr()
    assert said.out == ""
    assert said.err.startswith("STOP")


def test_an_old_encoding_shows_a_mark_and_goes_on(monkeypatch: pytest.MonkeyPatch) -> None:
    raw = io.BytesIO()
    monkeypatch.setattr(sys, "stdout", io.TextIOWrapper(raw, encoding="ascii"))

    Screen().show(report(name="Führer.pdf"))
    sys.stdout.flush()

    assert b"F?hrer.pdf" in raw.getvalue()


def test_no_progress_without_a_terminal() -> None:
    with Screen().progress("a.pdf") as tell:
        assert tell is None


def test_progress_on_a_terminal_is_cleared_away(monkeypatch: pytest.MonkeyPatch) -> None:
    stream = io.StringIO()
    monkeypatch.setattr(stream, "isatty", lambda: True)
    monkeypatch.setattr(sys, "stderr", stream)
    monkeypatch.setenv("TERM", "xterm")
    monkeypatch.setattr("preflight.report.terminal._PATIENCE_S", 0.0)

    with Screen().progress("spring\x1b[31m-guide.pdf") as tell:
        assert tell is not None
        for done in range(4):
            tell(done, 16)

    assert "\x1b[31m-guide" not in stream.getvalue()


@pytest.mark.parametrize("verdict", list(Verdict))
def test_every_verdict_has_its_words(verdict: Verdict) -> None:
    assert render_terminal(replace(clean_report(), verdict=verdict)).startswith(verdict.value.upper())


def test_the_sample_is_what_it_says() -> None:
    whole = report()

    assert whole.verdict is verdict_of(whole.findings, whole.unchecked) is Verdict.STOP
