"""What the commands say to a hand that mistyped: one line on standard error, exit status 2, and nothing else."""

from __future__ import annotations

import pytest
from click.testing import CliRunner, Result

from preflight.cli import main


def said(*arguments: str) -> Result:
    return CliRunner().invoke(main, list(arguments))


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["chek"], ("chek", "check")),
        (["--nonsense"], ("--nonsense", "preflight --help")),
        (["check"], ("ART", "preflight check --help")),
        (["check", "art.pdf", "--jsn", "-"], ("check", "--jsn", "--json")),
        (["check", "art.pdf", "--time-limit", "0"], ("--time-limit",)),
        (["check", "art.pdf", "--memory-limit", "lots"], ("--memory-limit", "lots")),
        (["rules", "lst"], ("rules", "lst", "list")),
        (["plates", "art.pdf"], ("plates", "--out")),
        (["compare", "old.json"], ("compare", "NEW.json")),
        (["letter", "report.json", "--units", "furlong"], ("--units", "furlong", "inch")),
        (["explain", "nonsense"], ("nonsense",)),
    ],
)
def test_wrong_usage_is_one_line(arguments: list[str], words: tuple[str, ...]) -> None:
    result = said(*arguments)
    assert (result.exit_code, result.stdout) == (2, "")
    (line,) = result.stderr.splitlines()
    assert line.startswith("preflight: ")
    assert all(word in line for word in words), line


@pytest.mark.parametrize(
    "arguments", [["--help"], ["check", "-h"], ["rules", "list"], ["explain"], ["explain", "trap"]]
)
def test_what_is_read_on_a_terminal_fits_it(arguments: list[str]) -> None:
    result = said(*arguments)
    assert (result.exit_code, result.stderr) == (0, "")
    assert max(map(len, result.stdout.splitlines())) <= 80
