"""What a customer reads of every check: plain words, no blame, and what to do.

The words that are not allowed are those of prepress and of file formats; a customer knows colours, fonts, pictures and pages.
"""

from __future__ import annotations

import re
from string import Formatter

import pytest
from artwork import Book, rectangle
from whole import report_of

from preflight.checking import all_checks

KINDS = [(f"{name}.{kind}", texts) for name, check in all_checks().items() for kind, texts in check.kinds.items()]
#: Terms of prepress and of the file's inside.
JARGON = (
    "devicen", "device colour", "devicergb", "devicecmyk", "icc", "opm", "overprint mode", "object number", "xobject", "extgstate", "separation",
    "output intent", "trimbox", "trim box", "mediabox", "bleedbox", "user unit", "colour space", "color space", "printing condition", "ppi", "tac",
    "knock", "misregister", "trapping", "we trap", "x-dimension", "module", "symbology", "blend space", "soft mask", "type 3", "embedded", "subset",
    "metadata", "clause", "iso ", "halftone", "moire", "rasteri", "caliper", "imposition", "lpi", "null", "dictionary",
)  # fmt: skip
#: Words that blame, and words of doubt about the reader.
BLAME = (
    "you forgot",
    "you failed",
    "your fault",
    "your mistake",
    "wrongly",
    "incorrect",
    "you should have",
    "must not",
    "illegal",
    "bad file",
)
CODE = re.compile(r"\b[A-Z]{2,}[-_]?\d{2,}\b|\b[a-z]+\.[a-z-]+\b(?<!e\.g)|[{}<>\[\]]|0x")


def plain(template: str) -> str:
    """A text with its values taken out."""
    return "".join(words for words, *_ in Formatter().parse(template))


@pytest.mark.parametrize(("name", "texts"), KINDS, ids=[name for name, _ in KINDS])
def test_a_customer_understands_it(name, texts):
    words = plain(texts.remedy)
    told = [term for term in (*JARGON, *BLAME) if re.search(rf"\b{re.escape(term.strip())}", words.lower())]
    assert not told
    assert not CODE.search(words), CODE.search(words)


@pytest.mark.parametrize(("name", "texts"), KINDS, ids=[name for name, _ in KINDS])
def test_it_says_what_to_do(name, texts):
    words = texts.remedy
    assert "lease" in words or "othing needs to be done" in words or "{advice}" in words or "can be printed" in words, (
        words
    )
    assert words[0].isupper()
    assert words[-1] in ".}"
    assert "  " not in words
    assert len(words) < 420


@pytest.mark.parametrize(("name", "texts"), KINDS, ids=[name for name, _ in KINDS])
def test_prepress_reads_figures_and_names(name, texts):
    """The text for prepress holds something measured or named, unless there is nothing more to say of it."""
    assert "{" in texts.message or name in ("file.locked", "colour.registration")


def test_parts_of_the_artwork_are_called_as_a_customer_calls_them(tmp_path):
    """Values go into a text too: what prepress calls vectors are drawings to others."""
    book = Book()
    book.page(f"1 0 0 rg {rectangle(20, 20, 40, 40)} f")
    [rgb] = [finding for finding in report_of(book.save(tmp_path / "a.pdf")).findings if finding.id == "colour.rgb"]

    assert "RGB in vectors" in rgb.message
    assert rgb.remedy.startswith("Some drawings or texts are in RGB")
