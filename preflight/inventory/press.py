"""Which printing condition the plates are separated for: the artwork's own, the shop's, or the engine's built-in one.

The engine renders into one colour space. In the space of the output intent DeviceCMYK passes exactly (K 100 stays K 100) and
everything else is separated through its profile; in any other space black text would turn into four inks. So a CMYK output intent
is rendered into itself; where the artwork has none, the shop's profile is set as one, in memory only; where there is neither,
the engine's built-in CMYK serves with the same exactness for DeviceCMYK, and ink made from RGB is an estimate.

An output intent for a screen (RGB, gray) says nothing about plates and is set aside in memory, or it would bend the CMYK values
(seen: K 100 became 68/67/66/75). The engine reads the intent once, so this is settled right after opening, before any page runs.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal
from weakref import WeakKeyDictionary

from pymupdf import mupdf

from preflight.errors import ToolFault

ProfileFrom = Literal["file", "shop", "built-in"]

BUILT_IN_NAME = "built-in press profile"


@dataclass(frozen=True)
class PressCondition:
    """The colour space that plates are rendered into, whose it is, and the profile's own description."""

    space: Any
    profile_from: ProfileFrom
    profile_name: str


#: One answer for each open document, which is settled once.
_SETTLED: WeakKeyDictionary[Any, PressCondition] = WeakKeyDictionary()


def press_condition(document: Any, profile: str = "") -> PressCondition:
    """The condition for an open ``mupdf.PdfDocument``; ``profile`` is the path of the shop's own, empty for none.

    Call it once before anything of the document is drawn; later calls give the same answer.
    """
    settled = _SETTLED.get(document)
    if settled is None:
        settled = _settle(document, profile)
        _SETTLED[document] = settled
    return settled


def _settle(document: Any, profile: str) -> PressCondition:
    profile_from: ProfileFrom = "file"
    _lend_the_pages_own(document)
    if not _put_cmyk_first(document):
        profile_from = "shop" if profile else "built-in"
        if profile:
            _set_intent(document, Path(profile))
    space = mupdf.pdf_document_output_intent(document)
    if space.m_internal and mupdf.fz_colorspace_n(space) == 4:
        return PressCondition(space, profile_from, _description(space))
    if space.m_internal:
        raise ToolFault("the output intent was read before it could be set aside; the plates would be wrong")
    if profile_from == "shop":
        raise ToolFault(f"the press profile {profile} cannot be used: not a CMYK output profile")
    if profile_from == "file" and profile:
        # The artwork's profile is damaged: the shop's own comes next.
        mupdf.pdf_dict_dels(_root(document), "OutputIntents")
        return _settle(document, profile)
    return PressCondition(mupdf.fz_device_cmyk(), "built-in", BUILT_IN_NAME)


def _put_cmyk_first(document: Any) -> bool:
    """Moves the first CMYK intent with a profile to the front, where the engine looks; without one, sets intents aside."""
    root = _root(document)
    intents = mupdf.pdf_dict_gets(root, "OutputIntents")
    for index in range(mupdf.pdf_array_len(intents)):
        intent = mupdf.pdf_array_get(intents, index)
        if not _is_cmyk(mupdf.pdf_dict_gets(intent, "DestOutputProfile")):
            continue
        if index:
            mupdf.pdf_array_delete(intents, index)
            mupdf.pdf_array_insert(intents, intent, 0)
        return True
    if intents.m_internal:
        mupdf.pdf_dict_dels(root, "OutputIntents")
    return False


def _lend_the_pages_own(document: Any) -> None:
    """Where all pages bring one and the same CMYK intent themselves, and the file none, that one is set as the file's."""
    root = _root(document)
    if _has_cmyk(mupdf.pdf_dict_gets(root, "OutputIntents")):
        return
    shared: int | None = None
    lent = None
    for number in range(mupdf.pdf_count_pages(document)):
        intents = mupdf.pdf_dict_gets(mupdf.pdf_lookup_page_obj(document, number), "OutputIntents")
        if shared is None and not _has_cmyk(intents):
            return
        profile = mupdf.pdf_to_num(mupdf.pdf_dict_gets(mupdf.pdf_array_get(intents, 0), "DestOutputProfile"))
        if not profile or shared not in (None, profile):
            return
        shared, lent = profile, intents
    if lent is not None:
        mupdf.pdf_dict_puts(root, "OutputIntents", mupdf.pdf_copy_array(lent))


def _has_cmyk(intents: Any) -> bool:
    return any(
        _is_cmyk(mupdf.pdf_dict_gets(mupdf.pdf_array_get(intents, index), "DestOutputProfile"))
        for index in range(mupdf.pdf_array_len(intents))
    )


def _is_cmyk(stream: Any) -> bool:
    """By the profile itself (ICC.1, 7.2.6: data colour space at byte 16); its /N may lie."""
    if not mupdf.pdf_is_stream(stream):
        return False
    try:
        data = mupdf.fz_buffer_extract(mupdf.pdf_load_stream(stream))
    except Exception:
        return False
    return bytes(data[16:20]) == b"CMYK"


def _set_intent(document: Any, profile: Path) -> None:
    try:
        data = profile.read_bytes()
    except OSError as fault:
        raise ToolFault(f"the press profile {profile} cannot be read: {fault.strerror}") from fault
    if data[16:20] != b"CMYK":
        raise ToolFault(f"the press profile {profile} is not a CMYK profile")
    stream = mupdf.pdf_add_stream(document, mupdf.fz_new_buffer_from_copied_data(data), mupdf.PdfObj(), 0)
    mupdf.pdf_dict_puts(stream, "N", mupdf.pdf_new_int(4))
    intent = mupdf.pdf_new_dict(document, 3)
    mupdf.pdf_dict_puts(intent, "Type", mupdf.pdf_new_name("OutputIntent"))
    mupdf.pdf_dict_puts(intent, "S", mupdf.pdf_new_name("GTS_PDFX"))
    mupdf.pdf_dict_puts(intent, "DestOutputProfile", stream)
    intents = mupdf.pdf_new_array(document, 1)
    mupdf.pdf_array_push(intents, intent)
    mupdf.pdf_dict_puts(_root(document), "OutputIntents", intents)


def _root(document: Any) -> Any:
    return mupdf.pdf_dict_gets(mupdf.pdf_trailer(document), "Root")


def _description(space: Any) -> str:
    """The profile's own description: the engine names its space ``ICCBased(CMYK,<description>)``."""
    name = str(mupdf.fz_colorspace_name(space))
    if name.startswith("ICCBased(") and name.endswith(")"):
        name = name.removeprefix("ICCBased(")[:-1].partition(",")[2] or name
    return name
