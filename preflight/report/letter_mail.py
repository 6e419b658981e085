"""The letter as a mail to open in a mail program: text and HTML of the same letter, pictures inside, ready to address and send.

RFC 5322 and MIME: ``multipart/alternative`` of text and ``multipart/related`` HTML with pictures by content id. The same letter
gives the same bytes.
"""

from __future__ import annotations

import hashlib
from datetime import UTC, datetime
from email.headerregistry import Address
from email.message import EmailMessage
from email.policy import SMTP
from email.utils import format_datetime

from preflight.report.letter_html import letter_html
from preflight.report.letter_parts import Letter
from preflight.report.letter_pictures import LetterPicture
from preflight.report.letter_text import letter_text
from preflight.report.letter_values import without_fixed_spaces
from preflight.report.words import plain

_MOST_SUBJECT = 200


def letter_mail(letter: Letter) -> bytes:
    """The mail as the bytes of an ``.eml`` file."""
    text = letter_text(letter)
    message = EmailMessage(policy=SMTP)
    # One line without control characters: a name in it cannot begin another header.
    message["Subject"] = " ".join(without_fixed_spaces(plain(letter.subject, _MOST_SUBJECT)).split())
    shop = letter.shop
    if shop.email:
        user, _, domain = shop.email.partition("@")
        message["From"] = Address(shop.name, user, domain)
    message["Date"] = _date(letter.made_at)
    # Mail programs open it for writing, not as something received.
    message["X-Unsent"] = "1"
    print_ = hashlib.sha256(text.encode()).hexdigest()[:16]
    message.set_content(text, charset="utf-8", cte="quoted-printable")
    html = letter_html(letter, lambda picture: f"cid:{_id(picture, print_)}")
    message.add_alternative(html, subtype="html", charset="utf-8", cte="quoted-printable")
    page = message.get_payload()[1]  # type: ignore[index]
    assert isinstance(page, EmailMessage)
    for picture in letter.pictures:
        page.add_related(
            picture.data,
            "image",
            picture.kind,
            cid=f"<{_id(picture, print_)}>",
            disposition="inline",
            filename=picture.file_name,
        )
    message["Content-Language"] = letter.language.tag
    message.set_boundary(f"letter-{print_}")
    if letter.pictures:
        page.set_boundary(f"pictures-{print_}")
    return message.as_bytes()


def _id(picture: LetterPicture, print_: str) -> str:
    return f"picture-{picture.number}.{print_}@letter.invalid"


def _date(made_at: str) -> str:
    try:
        when = datetime.fromisoformat(made_at)
        return format_datetime(when if when.tzinfo else when.replace(tzinfo=UTC))
    except (ValueError, OverflowError):
        return format_datetime(datetime.now(UTC))
