"""``preflight plates``: pictures of the plates, the total-ink map and the tables, held against Ghostscript and arithmetic."""

from __future__ import annotations

import csv
import os
import shutil
import subprocess
from pathlib import Path

import numpy as np
import pytest
from artwork import Book, mm, rectangle
from click.testing import CliRunner
from PIL import Image

from preflight.cli import main

TRIM_MM = (100.0, 60.0)
RULES = 'extends = "sheetfed-coated"\n[press]\nink_key_zones = 10\n'


def art(folder: Path, *, name: str = "art.pdf", inks: tuple[str, ...] = ("Fern Green",), pages: int = 1) -> Path:
    """A cyan panel on the left half, a grey block overprinting a spot on the right, type; 3 mm bleed."""
    book = Book()
    resources = {"Over": book.state(OP=True, op=True, OPM=1), "Face": book.base_font()}
    resources |= {f"S{turn}": book.spot(ink) for turn, ink in enumerate(inks)}
    content = f"0.5 0 0 0 k {rectangle(-3, -3, 53, 66)} f "
    for turn in range(len(inks)):
        content += f"/S{turn} cs 0.8 scn {rectangle(60 + turn, 10, 20, 20)} f "
    content += (
        f"/Over gs 0 0 0 1 k {rectangle(65, 15, 30, 30)} f BT /Face 14 Tf {mm(60)} {mm(50)} Td (Fernhollow) Tj ET"
    )
    for _ in range(pages):
        book.page(content, trim_mm=TRIM_MM, resources=resources)
    book.output_intent("FOGRA39")
    return book.save(folder / name)


def plates(source: Path, out: Path, *arguments: str) -> str:
    rules = source.with_name("rules.toml")
    rules.write_text(RULES)
    result = CliRunner().invoke(main, ["plates", str(source), "--out", str(out), "--rules", str(rules), *arguments])
    assert result.exit_code == 0, result.output
    return result.output


def table(path: Path) -> list[dict[str, str]]:
    with path.open(newline="", encoding="utf-8") as file:
        return list(csv.DictReader(file))


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Path]:
    folder = tmp_path_factory.mktemp("plates")
    source = art(folder)
    plates(source, folder / "out")
    return source, folder / "out"


def in_trim(picture: Image.Image) -> np.ndarray:
    """The part of a whole page's picture inside the trim: the page is the trim with the same margin all round."""
    pixels = np.asarray(picture, dtype=np.float64)
    per_mm = picture.info["dpi"][0] / 25.4
    down, across = (
        round((side / per_mm - trim) / 2 * per_mm) for side, trim in zip(pixels.shape, TRIM_MM[::-1], strict=False)
    )
    return pixels[down : pixels.shape[0] - down, across : pixels.shape[1] - across]


def test_a_picture_for_each_plate_at_its_true_size(made: tuple[Path, Path]) -> None:
    _, out = made
    names = sorted(path.name for path in (out / "page-0001").iterdir())

    assert names == [
        "01-Cyan.png", "02-Magenta.png", "03-Yellow.png", "04-Black.png", "05-Fern-Green.png", "composite.png",
        "ink-zones.csv", "total-ink.png",
    ]  # fmt: skip
    with Image.open(out / "page-0001" / "01-Cyan.png") as cyan:
        # The page is the trim with what lies around it: at least 3 mm of bleed on each side.
        wide_mm = cyan.width / cyan.info["dpi"][0] * 25.4
        assert cyan.mode == "L"
    assert wide_mm >= 106.0
    sizes = {Image.open(path).size for path in (out / "page-0001").glob("*.png")}
    assert len(sizes) == 1


def test_pictures_and_table_say_the_same(made: tuple[Path, Path]) -> None:
    _, out = made
    rows = {row["ink"]: float(row["coverage_percent"]) for row in table(out / "coverage.csv")}

    assert list(rows) == ["Cyan", "Magenta", "Yellow", "Black", "Fern Green"]
    for number, (ink, percent) in enumerate(rows.items(), start=1):
        with Image.open(out / "page-0001" / f"{number:02}-{ink.replace(' ', '-')}.png") as picture:
            assert 100 - in_trim(picture).mean() / 2.55 == pytest.approx(percent, abs=0.4), ink
    # Half of the trim at 50 %; 30 x 30 mm of 6000 mm2 and some type; 20 x 20 mm at 80 % of which nothing is knocked out.
    assert rows["Cyan"] == pytest.approx(25.0, abs=0.3)
    assert 15.0 < rows["Black"] < 17.5
    assert rows["Fern Green"] == pytest.approx(400 * 0.8 / 60, abs=0.2)


def test_coverage_is_that_of_another_renderer(made: tuple[Path, Path], tmp_path: Path) -> None:
    """Ghostscript's separation device at 600 ppi, cut to the trim: within half a percent point a plate."""
    if shutil.which("gs") is None and os.environ.get("CI") != "true":
        pytest.skip("Ghostscript (gs) is not installed")
    source, out = made
    command = ["gs", "-q", "-dNOPAUSE", "-dBATCH", "-dSAFER", "-dUseTrimBox", "-r600", "-sDEVICE=tiffsep"]
    subprocess.run([*command, f"-sOutputFile={tmp_path / 'plate.tif'}", str(source)], check=True, capture_output=True)
    rows = {row["ink"]: float(row["coverage_percent"]) for row in table(out / "coverage.csv")}

    for ink, percent in rows.items():
        with Image.open(tmp_path / f"plate({ink}).tif") as plate:
            theirs = 100 - float(np.asarray(plate, dtype=np.float64).mean()) / 2.55
        assert percent == pytest.approx(theirs, abs=0.5), ink


