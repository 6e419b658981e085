"""The HTML report: one file that needs no network and no script, drawn like the docket that travels with a job.

``html_report`` takes a report and the folder of its pictures. Pictures go in as ``data:`` addresses, worst findings first,
up to 10.5 MB before encoding (15 MB as text); what does not fit stays beside the report and the page says so. Everything a
stranger's file put into a name is escaped, and the page forbids itself any request and any script but its own.
"""

from __future__ import annotations

import base64
import hashlib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from typing import Any

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from markupsafe import Markup

from preflight.findings import Finding, PageReport, Report, Severity, Stage, Verdict
from preflight.report import docket, words
from preflight.report.lines import not_judged_line, unchecked_lines
from preflight.report.same_rules import once_per_rules
from preflight.report.sheet import Cut, Sheet, cut_of, sheet_of
from preflight.units import Box

TEMPLATES = Path(__file__).with_name("templates")
MOST_PICTURE_BYTES = 10_500_000
MOST_BYTES = 15_000_000
#: Up to here every page has its own sheet; above, the pages that have something to say.
MOST_SHEETS = 64
_MAGIC = {b"\xff\xd8\xff": "image/jpeg", b"\x89PNG\r\n\x1a\n": "image/png"}


def html_report(report: Report, pictures: Path | None = None) -> str:
    """The whole report as one HTML page; where its words take much room, pictures make place for them."""
    text = _page(report, pictures, MOST_PICTURE_BYTES)
    over = len(text.encode()) - MOST_BYTES
    return _page(report, pictures, max(0, MOST_PICTURE_BYTES - over)) if over > 0 else text


def _page(report: Report, pictures: Path | None, most_picture_bytes: int) -> str:
    stages = docket.stages_of(report)
    places = [entry for stage in stages for slip in stage.slips for entry in slip.places]
    states = docket.page_states(report)
    embedded = Pictures(pictures, most_picture_bytes)
    embedded.take(_by_need(report, places, states))
    measured = {page.number: page for page in report.pages}
    shown = [page for page in states if len(states) <= MOST_SHEETS or states[page] != "clear"]
    order = report.rules.values.get("press.ink_order", {}).get("value")
    running_order = [str(ink) for ink in order] if isinstance(order, (list, tuple)) else []
    sheets = [
        sheet_of(
            measured[page],
            docket.findings_on(places, measured[page]),
            embedded.address(measured[page].picture),
            embedded.plates(measured[page]),
            running_order,
        )
        for page in shown
        if page in measured
    ]
    return (
        environment()
        .get_template("report.html.j2")
        .render(
            report=report,
            title=_title(report),
            stages=stages,
            first=places[0].number if places else None,
            states=states,
            pages=_strip(states, measured, sheets),
            sheets=sheets,
            embedded=embedded,
            drawings=[sheet for sheet in sheets if sheet.picture],
            tints=sorted({unit.rgb for sheet in sheets if sheet.lifts for unit in sheet.units if unit.rgb}),
            most_units=max((len(sheet.units) for sheet in sheets if sheet.lifts), default=0),
            dearest=docket.dearest(places),
            unchecked=unchecked_lines(report.unchecked),
            not_judged=not_judged_line(report.not_judged) if report.not_judged else "",
            rules=_rules_rows(report.rules.values),
            live=any(finding.waived is None for finding in report.findings),
        )
    )


@dataclass
class Pictures:
    """The pictures that go into the page, by name, as ``data:`` addresses."""

    folder: Path | None
    left: int = MOST_PICTURE_BYTES
    addresses: dict[str, Markup] = field(default_factory=dict)
    sizes: dict[str, tuple[int, int]] = field(default_factory=dict)
    #: Pictures that would have made the page too large.
    outside: int = 0

    def take(self, names: Iterable[object]) -> None:
        """Reads pictures in order of need until the page is as large as it may get."""
        for name in dict.fromkeys(Path(str(name)).name for name in names if name):
            data = self._read(name)
            if data is None:
                continue
            kind = next((kind for magic, kind in _MAGIC.items() if data.startswith(magic)), None)
            if kind is None:
                continue
            if len(data) > self.left:
                self.outside += 1
                continue
            self.left -= len(data)
            self.sizes[name] = _pixels(data)
            # Letters and digits only, so nothing in it needs escaping.
            self.addresses[name] = Markup(f"data:{kind};base64,{base64.b64encode(data).decode('ascii')}")  # noqa: S704

    def _read(self, name: str) -> bytes | None:
        try:
            # The name alone counts: a report never reaches out of the folder of its pictures.
            return (self.folder / name).read_bytes() if self.folder is not None else None
        except (OSError, ValueError):
            return None

    def address(self, name: object) -> Markup | None:
        return self.addresses.get(Path(str(name)).name) if name else None

    def plates(self, page: PageReport) -> dict[str, str]:
        """The addresses of a page's plates by ink."""
        addresses = {plate.ink: self.address(plate.picture) for plate in page.plate_pictures}
        return {ink: address for ink, address in addresses.items() if address}

    def size(self, finding: Finding, key: str = "picture") -> tuple[int, int]:
        """Width and height, so that the page does not jump when a picture arrives; nothing where they cannot be read."""
        return self.sizes.get(Path(str(finding.details.get(key))).name, (0, 0))

    def of(self, finding: Finding, key: str = "picture") -> Markup | None:
        return self.address(finding.details.get(key))

    def cut_of(self, finding: Finding, sheets: list[Sheet]) -> Cut | None:
        """The place of a finding without a picture of its own, cut out of its page's picture."""
        sheet = next((sheet for sheet in sheets if sheet.number == finding.page and sheet.picture), None)
        if sheet is None or sheet.page.picture_mm is None or finding.box_mm is None or self.of(finding):
            return None
        return cut_of(Box(*finding.box_mm), sheet.picture_box)

    def second_of(self, finding: Finding) -> str | None:
        """The key of a second picture to be seen beside the first, where it went in."""
        return next((key for key in words.SECOND_PICTURES if self.of(finding, key)), None)


