"""What the letter says of one kind of finding: what it is, what happens in print, what to do, and the choices there are.

Every sentence stands alone: one whose figures a report does not hold is left out. The first sentence of each part needs none.
Placeholders: ``{measured}`` and ``{limit}`` with their unit, ``{names}`` (inks, typefaces, layers, codes), ``{size}``, ``{ordered}``,
``{usual}`` and ``{placed}``, ``{enough}``, ``{most}`` (width and height), ``{wanted}`` (a length), ``{supplied}``, ``{wished}``,
``{multiple}``, ``{blanks}``, ``{above}``, ``{below}`` and ``{panel}`` (whole numbers).
"""

from __future__ import annotations

from dataclasses import dataclass

from preflight.report.letter_language import marked as _

PLACEHOLDERS = frozenset({
    "measured", "limit", "names", "size", "ordered", "usual", "placed", "enough", "most", "wanted",
    "supplied", "wished", "multiple", "blanks", "above", "below", "panel",
})  # fmt: skip

#: What something is called: one name, or several.
NAME = _("Name: {names}.")
NAMES = _("Names: {names}.")
#: The first choice mostly; what to do is said after it.
NEW_FILE = _("You send a new file.")
WE_CHANGE = _("We change it for you for a fee and show you a proof before printing.")
AS_IS = _("We print it as it is; for that we need your written yes.")

CHANGE_OR_PRINT = (NEW_FILE, WE_CHANGE, AS_IS)
SEND_OR_PRINT = (NEW_FILE, AS_IS)


@dataclass(frozen=True)
class Wording:
    """The words for one kind of finding, each a key of the catalogues."""

    what: tuple[str, ...]
    in_print: str
    do: tuple[str, ...]
    choices: tuple[str, ...] = CHANGE_OR_PRINT
    #: Whether a customer is told where the shop only notes it; what nobody need do anything about stays in the shop.
    told_as_note: bool = True

    def texts(self) -> tuple[str, ...]:
        """Every text, for whoever translates or checks them."""
        return (*self.what, self.in_print, *self.do, *self.choices)
