"""The catalogue of the letter: no kind forgotten, no text missing in a language, no placeholder lost on the way."""

from __future__ import annotations

import re
import string
from gettext import NullTranslations
from pathlib import Path

import pytest
from babel.messages.catalog import Catalog
from babel.messages.extract import extract_from_file
from babel.messages.pofile import read_po

from preflight.checking import all_checks
from preflight.report import letter_language
from preflight.report.letter_language import DOMAIN, LOCALES, Language, language_of, languages
from preflight.report.letter_texts import CASES, DAMAGE, NEW_FILE, PLACEHOLDERS, SUBJECTS, TEXTS, TOLD_BY, wording_of

ROOM = Path(letter_language.__file__).parent
KINDS = sorted(f"{name}.{kind}" for name, check in all_checks().items() for kind in check.kinds)
TRANSLATED = ("de", "fr", "es")
Text = str | tuple[str, ...]
#: The words of every kind, of its milder case, and of those of its cases that have their own.
WORDINGS = {**TEXTS, **{"/".join(case): wording for case, wording in CASES.items()}}


def placeholders(text: str) -> set[str]:
    return {name for _, name, _, _ in string.Formatter().parse(text) if name is not None}


def texts_in_code() -> list[Text]:
    """Every text that is marked or counted in the letter's modules, found as the catalogue tool finds them."""
    keywords = {"_": None, "count": (1, 2)}
    found: dict[Text, None] = {}
    for path in sorted([*ROOM.glob("letter*.py"), *ROOM.glob("letter_texts/*.py")]):
        for _, message, _, _ in extract_from_file("python", str(path), keywords=keywords):  # type: ignore[arg-type]
            found.setdefault(message)
    return list(found)


def catalogue(language: str) -> Catalog:
    with (LOCALES / language / "LC_MESSAGES" / f"{DOMAIN}.po").open("rb") as file:
        return read_po(file, locale=language)


def test_every_kind_of_every_check_has_words() -> None:
    assert [kind for kind in KINDS if kind not in TEXTS] == []
    assert [kind for kind in KINDS if kind not in DAMAGE] == []
    assert [name for name in all_checks() if name not in SUBJECTS] == []
    for name, check in all_checks().items():
        assert all(wording_of(f"{name}.{kind}", mild=True) for kind in check.mild_kinds)


def test_the_order_of_damage_names_each_kind_once() -> None:
    assert len(DAMAGE) == len(set(DAMAGE))
    assert {kind.removesuffix("-mild") for kind in TEXTS} == set(DAMAGE)
    assert {kind for kind, _ in CASES} <= set(DAMAGE)
    assert {*TOLD_BY, *(cause for causes in TOLD_BY.values() for cause in causes)} <= set(DAMAGE)


@pytest.mark.parametrize("kind", sorted(WORDINGS))
def test_a_text_says_something_even_without_figures(kind: str) -> None:
    wording = WORDINGS[kind]

    assert placeholders(wording.what[0]) == set()
    assert placeholders(wording.do[0]) == set()
    assert all(placeholders(text) == set() for text in (wording.in_print, *wording.choices))
    assert all(placeholders(text) <= PLACEHOLDERS for text in wording.texts())
    assert all(text[0].isupper() or text[0] == "{" for text in wording.texts())
    assert all(text.endswith((".", "!")) for text in wording.texts())
    assert len(wording.choices) == len(set(wording.choices)) >= 1
    assert NEW_FILE not in wording.choices[1:]


def test_the_catalogue_tool_finds_every_text() -> None:
    found = set(texts_in_code())

    assert len(found) > 400
    assert {text for wording in WORDINGS.values() for text in wording.texts()} <= found
    assert {"Good to know", "left edge", ("page {pages}", "pages {pages}")} <= found


def test_the_languages_are_those_that_are_shipped() -> None:
    assert set(languages()) == {"en", *TRANSLATED}


