"""What ``preflight explain`` says of each check, and that ``rules/CHECKS.md`` says the same."""

from pathlib import Path

import pytest

from preflight.checking import HEADINGS, all_checks, sections_of
from preflight.errors import UsageFault
from preflight.report.explain import WIDTH, explain_all_markdown, explain_list, explain_text, in_brackets
from preflight.rules import settle

CHECKS_FILE = Path(__file__).parents[1] / "rules" / "CHECKS.md"


@pytest.mark.parametrize("name", list(all_checks()))
def test_a_check_is_explained_whole(name):
    check = all_checks()[name]
    text = explain_text(name)
    assert text.startswith(f"{name}: ")
    assert all(f"\n{heading}\n" in text for heading in HEADINGS)
    flat = " ".join(text.split())
    for kind, texts in check.kinds.items():
        severity = settle("standard").severity[name][kind].value
        assert f"{name}.{kind}: {severity}" in text
        assert " ".join(in_brackets(texts.message).split()) in flat
        assert " ".join(in_brackets(texts.remedy).split()) in flat
    for heading in HEADINGS:
        assert " ".join(sections_of(check)[heading].split()) in flat
    assert settle("standard").sources[name] in flat


@pytest.mark.parametrize("name", list(all_checks()))
def test_an_explanation_fits_a_terminal(name):
    """A single long word may stand out, running text may not."""
    assert [line for line in explain_text(name).splitlines() if len(line) > WIDTH and len(line.split()) > 2] == []


def test_limits_stand_side_by_side_where_the_rules_differ():
    lines = explain_text("resolution").splitlines()
    head = next(line for line in lines if line.split()[:1] == ["standard"]).split()
    low = next(line for line in lines if line.split()[:1] == ["low_below_ppi"]).split()[1:]
    assert head[0] == "standard"
    assert "sheetfed-coated" not in head, "equal to standard"
    limits = dict(zip(head, low, strict=True))
    assert {name: limits[name] for name in ("standard", "sheetfed-uncoated", "newsprint")} == {
        "standard": "150",
        "sheetfed-uncoated": "133",
        "newsprint": "85",
    }


def test_the_id_of_a_finding_may_be_asked_for():
    text = explain_text("resolution.soft")
    assert "resolution.soft: ask" in text
    assert "resolution.low:" not in text


@pytest.mark.parametrize(
    ("name", "near"),
    [
        ("resolutoin", "resolution"),
        ("BLACK", "is black"),
        ("resolution.sfot", "soft"),
        ("", "check"),
        ("a\nb", "check"),
    ],
)
def test_an_unknown_check_names_the_nearest(name, near):
    with pytest.raises(UsageFault) as caught:
        explain_text(name)
    assert near in str(caught.value)
    assert str(caught.value).isprintable()


def test_the_list_names_every_id():
    text = explain_list()
    assert all(f"{name}.{kind}" in text for name, check in all_checks().items() for kind in check.kinds)


def test_blanks_of_a_text_are_shown_in_brackets():
    assert in_brackets("{measured:.1f} of {limit} {unit!r}") == "[measured] of [limit] [unit]"


def test_the_shipped_list_of_checks_is_fresh():
    assert CHECKS_FILE.read_text(encoding="utf-8") == explain_all_markdown(), (
        "run: python -m preflight.report.explain > rules/CHECKS.md"
    )
