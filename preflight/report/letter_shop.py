"""What the shop says of itself in a letter: the ``[shop]`` table of its rules, as the report carries it.

A report is a file that anybody may have written: texts are cleaned, an address that is none is left out.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass

from preflight.report.words import plain

#: Longer texts are no deadline, fee or address.
_MOST = 600
_ADDRESS = re.compile(r"[A-Za-z0-9!#$%&'*+/=?^_`{|}~.-]{1,64}@[A-Za-z0-9.-]{1,253}", re.ASCII)


@dataclass(frozen=True)
class ShopWords:
    """Name, contact and terms; what the shop does not say is empty."""

    name: str = ""
    contact: str = ""
    phone: str = ""
    email: str = ""
    web: str = ""
    upload: str = ""
    deadline: str = ""
    fees: str = ""
    address: tuple[str, ...] = ()


def shop_words(shop: Mapping[str, object], language: str = "") -> ShopWords:
    """The shop's words as one line each, in a language where the shop has them in it; an address keeps its lines."""
    own = shop.get(language)
    if isinstance(own, Mapping):
        shop = {**shop, **{key: said for key, said in own.items() if isinstance(said, str) and said.strip()}}

    def line(key: str) -> str:
        value = shop.get(key)
        return plain(" ".join(value.split()), _MOST) if isinstance(value, str) else ""

    address = shop.get("address")
    lines = address.splitlines() if isinstance(address, str) else []
    email = line("email")
    return ShopWords(
        name=line("name"),
        contact=line("contact"),
        phone=line("phone"),
        email=email if _ADDRESS.fullmatch(email) and ".." not in email else "",
        web=line("web"),
        upload=line("upload"),
        deadline=line("deadline"),
        fees=line("fees"),
        address=tuple(plain(text.strip(), _MOST) for text in lines[:8] if text.strip()),
    )
