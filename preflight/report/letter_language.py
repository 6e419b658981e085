"""A language of the letter: its catalogue, and figures, lengths, dates and page numbers as its readers write them.

Texts are gettext catalogues in ``locale/<language>/LC_MESSAGES/letter.po``, read as they are; the English text is the key, and what a
catalogue lacks is said in English. Lengths are handed over in millimetres and said in millimetres or inches.
After a change of the English texts (from the top folder)::

    pybabel extract -F preflight/report/locale/babel.cfg --no-location --no-wrap -k _ -k count:1,2 -o letter.pot preflight/report
    pybabel update -D letter -i letter.pot -d preflight/report/locale -N --ignore-obsolete --no-wrap
"""

from __future__ import annotations

import io
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from functools import cache
from gettext import GNUTranslations, NullTranslations
from pathlib import Path
from typing import Any, Literal

from babel import Locale, UnknownLocaleError
from babel.dates import format_date, format_time
from babel.lists import format_list
from babel.messages.mofile import write_mo
from babel.messages.pofile import read_po
from babel.numbers import format_decimal, format_percent

from preflight.errors import UsageFault
from preflight.report.words import plain

LOCALES = Path(__file__).with_name("locale")
DOMAIN = "letter"
#: The language of the texts in the code.
FIRST_LANGUAGE = "en"
MM_PER_INCH = 25.4
#: Between a figure and its unit; text for mail programs puts an ordinary space in its place.
FIXED_SPACE = "\N{NO-BREAK SPACE}"
#: More names or page numbers than this are counted.
MOST_NAMES = 3
MOST_PAGES = 12
#: A figure beyond this is no measurement, and is written as it comes.
_MOST = 1e12

Units = Literal["mm", "inch"]


def marked(text: str) -> str:
    """A text that is translated where it is said, marked for the catalogues (which look for it as ``_``)."""
    return text


_ = marked


@dataclass(frozen=True)
class Language:
    """One language, with the units its reader thinks in."""

    tag: str
    locale: Locale
    units: Units = "mm"
    catalog: NullTranslations = field(default_factory=NullTranslations, compare=False)

    def say(self, text: str, /, **values: Any) -> str:
        """A text in this language, its values filled in; in English where the catalogue has none, or an unusable one."""
        return _filled(self.catalog.gettext(text), text, values)

    def count(self, one: str, many: str, number: int, /, **values: Any) -> str:
        """The text for one or for several; ``{number}`` is the figure."""
        values = {"number": self.number(number), **values}
        return _filled(self.catalog.ngettext(one, many, number), one if number == 1 else many, values)

    # --- figures ---------------------------------------------------------------------------------------------------------

    def number(self, value: float, digits: int = 2) -> str:
        """A figure without trailing zeros, with this language's comma or point."""
        if abs(value) >= _MOST:
            return f"{value:g}"
        pattern = "#,##0." + "#" * digits if digits else "#,##0"
        return format_decimal(round(value, digits) + 0.0, format=pattern, locale=self.locale)

    def length(self, value_mm: float, digits: int | None = None) -> str:
        """A length for a ruler, ``12.5 mm`` or ``0.49 in``; ``digits`` are those of millimetres."""
        return f"{self._side(value_mm, digits)}{FIXED_SPACE}{self._unit()}"

    def size(self, sides_mm: Sequence[float]) -> str:
        """Width and height."""
        across, down = (self._side(side) for side in sides_mm[:2])
        return f"{across}{FIXED_SPACE}×{FIXED_SPACE}{down}{FIXED_SPACE}{self._unit()}"

    def _side(self, value_mm: float, digits: int | None = None) -> str:
        if self.units == "inch":
            return self.number(value_mm / MM_PER_INCH, 2 if digits is None else digits + 1)
        return self.number(value_mm, _digits_of(value_mm) if digits is None else digits)

    def _unit(self) -> str:
        return "in" if self.units == "inch" else "mm"

    def figure(self, value: float, unit: str | None, digits: int | None = None) -> str:
        """A figure of a finding with its unit, as a customer reads it."""
        if unit == "mm":
            return self.length(value, digits)
        if unit == "percent":
            pattern = self.locale.percent_formats[None].pattern
            if digits:
                pattern = pattern.replace("0", "0." + "#" * digits, 1)
            return format_percent(value / 100.0, format=pattern, locale=self.locale)
        if unit in ("deg", "degrees"):
            return f"{self.number(value, 1)}°"
        if unit == "pt":
            return f"{self.number(value, 2 if digits is None else digits)}{FIXED_SPACE}pt"
        return self.number(value, 0 if unit == "pages" or abs(value) >= 100 else 1)

    def pair(self, measured: float, limit: float, unit: str | None) -> tuple[str, str]:
        """Two figures that are held against each other: as many digits as it takes to tell them apart."""
        for digits in (None, 2, 3):
            told = self.figure(measured, unit, digits), self.figure(limit, unit, digits)
            if told[0] != told[1]:
                break
        return told

    def megabytes(self, amount: int) -> str:
        """A file's size."""
        value = amount / 1_000_000
        return self.say(_("{figure} MB"), figure=self.number(max(value, 0.1), 1 if value < 10 else 0))

    def moment(self, made_at: str) -> str:
        """A time by the clock of this place; empty where the text is no time."""
        try:
            when = datetime.fromisoformat(made_at).astimezone()
        except (ValueError, OverflowError, OSError):
            return ""
        day = format_date(when.date(), format="long", locale=self.locale)
        return f"{day}, {format_time(when.time(), format='short', locale=self.locale)} ({plain(when.tzname() or '')})"

    def day(self, date: str) -> str:
        """A day (ISO 8601); the text as it is where it is none."""
        try:
            return format_date(datetime.fromisoformat(date).date(), format="long", locale=self.locale)
        except (ValueError, OverflowError):
            return plain(date, 40)

    # --- lists -----------------------------------------------------------------------------------------------------------

    def listed(self, items: Iterable[str]) -> str:
        """``one, two and three``."""
        return format_list(list(items), locale=self.locale)

    def names(self, names: Iterable[str]) -> str:
        """Strangers' names, the first few, and how many more."""
        clean = list(dict.fromkeys(plain(name, 60) for name in names))
        if len(clean) <= MOST_NAMES + 1:
            return self.listed(clean)
        more = self.count("{number} more", "{number} more", len(clean) - MOST_NAMES)
        return self.listed([*clean[:MOST_NAMES], more])

    def pages(self, numbers: Iterable[int]) -> str:
        """``page 3``, ``pages 3 to 6 and 9``."""
        runs: list[list[int]] = []
        for page in sorted(set(numbers)):
            if runs and page == runs[-1][-1] + 1:
                runs[-1].append(page)
            else:
                runs.append([page])
        parts: list[str] = []
        for run in runs:
            parts += [f"{run[0]}–{run[-1]}"] if len(run) > 2 else [str(page) for page in run]
        if len(parts) > MOST_PAGES:
            rest = sum(len(run) for run in runs) - sum(_pages_in(part) for part in parts[: MOST_PAGES - 1])
            parts = [*parts[: MOST_PAGES - 1], self.count("{number} more", "{number} more", rest)]
        amount = sum(len(run) for run in runs)
        return self.count("page {pages}", "pages {pages}", amount, pages=self.listed(parts))


