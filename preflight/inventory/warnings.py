"""What the drawing engine mutters while it draws on in silence, put into plain words and sorted by what it means for plates.

The engine raises nothing for a cut picture or a missing object; it only warns, in one list for the whole process
(MuPDF 1.28; its wordings were collected from files damaged on purpose). ``broken``: something the page uses is missing
or cannot be decoded. ``other``: anything else that had to be mended. Chatter that says nothing about the print (font
hinting, profiles inside pictures that are not used anyway) is dropped. A wording that is not known here counts as ``other``.
"""

from __future__ import annotations

import re
from typing import Literal

from preflight.inventory.objects import clean_text

_Meaning = Literal["broken", "other", "nothing"]

#: Order matters: the first that fits.
_WORDINGS: tuple[tuple[str, _Meaning, str], ...] = (
    # Something used is missing.
    (r"cannot find XObject resource '(.*)'", "broken", "picture or form {0} is missing"),
    (r"cannot find ColorSpace resource '(.*)'", "broken", "colour space {0} is missing"),
    (r"cannot find Pattern resource '(.*)'", "broken", "pattern {0} is missing"),
    (r"cannot find Shading resource '(.*)'", "broken", "blend {0} is missing"),
    (r"cannot find (\w+) resource '(.*)'", "broken", "{0} {1} is missing"),
    (r"no XObject subtype specified", "broken", "a picture or form is missing"),
    (r"ignoring XObject with unknown subtype", "broken", "a picture or form is of no known kind"),
    (r"content stream is not a stream|cannot load content stream part", "broken", "page content is missing"),
    (r"cannot find object in xref|cannot load object|object out of range", "broken", "an object is missing"),
    (r"cannot draw text since font and size not set", "broken", "text is set without a font"),
    # Something used cannot be decoded.
    (r"premature end of file in jpeg|jpeg error|Corrupt JPEG|Invalid JPEG|read error; treating as end of file",
     "broken", "a picture's JPEG data is cut or damaged"),
    (r"padding truncated image|image components are missing data", "broken", "a picture's data ends too early"),
    (r"premature end of data in flate filter", "broken", "compressed data is cut"),
    (r"incorrect data check", "other", "the checksum of compressed data does not fit it"),
    (r"(zlib|inflate).*error|incorrect header check|invalid (block type|distance|stored block|code lengths|literal)",
     "broken", "compressed data is damaged"),
    (r"lzw|runlength|premature end in (a85|ascii)|bad data in (a85|ascii)", "broken", "compressed data is damaged"),
    (r"faxd|fax decode", "broken", "a picture's fax data is damaged"),
    (r"jbig2(?!.*file header ignored)", "broken", "a picture's JBIG2 data is damaged"),
    (r"JPX|JPEG ?2000|jp2|openjpeg", "broken", "a picture's JPEG 2000 data is damaged"),
    (r"cannot (decode|render) (an |this )?image|cannot decode image", "broken", "a picture cannot be decoded"),
    (r"colorspace lookup|recursive colorspace|unknown colorspace|cannot determine colorspace|invalid colorspace",
     "broken", "a colour space cannot be read"),
    (r"(shading|sample|calculator|stitching|recursive|unknown) function|shading colorspace is missing|missing shading",
     "broken", "a blend or tint function cannot be read"),
    (r"(unknown|invalid) (shading|pattern) type|pattern cannot have x or ystep", "broken", "a pattern or blend cannot be read"),
    (r"type3 glyph load failed|cannot render glyph|FT_Load_Glyph|recursive type3|invalid composite glyph", "broken", "a letter cannot be drawn"),
    (r"too many syntax errors", "broken", "the rest of the page content cannot be read"),
    (r"cycle in resources|recursive|nested too deep|too deep", "broken", "an object contains itself"),
    # The fonts' own reader looks at every font program and says more.
    (r"FT_New_Memory_Face|ignored error when loading embedded font|cannot find (substitute|builtin) (CJK )?font", "nothing", ""),
    (r"unknown font format, guessing|CIDFont is missing CIDSystemInfo|missing font descriptor|not allowed to embed font", "nothing", ""),
    (r"non-embedded font using identity encoding", "nothing", ""),
    # Said elsewhere, with more words: foreign print settings; bytes before the header.
    (r"ignoring transfer function|ignoring XObject with subtype PS|garbage bytes before version marker", "nothing", ""),
    # Says nothing about the print.
    (r"ignoring embedded ICC profile in|^lcms:|cmsOpenProfile|FT_Set_|hinting|structure tree|outline|JBIG2 file header ignored", "nothing", ""),
    (r"Ignoring (Page|XObject) blending colorspace", "nothing", ""),
    (r"cannot encache|unsupported annotation|cannot create appearance stream|bogus font|Bad parent link|closepath with no current point", "nothing", ""),
    # Mended.
    (r"ignoring broken ICC|ICC colorspace N=|ICC profile has unexpected", "other", "a colour profile is damaged or does not fit, and was left out"),
    (r"Ignoring invalid (Page|XObject) blending colorspace", "other", "a blending colour space is not usable and was left out"),
    (r"Stream Length incorrect|cannot find endstream", "other", "the stated length of a stream is wrong"),
    (r"repair|startxref|xref|endobj|page tree load failed", "other", "the cross-reference table was missing or wrong and was rebuilt"),
    (r"gstate underflow|stack (underflow|overflow)|unbalanced", "other", "save and restore in the page content do not match"),
    (r"unknown keyword: '(.*)'", "other", "unknown operator {0} in the page content"),
    (r"array not closed|dict not closed|syntax error|encountered syntax errors|unexpected|unterminated|cannot parse",
     "other", "a syntax fault"),
)  # fmt: skip
_COMPILED = tuple((re.compile(wording, re.IGNORECASE), meaning, words) for wording, meaning, words in _WORDINGS)
_PREFIX = re.compile(
    r"^(?:code=\d+: )?(?:(?:generic|system|library|argument|limit|unsupported|format|syntax) error: )?"
)
_REPEATED = re.compile(r"^\.\.\. repeated \d+ times\.\.\.$")
#: A line followed by one of these only says why.
_FOLLOWED_BY = ("ignored error when loading embedded font", "ignoring broken ICC")
_NO_MEMORY = re.compile(r"malloc|calloc|realloc|out of memory|bad_alloc", re.IGNORECASE)
#: Only says that there were such faults: the faults themselves stand in the lines before it.
_SUMMARY = "encountered syntax errors; page may not be correct"
#: A message longer than this is cut: it may quote the file.
_MOST_WORDS = 120


