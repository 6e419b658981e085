"""The import arrows of the house: a module imports only from rooms below its own."""

from __future__ import annotations

import ast
import subprocess
import sys
from pathlib import Path

import pytest

PACKAGE = Path(__file__).parents[1] / "preflight"

#: Lowest first. A name ending in ``.`` is a room; the longest match counts.
FLOORS = [
    ("preflight", "preflight.units", "preflight.errors", "preflight.data", "preflight.tomlfile", "preflight.scratch"),
    ("preflight.findings", "preflight.inventory", "preflight.inventory.model"),
    (
        "preflight.ticket",
        "preflight.press_colour",
        "preflight.conditions",
        "preflight.pdfx",
        "preflight.pdfx_parts",
        "preflight.pdfx_claimed",
        "preflight.pdfx_breaks",
        "preflight.pdfx_colours",
        "preflight.colour_use",
        "preflight.inks",
        "preflight.product_numbers",
        "preflight.places",
        "preflight.clusters",
        "preflight.sizes",
        "preflight.bindery",
    ),
    ("preflight.inventory.",),
    # ``preflight.checks`` itself is empty: the shelf on which checks are looked for.
    (
        "preflight.checking",
        "preflight.ground",
        "preflight.frames",
        "preflight.edge_gaps",
        "preflight.checks",
    ),
    ("preflight.checks.",),
    ("preflight.rules", "preflight.rulefiles", "preflight.ticketfile"),
    ("preflight.judging", "preflight.costs", "preflight.waivers"),
    ("preflight.report", "preflight.report."),
    ("preflight.flow",),
    ("preflight.preload", "preflight.preload_pictures"),
    ("preflight.errand", "preflight.fork_server"),
    ("preflight.isolate",),
    ("preflight.marking",),
    ("preflight.demo",),
    ("preflight.batch", "preflight.batch."),
    ("preflight.cli",),
    ("preflight.__main__",),
]
ENGINES = {"pymupdf", "pikepdf", "PIL", "zxingcpp", "imagecodecs", "tifffile"}
MAY_USE_ENGINES = (
    "preflight.inventory.",
    "preflight.report.marked",
    "preflight.report.pictures",
    "preflight.report.plate_pictures",
    "preflight.preload",
    "preflight.preload_pictures",
)


def modules() -> dict[str, Path]:
    """Every module of the package by its dotted name."""
    found = {}
    for path in sorted(PACKAGE.rglob("*.py")):
        parts = path.relative_to(PACKAGE.parent).with_suffix("").parts
        found[".".join(part for part in parts if part != "__init__")] = path
    return found


def floor_of(module: str) -> int:
    exact = [level for level, names in enumerate(FLOORS) if module in names]
    room = [
        level for level, names in enumerate(FLOORS) for name in names if name[-1] == "." and module.startswith(name)
    ]
    assert exact or room, f"{module} has no floor: give it one in FLOORS"
    return (exact or room)[0]


def imported_by(path: Path) -> list[str]:
    """Every module a file imports, also within functions; not those for types only."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    typing_only = {
        inner
        for node in ast.walk(tree)
        if isinstance(node, ast.If) and "TYPE_CHECKING" in ast.dump(node.test)
        for inner in ast.walk(node)
    }
    names: list[str] = []
    for node in ast.walk(tree):
        if node in typing_only:
            continue
        if isinstance(node, ast.Import):
            names += [alias.name for alias in node.names]
        elif isinstance(node, ast.ImportFrom) and node.module:
            names += [f"{node.module}.{alias.name}" for alias in node.names] + [node.module]
    return names


@pytest.mark.parametrize("module", modules())
def test_a_module_imports_only_downwards(module: str) -> None:
    everything = modules()
    own = floor_of(module)
    for name in imported_by(everything[module]):
        if name in everything and name != module and not name.startswith(f"{module}."):
            assert floor_of(name) <= own, f"{module} imports {name}, which lies above it"


@pytest.mark.parametrize("module", modules())
def test_engines_are_imported_by_readers_only(module: str) -> None:
    if module.startswith(MAY_USE_ENGINES):
        return
    used = {name.partition(".")[0] for name in imported_by(modules()[module])} & ENGINES
    assert not used, f"{module} imports {used}"


@pytest.mark.parametrize("module", [name for name in modules() if name.startswith("preflight.checks.")])
def test_checks_know_neither_command_line_nor_readers(module: str) -> None:
    for name in imported_by(modules()[module]):
        assert name.partition(".")[0] not in {"click", "rich", "jinja2"}
        assert not name.startswith("preflight.inventory.") or name.startswith("preflight.inventory.model")


def test_help_loads_no_engine() -> None:
    code = (
        "import sys; from click.testing import CliRunner; from preflight.cli import main;"
        "result = CliRunner().invoke(main, ['--help']); assert result.exit_code == 0;"
        "print(' '.join(sys.modules))"
    )
    loaded = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout.split()
    assert not ENGINES & {name.partition(".")[0] for name in loaded}
    assert "numpy" not in loaded