def _digits_of(value_mm: float) -> int:
    """Decimals of a length: nobody measures tenths of a tenth on a page, but the bars of a code are thinner than that."""
    return 1 if abs(value_mm) >= 1.0 else 2


def _filled(text: str, english: str, values: dict[str, Any]) -> str:
    try:
        return text.format(**values)
    except (KeyError, IndexError, ValueError):
        return english.format(**values)


def _pages_in(part: str) -> int:
    first, _, last = part.partition("–")
    return int(last) - int(first) + 1 if last else 1


def languages() -> list[str]:
    """The languages there is a letter in."""
    return [FIRST_LANGUAGE, *sorted(path.parents[1].name for path in LOCALES.glob(f"*/LC_MESSAGES/{DOMAIN}.po"))]


def language_of(tag: str, units: Units | None = None) -> Language:
    """The language of a tag (``de``, ``de-AT``, ``en_US``); English where there is no letter in a language there is.

    Raises ``UsageFault`` where the tag names none. Without ``units`` a reader in the United States is told inches, everybody else millimetres.
    """
    known = languages()
    try:
        locale = Locale.parse(tag.strip().replace("_", "-"), sep="-")
    except (UnknownLocaleError, ValueError, TypeError):
        locale = None
    if locale is None:
        raise UsageFault(f"--language {plain(tag, 40)}: no such language; expected one of {', '.join(known)}")
    if locale.language not in known:
        locale = Locale(FIRST_LANGUAGE)
    name = str(locale).replace("_", "-")
    units = units or ("inch" if locale.territory == "US" else "mm")
    # The English of the texts is that of Europe: so are its dates and lists, where no territory is named.
    spelled = Locale("en", "GB") if name == FIRST_LANGUAGE else locale
    return Language(name, spelled, units, catalog_of(locale.language))


@cache
def catalog_of(language: str) -> NullTranslations:
    """The catalogue of a language; an empty one, which says everything in English, where there is none."""
    path = LOCALES / language / "LC_MESSAGES" / f"{DOMAIN}.po"
    if not path.is_file():
        return NullTranslations()
    compiled = io.BytesIO()
    with path.open("rb") as file:
        write_mo(compiled, read_po(file, locale=language, domain=DOMAIN))
    compiled.seek(0)
    return GNUTranslations(compiled)