def _pixels(data: bytes) -> tuple[int, int]:
    """Width and height from the header of a PNG or JPEG."""
    if data.startswith(b"\x89PNG"):
        return int.from_bytes(data[16:20], "big"), int.from_bytes(data[20:24], "big")
    position = 2
    while position + 9 < len(data) and data[position] == 0xFF:
        marker, length = data[position + 1], int.from_bytes(data[position + 2 : position + 4], "big")
        if 0xC0 <= marker <= 0xCF and marker not in (0xC4, 0xC8, 0xCC):  # a frame header (ITU-T T.81, table B.1)
            high, wide = (int.from_bytes(data[position + at : position + at + 2], "big") for at in (5, 7))
            return wide, high
        position += 2 + length
    return 0, 0


def _by_need(report: Report, places: list[docket.Place], states: dict[int, str]) -> list[object]:
    """Names of pictures, the most needed first."""

    def crops(*severities: Severity) -> list[object]:
        found = [entry.finding for entry in places if entry.finding.severity in severities]
        return [finding.details.get(key) for finding in found for key in ("picture", *words.SECOND_PICTURES)]

    def pages(*, clear: bool) -> list[object]:
        return [page.picture for page in report.pages if (states.get(page.number) == "clear") is clear]

    def plates(*, clear: bool) -> list[object]:
        chosen = [page for page in report.pages if (states.get(page.number) == "clear") is clear]
        return [plate.picture for page in chosen for plate in page.plate_pictures]

    order = [
        crops(Severity.STOP),
        pages(clear=False),
        crops(Severity.ASK),
        pages(clear=True),
        crops(Severity.NOTE),
        plates(clear=False),
        plates(clear=True),
    ]
    return [name for names in order for name in names]


@dataclass(frozen=True)
class _Tile:
    """One page in the strip."""

    number: int
    state: str
    sheet: Sheet | None
    #: The shape of its paper where there is no picture: height by width.
    tall: float


def _strip(states: dict[int, str], measured: dict[int, PageReport], sheets: list[Sheet]) -> list[_Tile]:
    by_number = {sheet.number: sheet for sheet in sheets}
    tiles = []
    for number, state in states.items():
        trim = measured[number].trim_mm if number in measured else None
        tall = trim[1] / trim[0] if trim and trim[0] > 0 else 1.414
        tiles.append(_Tile(number, state, by_number.get(number), round(min(3.0, max(0.33, tall)), 3)))
    return tiles


def _rules(values: Mapping[str, Any]) -> list[tuple[str, list[tuple[str, str, str]]]]:
    """The rules held against: tables in order, each with key, value and the file it comes from."""
    tables: dict[str, list[tuple[str, str, str]]] = {}
    for key, held in values.items():
        table, _, rest = key.partition(".")
        tables.setdefault(table, []).append((rest, value_words(held.get("value")), words.plain(held.get("from", ""))))
    return sorted(tables.items())


@once_per_rules
def _rules_rows(values: Mapping[str, Any]) -> Markup:
    """The table of rules: hundreds of rows, and the same for every file of a run."""
    rows = environment().get_template("rules.html.j2").render(rules=_rules(values))
    return Markup(rows)  # noqa: S704 - the template has escaped every cell


def value_words(value: Any) -> str:
    """A rule's value as its file would write it."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, (list, tuple)):
        return words.plain(", ".join(value_words(item) for item in value), 200) or "none"
    return words.plain("none" if value in (None, "") else value, 200)


def _title(report: Report) -> str:
    return f"{report.verdict.value.capitalize()}: {report.file.name}"


@cache
def environment() -> Environment:
    environment = Environment(
        loader=FileSystemLoader(TEMPLATES),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        finalize=lambda value: words.plain(value) if type(value) is str else value,
    )
    script = (TEMPLATES / "docket.js").read_text(encoding="utf-8")
    digest = base64.b64encode(hashlib.sha256(script.encode()).digest()).decode("ascii")
    environment.globals |= {
        "style": Markup((TEMPLATES / "docket.css").read_text(encoding="utf-8")),  # noqa: S704 - our own file
        "script": Markup(script),  # noqa: S704 - our own file
        "script_hash": f"sha256-{digest}",
        "words": words,
        "docket": docket,
        "verdict_words": {verdict.value: said for verdict, said in words.VERDICT_WORDS.items()},
        "stage_means": _STAGE_MEANS,
        "state_words": {"clear": "clear", "stop": "stop", "ask": "ask", "note": "note", "unchecked": "unchecked"},
        "Verdict": Verdict,
    }
    return environment


_STAGE_MEANS = {
    Stage.INTAKE: "can the file be opened and trusted",
    Stage.PLATES: "what would go wrong on the plates",
    Stage.PRESS: "what would go wrong in ink and paper",
    Stage.BINDERY: "what would go wrong at the knife, the fold and the glue",
}