def test_ink_by_zone_is_what_lies_under_each_key(made: tuple[Path, Path]) -> None:
    _, out = made
    rows = table(out / "page-0001" / "ink-zones.csv")
    zones = {row["ink"]: [float(row[f"zone {number}"]) for number in range(1, 11)] for row in rows}

    # Ten zones of 10 mm: cyan 50 % in the first five; the spot's 20 mm of 60 at 80 % in the seventh and eighth.
    assert zones["Cyan"] == pytest.approx([50.0] * 5 + [0.0] * 5, abs=0.8)
    assert zones["Fern Green"] == pytest.approx([0.0] * 6 + [80 / 3] * 2 + [0.0] * 2, abs=0.5)
    # The block alone, 30 mm of 60 from 65 to 95 mm: half a zone, two whole ones, half a zone; type stands in the others.
    assert zones["Black"][8:] == pytest.approx([50.0, 25.0], abs=1.5)
    mean = {row["ink"]: float(row["coverage_percent"]) for row in table(out / "coverage.csv")}
    assert {ink: sum(values) / 10 for ink, values in zones.items()} == pytest.approx(mean, abs=0.3)
    whole = table(out / "ink-zones.csv")
    assert [{key: value for key, value in row.items() if key != "page"} for row in whole] == rows
    assert {row["page"] for row in whole} == {"1"}


def test_the_map_has_the_colours_of_its_scale(made: tuple[Path, Path]) -> None:
    _, out = made
    with Image.open(out / "page-0001" / "total-ink.png") as picture, Image.open(out / "total-ink-scale.png") as scale:
        per_mm = picture.info["dpi"][0] / 25.4
        margin = ((picture.width / per_mm - TRIM_MM[0]) / 2, (picture.height / per_mm - TRIM_MM[1]) / 2)

        def at(x_mm: float, y_mm: float) -> tuple[int, ...]:
            return picture.convert("RGB").getpixel((int((margin[0] + x_mm) * per_mm), int((margin[1] + y_mm) * per_mm)))

        def step(percent: int) -> tuple[int, ...]:
            return scale.convert("RGB").getpixel((44 * (percent // 20) + 10, 10))

        # 50 % lies in the step up to 60; black alone up to 100; black over 80 % of the spot up to 180; bare paper is white.
        assert at(20, 30) == step(60)
        assert at(90, 30) == step(100)
        assert at(70, 40) == step(180)
        assert at(55, 55) == step(0) == (255, 255, 255)
        light = [sum(step(percent)) for percent in range(0, 401, 20)]
        assert light == sorted(light, reverse=True)
        assert len(set(light)) == 21


def test_strangers_inks_make_harmless_names(tmp_path: Path) -> None:
    inks = ("../../etc", "a/b", "=1+1", "A:B", "Fern\nGreen", "fern")
    source = art(tmp_path, inks=inks)
    out = tmp_path / "out"
    plates(source, out)

    pictures = sorted(path.name for path in (out / "page-0001").glob("[0-9]*.png"))
    assert len(pictures) == 4 + len(inks)
    assert all(
        set(name) <= set("abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789-_.") for name in pictures
    )
    assert {path.name for path in tmp_path.iterdir()} == {"art.pdf", "rules.toml", "out"}
    assert "'=1+1" in {row["ink"] for row in table(out / "coverage.csv")}


def test_a_second_run_leaves_nothing_of_another_file(tmp_path: Path) -> None:
    out = tmp_path / "out"
    plates(art(tmp_path, name="two.pdf", pages=2), out)
    (out / "page-0002" / "note.txt").write_text("mine")
    plates(art(tmp_path, name="one.pdf", inks=()), out)

    assert [path.name for path in (out / "page-0002").iterdir()] == ["note.txt"]
    assert not (out / "page-0001" / "05-Fern-Green.png").exists()
    assert {row["page"] for row in table(out / "ink-zones.csv")} == {"1"}


def test_no_zones_where_the_rules_have_none_and_none_for_a_dead_file(tmp_path: Path) -> None:
    source = art(tmp_path)
    rules = tmp_path / "none.toml"
    rules.write_text('extends = "sheetfed-coated"\n[press]\nink_key_zones = 0\n')
    out = tmp_path / "out"
    plates(source, out)
    assert len(list(out.rglob("ink-zones.csv"))) == 2
    assert CliRunner().invoke(main, ["plates", str(source), "--out", str(out), "--rules", str(rules)]).exit_code == 0
    assert not list(out.rglob("ink-zones.csv"))

    dead = tmp_path / "dead.pdf"
    dead.write_bytes(b"")
    result = CliRunner().invoke(main, ["plates", str(dead), "--out", str(tmp_path / "dead")])
    assert result.exit_code == 30
    assert len(result.output.strip().splitlines()) == 1
    assert "no plates" in result.output