def take_warnings() -> list[str]:
    """What the engine said since the last time, a line each; the list is emptied. Nothing is printed from now on."""
    import pymupdf

    pymupdf.TOOLS.mupdf_display_errors(False)
    pymupdf.TOOLS.mupdf_display_warnings(False)
    text = pymupdf.TOOLS.mupdf_warnings(reset=True) or ""
    return [line for line in text.splitlines() if line and not _REPEATED.match(line)]


def classify_warnings(warnings: list[str]) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """``(broken, other)`` in plain words, each once. Raises ``MemoryError`` where the engine only wanted for memory."""
    found: dict[str, dict[str, None]] = {"broken": {}, "other": {}}
    for index, line in enumerate(warnings):
        if _NO_MEMORY.search(line):
            raise MemoryError(line)
        if index + 1 < len(warnings) and warnings[index + 1].startswith(_FOLLOWED_BY):
            continue
        if line.strip() == _SUMMARY and len(warnings) > 1:
            continue
        meaning, words = _meaning_of(line)
        if meaning != "nothing":
            found[meaning][words] = None
    return tuple(found["broken"]), tuple(found["other"])


def _meaning_of(line: str) -> tuple[_Meaning, str]:
    for wording, meaning, words in _COMPILED:
        seen = wording.search(line)
        if seen:
            parts = (clean_text(part or "") for part in seen.groups())
            return meaning, words.format(*parts)[:_MOST_WORDS]
    return "other", clean_text(_PREFIX.sub("", line))[:_MOST_WORDS]
