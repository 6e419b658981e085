"""What a missed fault costs: arithmetic on the shop's figures, by the stage it would be seen at; silent until they are there."""

from __future__ import annotations

import pytest
from artwork import Book, mm, rectangle
from click.testing import CliRunner
from whole import report_of

from preflight.cli import main
from preflight.costs import cost_if_missed
from preflight.findings import Stage
from preflight.rules import settle

FIGURES = {
    "currency": "EUR",
    "plate": 10.0,
    "make_ready_hour": 140.0,
    "make_ready_hours": 0.5,
    "spoiled_sheet": 0.25,
    "spoiled_sheets": 4000,
    "bindery_hour": 60.0,
    "bindery_hours": 1.5,
}
TABLE = "[cost]\n" + "\n".join(
    f'{key} = "{value}"' if isinstance(value, str) else f"{key} = {value}" for key, value in FIGURES.items()
)


@pytest.mark.parametrize(
    ("stage", "seen", "amount"),
    [
        (Stage.INTAKE, "on the plates", 4 * 10),
        (Stage.PLATES, "at make-ready", 4 * 10 + 70),
        (Stage.PRESS, "after the run", 4 * 10 + 70 + 1000),
        (Stage.BINDERY, "in the bindery", 4 * 10 + 70 + 1000 + 90),
    ],
)
def test_each_stage_has_paid_for_all_before_it(stage: Stage, seen: str, amount: float) -> None:
    said = cost_if_missed(stage, 4, FIGURES)

    assert said is not None
    assert (said["seen"], said["amount"], said["currency"]) == (seen, amount, "EUR")
    assert sum(said["parts"].values()) == amount


def test_what_the_shop_does_not_say_is_left_out() -> None:
    only_sheets = {"spoiled_sheet": 0.25, "spoiled_sheets": 4000}

    assert cost_if_missed(Stage.PLATES, 4, only_sheets) is None
    said = cost_if_missed(Stage.PRESS, 4, only_sheets)
    assert said is not None
    assert (said["parts"], said["currency"]) == ({"spoiled sheets": 1000.0}, None)


@pytest.fixture
def faulty(tmp_path):
    """A page in black and one spot, with a rule too thin to hold on the plate."""
    book = Book()
    line = f"0.1 w {mm(10)} {mm(60)} m {mm(90)} {mm(60)} l S"
    book.page(f"0 0 0 1 k {rectangle(20, 20, 40, 10)} f 0 0 0 1 K {line}", trim_mm=(100, 100))
    return book.save(tmp_path / "thin.pdf")


def test_a_finding_carries_its_cost_only_where_the_shop_filled_it_in(faulty, tmp_path) -> None:
    rules = tmp_path / "own.toml"
    rules.write_text(f'extends = "sheetfed-coated"\n{TABLE}\n')

    silent = [found for found in report_of(faulty, settle()).findings if found.id.startswith("line.")]
    costed = [found for found in report_of(faulty, settle(rules)).findings if found.id.startswith("line.")]

    assert silent
    assert [found.details.get("cost_if_missed") for found in silent] == [None] * len(silent)
    # One ink, so one plate, and the make-ready.
    assert [found.details["cost_if_missed"]["amount"] for found in costed] == [10 + 70] * len(silent)
    # It moves nothing else.
    assert [found.key for found in silent] == [found.key for found in costed]


def test_the_table_is_shown_with_the_file_it_comes_from(tmp_path) -> None:
    rules = tmp_path / "own.toml"
    rules.write_text(f'extends = "sheetfed-coated"\n{TABLE}\n')

    shown = CliRunner().invoke(main, ["rules", "show", str(rules)]).output
    sound = CliRunner().invoke(main, ["rules", "validate", str(rules)])

    assert "spoiled_sheets = 4000.0  (own.toml)" in shown
    assert sound.exit_code == 0
    assert "[cost]" not in CliRunner().invoke(main, ["rules", "show"]).output
