"""Measures what the picture computation finds, misses and says wrongly, on pictures whose truth is known.

    python tests/bench/pictures_bench.py [--seed N] [--count 1.0] [--verbose]

Every run draws a fresh seed and prints it. Pictures are made here (scenes, kernels, sharpeners and screens that the tests do not
use), saved as files, and put through the whole tool; photographs that installed packages ship (scikit-image, scikit-learn,
matplotlib) are taken as they are and must not be asked about. Nothing here fails: it prints what it measured beside what is
aimed at. A picture is *found* if it is asked about with a figure within the tolerance, *missed* if not; a false alarm is an ``ask``
on a picture that deserves none.
"""

from __future__ import annotations

import argparse
import secrets
import sys
import tempfile
import time
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
from PIL import Image

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE), str(HERE.parent), str(HERE.parents[1])]

import picture_scenes as scenes  # noqa: E402
from scan_scenes import on_glass, sheet_of_type  # noqa: E402
from whole import job_for, report_of  # noqa: E402

RULINGS_LPI = (65, 75, 85, 100, 110, 120, 133, 150, 175, 200)
SCANS_PPI = (300, 400, 600, 800, 1200)
#: Dots closer than this many pixels fold back at most angles; they stand in a row of their own.
CLOSE_PX = 2.1
SHARES = frozenset(("image.upsampled", "image.screened"))
#: Kinds of question that any picture may get wrongly.
WATCHED = frozenset(("image.upsampled", "image.screened", "image.crooked"))


@dataclass
class Case:
    """One picture with its truth: the finding it deserves (None: no ``ask``), and the figures of it."""

    row: str
    name: str
    picture: np.ndarray
    ppi: float
    deserves: str | None = None
    measured: float | None = None
    within: float = 0.0
    angles: tuple[float, ...] = ()
    #: Saved as this kind of file; ``bits`` 1 is a bilevel scan.
    options: dict[str, object] = field(default_factory=dict)
    bits: int = 8


@dataclass
class Row:
    """One line of the table."""

    aim: str
    pictures: int = 0
    found: int = 0
    missed: list[str] = field(default_factory=list)
    wrong: list[str] = field(default_factory=list)
    alarms: list[str] = field(default_factory=list)
    notes: int = 0


def blown_up_cases(rng: np.random.Generator, count: float) -> Iterator[Case]:
    """Textured scenes enlarged by two and more, sharpened before or after or not, with JPEG's noise or not."""
    kernels = [*scenes.KERNELS, "area"]
    for number in range(round(32 * count)):
        make = scenes.SCENES[number % len(scenes.SCENES)]
        factor = float(rng.choice([2.0, 2.0, 2.5, 3.0, 4.0, 6.0, rng.uniform(2.0, 8.0)]))
        kernel = str(rng.choice(kernels))
        source = make(rng, *(int(max(180, 1300 / factor)) for _ in "ab"))
        sharpener = str(rng.choice(["none", "before", "after"]))
        quality = int(rng.choice([0, 0, 95, 90, 85]))
        if sharpener == "before":
            source = scenes.sharpened(source, 0.8, 1)
        picture = scenes.blown_up(source, factor, kernel)
        if sharpener == "after":
            picture = scenes.sharpened(picture, rng.uniform(0.5, 1.5), int(rng.integers(1, 4)))
        picture = np.clip(picture, 0, 255)
        if quality:
            picture = scenes.through_jpeg(picture, quality)
        name = f"{make.__name__} x {factor:.2f} {kernel}, sharpened {sharpener}, jpeg {quality or '-'}"
        yield Case("blown up, drawn scenes", name, picture, 300.0, "image.upsampled", 300.0 / factor, 0.2)


