"""What had to be mended to open a file, in plain words, apart from oddities that do no harm.

The structure reader (qpdf) tells with each warning whose object it is about, so that a wrong stream length is told on the
pages that use the stream. Harmless by ISO 32000-2, Annex I and reading practice: bytes before the header, a missing end
marker alone, odd line ends. A wording that is not known here counts as a repair.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field

from preflight.inventory.objects import clean_text

_OBJECT = re.compile(r"\(?object (\d+)[ ,]\d+")
#: File name and place that a warning starts with: ``name.pdf (object 5 0, offset 625): ``.
_PLACE = re.compile(
    r"^.*?(?:\((?:[^()]*offset[^()]*|object[^()]*|trailer[^()]*|xref[^()]*)\)|, object \d+ \d+ at offset \d+|\.pdf|^/dev/fd/\d+): "
)
_HARMLESS = (
    ("extraneous whitespace seen before xref", "white space before the cross-reference table"),
    ("reported number of objects", "the number of objects is stated wrongly"),
    ("accepting invalid xref table entry", "odd line ends in the cross-reference table"),
    ("stream keyword followed by", "odd line ends at streams"),
    ("stream keyword not followed by", "odd line ends at streams"),
    ("/Type key should be /Page", "page objects without their type"),
    ("Resources is missing", ""),
    # Decoding is checked apart, with more to say.
    ("output may still be valid", ""),
)  # fmt: skip
_WORDS = (
    (r"can't find startxref|xref not found|startxref was more than|file is damaged|reconstruct cross-reference",
     "the cross-reference table was missing or wrong and was rebuilt"),
    (r"unable to find trailer|trailer", "the trailer was missing or wrong"),
    (r"unable to recover stream data", "a stream has no end: the file is cut"),
    (r"expected endstream|recover stream length|recovered stream length|stream length|lacks /Length", "the stated length of a stream is wrong"),
    (r"unexpected EOF|EOF (after|while)|ended prematurely|premature", "the file ends in the middle of an object: it is cut"),
    (r"expected endobj", "an object has no end mark"),
    (r"appears more than once in the pages tree", "a page stands twice in the list of pages"),
    (r"doesn't point to the root of the page tree|page tree|/Pages|/Kids", "the list of pages was wrong"),
    (r"MediaBox is undefined", "a page has no page size (media box)"),
    (r"loop detected", "the cross-reference tables run in a circle"),
    (r"parse error|expected (dictionary|object|name|n n obj|\d+ \d+ obj)|unknown token|treating (as|unexpected)|null", "an object is written wrongly"),
)  # fmt: skip
_NO_MEDIA_BOX = re.compile(r"object (\d+) \d+ .*MediaBox is undefined")


@dataclass
class Repairs:
    """Repairs of the file as a whole, those that belong to one object, and harmless oddities; each once, in order met."""

    of_file: dict[str, None] = field(default_factory=dict)
    of_object: dict[int, dict[str, None]] = field(default_factory=dict)
    oddities: dict[str, None] = field(default_factory=dict)
    #: Page objects that state no size: the structure reader fills in one of its own.
    without_media_box: set[int] = field(default_factory=set)

    def add(self, warning: str) -> None:
        """Sorts one warning of the structure reader in."""
        harmless = next((words for sign, words in _HARMLESS if sign in warning), None)
        if harmless is not None:
            if harmless:
                self.oddities[harmless] = None
            return
        no_size = _NO_MEDIA_BOX.search(warning)
        if no_size:
            self.without_media_box.add(int(no_size[1]))
            return
        message = _PLACE.sub("", warning, count=1)
        words = next((words for wording, words in _WORDS if re.search(wording, message, re.IGNORECASE)), None)
        words = words or clean_text(message)[:120]
        owner = _OBJECT.search(warning)
        if owner and words == "the stated length of a stream is wrong":
            self.of_object.setdefault(int(owner[1]), {})[words] = None
        else:
            self.of_file[words] = None
