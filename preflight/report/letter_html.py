"""The letter as HTML that mail programs show: inline styles, one column, no script, nothing fetched from outside.

In the file the pictures are part of the page; in a mail they are its attachments, named by their content id.
"""

from __future__ import annotations

import base64
from collections.abc import Callable

from markupsafe import Markup

from preflight.report.html import environment
from preflight.report.letter_parts import Letter
from preflight.report.letter_pictures import LetterPicture

Source = Callable[[LetterPicture], str]


def letter_html(letter: Letter, source: Source | None = None) -> str:
    """The whole letter as one HTML page; ``source`` gives the address of a picture, a ``data:`` address by itself."""
    addresses = {picture.number: Markup((source or _inside)(picture)) for picture in letter.pictures}  # noqa: S704
    return environment().get_template("letter.html.j2").render(letter=letter, addresses=addresses, words=letter.words)


def _inside(picture: LetterPicture) -> str:
    return f"data:image/{picture.kind};base64,{base64.b64encode(picture.data).decode('ascii')}"