@pytest.mark.parametrize("language", TRANSLATED)
def test_no_text_is_missing(language: str) -> None:
    whole = catalogue(language)
    wanted = texts_in_code()

    for text in wanted:
        message = whole.get(text if isinstance(text, str) else text[0])
        assert message is not None, text
        assert not message.fuzzy, text
        forms = (message.string,) if isinstance(message.string, str) else message.string
        assert len(forms) == (1 if isinstance(text, str) else whole.num_plurals), text
        for form in forms:
            assert form.strip(), text
            english = [placeholders(each) for each in ((text,) if isinstance(text, str) else text)]
            assert all(placeholders(form) == names for names in english), (text, form)
    assert {message.id for message in whole if message.id} == set(wanted)
    assert not whole.obsolete


@pytest.mark.parametrize("language", TRANSLATED)
def test_a_translation_is_a_whole_sentence_in_its_own_words(language: str) -> None:
    whole = catalogue(language)
    for kind, wording in WORDINGS.items():
        for text in wording.texts():
            said = str(whole[text].string)
            assert said.endswith("."), (kind, said)
            assert said != text or text == "Name: {names}.", (kind, said)
            # A figure in a sentence is the same figure, written as the language writes it.
            figures = [figure.replace(".", ",") for figure in re.findall(r"\d+(?:\.\d+)?", text)]
            assert sorted(re.findall(r"\d+(?:,\d+)?", said)) == sorted(figures), (kind, said)


def test_the_polite_form_is_kept() -> None:
    said = {name: " ".join(str(message.string) for message in catalogue(name) if message.id) for name in TRANSLATED}

    assert not re.search(r"\b(du|dein\w*|dir|dich)\b", said["de"], re.IGNORECASE)
    assert not re.search(r"\b(tu|ton|tes|toi)\b", said["fr"], re.IGNORECASE)
    assert not re.search(r"\b(tú|tus?|contigo|vosotros)\b", said["es"], re.IGNORECASE)


class _Other(NullTranslations):
    """A catalogue that knows one text, and has lost a placeholder in another."""

    def gettext(self, message: str) -> str:
        return {"Good to know": "Bon à savoir", "Deadline: {deadline}": "Pour quand : {date}"}.get(message, message)


def test_what_a_catalogue_lacks_is_said_in_english() -> None:
    language = Language("fr", language_of("fr").locale, "mm", _Other())

    assert language.say("Good to know") == "Bon à savoir"
    assert language.say("Where") == "Where"
    assert language.say("Deadline: {deadline}", deadline="noon") == "Deadline: noon"
    assert language.count("{number} page", "{number} pages", 2) == "2 pages"


def test_one_and_several() -> None:
    said = {
        name: [language_of(name).count("{number} page", "{number} pages", n) for n in (0, 1, 2)] for name in languages()
    }

    assert said["en"] == ["0 pages", "1 page", "2 pages"]
    assert said["de"] == ["0 Seiten", "1 Seite", "2 Seiten"]
    assert said["fr"] == ["0 page", "1 page", "2 pages"]
    assert said["es"] == ["0 páginas", "1 página", "2 páginas"]


def test_page_lists() -> None:
    english, german = language_of("en"), language_of("de")

    assert english.pages([3]) == "page 3"
    assert english.pages([9, 3, 4, 5, 7, 8]) == "pages 3–5 and 7–9"
    assert german.pages([1, 2, 9]) == "Seiten 1, 2 und 9"
    # 30 odd pages: the first eleven, and how many more.
    assert english.pages(range(1, 61, 2)).endswith(", 21 and 19 more")


def test_names_are_few_and_clean() -> None:
    english = language_of("en")

    assert english.names(["Moss", "Moss", "Fern\x1b[31m\u202e"]).startswith("Moss and Fern")
    assert "\x1b" not in english.names(["\x1b"])
    assert english.names([f"Ink {turn}" for turn in range(9)]) == "Ink 0, Ink 1, Ink 2 and 6 more"
    assert english.names(list("abcd")) == "a, b, c and d"
