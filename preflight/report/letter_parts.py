"""The parts of a letter: said in the customer's language, and not yet set as text, HTML or mail."""

from __future__ import annotations

from dataclasses import dataclass, field

from preflight.report.letter_language import Language
from preflight.report.letter_language import marked as _
from preflight.report.letter_pictures import LetterPicture
from preflight.report.letter_shop import ShopWords


@dataclass(frozen=True)
class Point:
    """One point as it is said: ``1`` is to be changed, ``A`` is decided by ``A1``, ``A2`` ...; good to know has no mark."""

    mark: str
    what: str
    where: str
    in_print: str
    do: str = ""
    choices: tuple[tuple[str, str], ...] = ()
    picture: LetterPicture | None = None
    caption: str = ""
    #: Beside the first: the same place as the customer sees it, or as it would look.
    second: LetterPicture | None = None
    second_caption: str = ""


@dataclass(frozen=True)
class Section:
    """A heading with what stands under it: lines, a list, points, sentences."""

    heading: str
    before: tuple[str, ...] = ()
    listed: tuple[str, ...] = ()
    points: tuple[Point, ...] = ()
    after: tuple[str, ...] = ()


@dataclass(frozen=True)
class Letter:
    """A letter, said but not yet set: ``letter_text``, ``letter_html`` and ``letter_mail`` set it."""

    language: Language
    subject: str
    greeting: str
    facts: tuple[tuple[str, str], ...]
    verdict: str
    thanks: tuple[str, ...]
    sections: tuple[Section, ...]
    close: tuple[str, ...]
    shop: ShopWords
    made_at: str
    pictures: tuple[LetterPicture, ...] = ()
    words: dict[str, str] = field(default_factory=dict)

    def label(self, word: str) -> str:
        """A word before what it names: ``Where:``."""
        return self.language.say(_("{label}:"), label=word)