def blown_up_photographs(rng: np.random.Generator, photographs: dict[str, np.ndarray]) -> Iterator[Case]:
    """Middles of the photographs, enlarged."""
    for name, picture in photographs.items():
        if name in ("moon", "retina", "coins", "ihc"):
            continue  # blurred themselves, blown up already or with too little texture to tell: not for this row
        height, width = picture.shape
        part = picture[height // 4 : height // 4 + 360, width // 4 : width // 4 + 360]
        factor, kernel = float(rng.choice([2.0, 2.4, 3.0, 4.0])), str(rng.choice(list(scenes.KERNELS)))
        big = np.clip(scenes.blown_up(part, factor, kernel), 0, 255)
        yield Case(
            "blown up, photographs", f"{name} x {factor} {kernel}", big, 300.0, "image.upsampled", 300.0 / factor, 0.2
        )


def printed_cases(rng: np.random.Generator, count: float) -> Iterator[Case]:
    """One-ink prints of scenes, scanned."""
    number = 0
    while number < round(24 * count):
        lpi, ppi = float(rng.choice(RULINGS_LPI)), float(rng.choice(SCANS_PPI))
        make = scenes.SCENES[number % len(scenes.SCENES)]
        angle = float(rng.choice([45.0, 45.0, 15.0, 75.0, 0.0, 22.5, rng.uniform(0, 90)]))
        dot = str(rng.choice(["round", "diamond", "ellipse"]))
        tone = _as_tone(scenes.softened(make(rng, 900, 900), ppi / lpi / 2))
        picture = scenes.scanned(scenes.printed(tone, lpi / ppi, angle, dot), rng, rng.uniform(0.35, 0.7))
        number += 1
        yield Case(
            _by_distance("printed before, one ink", ppi / lpi),
            f"{make.__name__} {lpi:.0f} lpi {dot} at {angle:.0f}, scanned at {ppi:.0f}",
            picture, ppi, "image.screened", lpi, 0.03, (angle,),
        )  # fmt: skip


def rosette_cases(rng: np.random.Generator, count: float) -> Iterator[Case]:
    """Four-colour prints, scanned in RGB."""
    number = 0
    while number < round(10 * count):
        lpi, ppi = float(rng.choice(RULINGS_LPI)), float(rng.choice(SCANS_PPI))
        turn = rng.uniform(-3.0, 3.0)  # laid on the glass a little askew
        angles = tuple((angle + turn) % 90.0 for angle in (15.0, 75.0, 0.0, 45.0))
        #: How much red, green and blue each ink takes away.
        takes = ((0.85, 0.25, 0.08), (0.12, 0.80, 0.35), (0.02, 0.08, 0.80), (0.92, 0.92, 0.92))
        light = np.ones((800, 800, 3))
        base = scenes.softened(scenes.foliage(rng, 800, 800), ppi / lpi / 2)
        for ink, (angle, taken) in enumerate(zip(angles, takes, strict=True)):
            tone = _as_tone(np.roll(base, 60 * ink, axis=ink % 2)) * (0.6 if ink == 3 else 0.9)
            light *= 1.0 - scenes.printed(tone, lpi / ppi, angle, "round")[..., None] * np.array(taken)
        blur = rng.uniform(0.35, 0.6)
        picture = np.dstack([scenes.scanned(1.0 - light[..., part], rng, blur) for part in range(3)])
        number += 1
        yield Case(
            _by_distance("printed before, four inks", ppi / lpi), f"{lpi:.0f} lpi scanned at {ppi:.0f}, askew by {turn:.1f}",
            picture, ppi, "image.screened", lpi, 0.03, angles,
        )  # fmt: skip


def _by_distance(row: str, distance_px: float) -> str:
    return row if distance_px >= CLOSE_PX else f"{row}, close dots"


def askew_cases(rng: np.random.Generator, count: float) -> Iterator[Case]:
    """Scanned sheets of type, gray and 1-bit, askew by more than is asked about; and nearly straight ones."""
    for number in range(round(30 * count)):
        straight = number % 5 == 4
        askew = float(rng.uniform(-0.35, 0.35) if straight else rng.uniform(0.7, 8.0) * rng.choice([-1.0, 1.0]))
        ppi = float(rng.choice([150, 200, 300]))
        width, height = (round(side * ppi) for side in (rng.uniform(4.0, 6.0), rng.uniform(4.5, 7.0)))
        sheet = sheet_of_type(rng, width, height, ppi, askew)
        bits = 1 if number % 3 == 2 else 8
        picture = on_glass(sheet, rng, rng.uniform(225, 252))
        name = f"type at {ppi:.0f} ppi, {bits} bit, {askew:.2f} degrees"
        yield Case(
            "scans nearly straight" if straight else "scans askew", name, picture, ppi,
            None if straight else "image.crooked", None if straight else abs(askew), 0.1, bits=bits,
        )  # fmt: skip


def packed_cases(rng: np.random.Generator, count: float) -> Iterator[Case]:
    """Scenes packed hard as JPEG, as they are and saved again without loss; and packed lightly."""
    for number in range(round(30 * count)):
        make = scenes.SCENES[number % len(scenes.SCENES)]
        picture = scenes.softened(make(rng, 700, 800), rng.uniform(0.5, 1.2))
        again = number % 2 == 1
        lightly = number % 5 == 4
        quality = int(rng.integers(80, 97) if lightly else rng.integers(30, 66))
        row = "packed lightly" if lightly else "packed hard, saved again" if again else "packed hard"
        if again:
            picture = scenes.through_jpeg(picture, quality)
        yield Case(
            row, f"{make.__name__} quality {quality}{', saved again' if again else ''}", picture, 300.0,
            None if lightly else "image.compressed", None if lightly else float(quality), 5.0,
            options={} if again else {"format": "JPEG", "quality": quality},
        )  # fmt: skip


def quiet_cases(rng: np.random.Generator, count: float) -> Iterator[Case]:
    """What deserves no question: scenes as they are, soft on purpose, packed as JPEG, sky, and patterns of the world."""
    for number in range(round(12 * count)):
        make = scenes.SCENES[number % len(scenes.SCENES)]
        picture = make(rng, 900, 1000)
        how = ("as it is", "softened", "jpeg", "softened, jpeg")[number % 4]
        if "softened" in how:
            picture = scenes.softened(picture, rng.uniform(0.8, 4.0))
        if "jpeg" in how:
            picture = scenes.through_jpeg(picture, int(rng.integers(75, 96)))
        yield Case("drawn scenes at rest", f"{make.__name__} {how}", picture, 300.0)
    for _ in range(round(2 * count)):
        yield Case("drawn scenes at rest", "sky", scenes.blown_up(scenes.sky(rng, 400, 500), 2.0, "bilinear"), 300.0)
    for number in range(round(12 * count)):
        make = scenes.PATTERNS[number % len(scenes.PATTERNS)]
        yield Case("weaves, fences, roofs, grids", make.__name__, make(rng, 900, 1000), 300.0)


def photograph_cases(photographs: dict[str, np.ndarray]) -> Iterator[Case]:
    """As they are. A photograph whose pixels stand there twice is blown up, whatever it is called."""
    for name, picture in photographs.items():
        even = picture[: picture.shape[0] // 2 * 2, : picture.shape[1] // 2 * 2]
        doubled = bool((even[:, ::2] == even[:, 1::2]).all() and (even[::2] == even[1::2]).all())
        if doubled:
            yield Case("photographs of packages", f"{name}, doubled", picture, 300.0, "image.upsampled", 150.0, 0.2)
        else:
            yield Case("photographs of packages", name, picture, 300.0)


def _as_tone(picture: np.ndarray) -> np.ndarray:
    """Coverage from a gray picture, over the whole range that prints."""
    low, high = np.quantile(picture, (0.01, 0.99))
    return 0.03 + 0.92 * (1.0 - np.clip((picture - low) / (high - low), 0.0, 1.0))


AIMS = {
    "blown up, drawn scenes": "95 %, within 20 %",
    "blown up, photographs": "95 %, within 20 %",
    "printed before, one ink": "95 %, 3 %, 2 degrees",
    "printed before, four inks": "95 %, 3 %, 2 degrees",
    "printed before, one ink, close dots": "as above",
    "printed before, four inks, close dots": "as above",
    "scans askew": "95 %, 0.1 degrees",
    "scans nearly straight": "no ask",
    "packed hard": "quality within 5",
    "packed hard, saved again": "quality within 5",
    "packed lightly": "no ask",
    "drawn scenes at rest": "no ask",
    "weaves, fences, roofs, grids": "no ask",
    "photographs of packages": "no ask",
}


def measure(cases: Iterator[Case], rows: dict[str, Row], folder: Path) -> None:
    """Puts each picture through the tool and enters the answer."""
    job = job_for("sheetfed-coated")
    for number, case in enumerate(cases):
        path = folder / f"{number}.tif"
        image = Image.fromarray(scenes.eight_bits(case.picture))
        if case.bits == 1:
            image = image.point(lambda level: 255 * (level > 128)).convert("1")
        image.save(path, **{"format": "TIFF", "dpi": (case.ppi, case.ppi), **case.options})
        report = report_of(path, job)
        path.unlink()
        row = rows.setdefault(case.row, Row(AIMS[case.row]))
        row.pictures += 1
        for answer in report.unchecked:
            row.wrong.append(f"{case.name}: unchecked, {answer.why}")
        watched = WATCHED | ({"image.compressed"} if "packed" in case.row else set()) | {case.deserves}
        # No picture here holds a code.
        said = [finding for finding in report.findings if finding.id in watched or finding.id.startswith("barcode.")]
        asked = [finding for finding in said if finding.severity != "note"]
        row.notes += len(said) - len(asked)
        hit = next((finding for finding in asked if finding.id == case.deserves), None)
        row.alarms += [f"{case.name}: {finding.id} {finding.measured}" for finding in asked if finding is not hit]
        if case.deserves is None:
            continue
        if hit is None:
            row.missed.append(case.name)
        elif not _fits(case, hit):
            row.wrong.append(f"{case.name}: {hit.measured}, {hit.details.get('screens', '')}")
        else:
            row.found += 1


def _fits(case: Case, finding: object) -> bool:
    measured, details = finding.measured, finding.details  # type: ignore[attr-defined]
    if measured is None or case.measured is None:
        return False
    # Resolutions and rulings in parts of themselves, degrees and qualities as they are.
    off = abs(measured - case.measured) / (case.measured if case.deserves in SHARES else 1.0)
    if off > case.within + 1e-9:
        return False
    if not case.angles:
        return True
    turn = [abs(details["angle_deg"] - angle) % 90.0 for angle in case.angles]
    return min(min(off, 90.0 - off) for off in turn) <= 2.0


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--seed", type=int, help="to see one run again")
    parser.add_argument("--count", type=float, default=1.0, help="times as many pictures")
    parser.add_argument("--verbose", action="store_true", help="names what was missed or said wrongly")
    wanted = parser.parse_args()
    seed = secrets.randbelow(10**6) if wanted.seed is None else wanted.seed
    rng = np.random.default_rng(seed)
    photographs = scenes.photographs()
    print(f"seed {seed}; photographs: {', '.join(photographs) or 'none, no package that ships them is installed'}")
    rows: dict[str, Row] = {}
    started = time.monotonic()
    with tempfile.TemporaryDirectory(prefix="preflight-bench-") as folder:
        for cases in (
            blown_up_cases(rng, wanted.count),
            blown_up_photographs(rng, photographs),
            printed_cases(rng, wanted.count),
            rosette_cases(rng, wanted.count),
            askew_cases(rng, wanted.count),
            packed_cases(rng, wanted.count),
            quiet_cases(rng, wanted.count),
            photograph_cases(photographs),
        ):
            measure(cases, rows, Path(folder))
    print(f"{'':32} {'pictures':>8} {'found':>6} {'missed':>6} {'wrong':>6} {'alarms':>6} {'notes':>6}   aim")
    for name, row in rows.items():
        counts = (row.pictures, row.found, len(row.missed), len(row.wrong), len(row.alarms), row.notes)
        print(f"{name:32} {counts[0]:8} " + " ".join(f"{count:6}" for count in counts[1:]) + f"   {row.aim}")
    print(f"{sum(row.pictures for row in rows.values())} pictures in {time.monotonic() - started:.0f} s")
    if wanted.verbose:
        for name, row in rows.items():
            for word, cases_named in (("missed", row.missed), ("wrong", row.wrong), ("alarm", row.alarms)):
                for case_name in cases_named:
                    print(f"{name}: {word}: {case_name}")


if __name__ == "__main__":
    main()
