"""What a fault costs that is found too late, reckoned from the shop's own figures (``[cost]`` in the rules).

Each fault has a stage it hurts at, and is seen where somebody looks next: one of the file itself on the plates, one of the plates on
the sheets of the make-ready, one of ink and paper when the run is dry, one of cutting and folding in the bindery. By then all before
it has been paid: plates made anew, make-ready a second time, sheets of paper, hours in the bindery. Amounts are in the shop's
currency; what the shop gave no figure for is left out, and without any figure nothing is said. It is one form: what a page's plates
share with the other pages of the sheet is not known here.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from typing import Any

from preflight.findings import Finding, Stage
from preflight.inventory.model import PageSummary

#: Where a fault of a stage is seen if nobody sees it now.
SEEN = {
    Stage.INTAKE: "on the plates",
    Stage.PLATES: "at make-ready",
    Stage.PRESS: "after the run",
    Stage.BINDERY: "in the bindery",
}
#: What has been paid for, in turn; a fault of a stage pays for all up to its own.
PARTS = ("plates", "make-ready", "spoiled sheets", "bindery work")
#: Where a fault's cost stands in its details.
DETAIL = "cost_if_missed"


def with_costs(findings: list[Finding], pages: Iterable[PageSummary], cost: Mapping[str, Any]) -> list[Finding]:
    """The findings with what each would cost if missed, where the shop's rules have figures for it."""
    if all(value is None for key, value in cost.items() if key != "currency"):
        return findings
    plates = {page.number: _plates_of(page) for page in pages}
    most = max(plates.values(), default=0)
    costed = []
    for finding in findings:
        count = plates.get(finding.page, most) if finding.page is not None else most
        said = cost_if_missed(finding.stage, count, cost)
        costed.append(replace(finding, details={**finding.details, DETAIL: said}) if said else finding)
    return costed


def cost_if_missed(stage: Stage, plates: int, cost: Mapping[str, Any]) -> dict[str, Any] | None:
    """Where a fault of a stage would be seen, what that costs in all, and its parts; None where no figure applies."""
    amounts = {
        "plates": _product(float(plates), cost.get("plate")),
        "make-ready": _product(cost.get("make_ready_hours"), cost.get("make_ready_hour")),
        "spoiled sheets": _product(cost.get("spoiled_sheets"), cost.get("spoiled_sheet")),
        "bindery work": _product(cost.get("bindery_hours"), cost.get("bindery_hour")),
    }
    reached = PARTS[: list(Stage).index(stage) + 1]
    parts = {name: round(amounts[name], 2) for name in reached if amounts[name] > 0.0}
    if not parts:
        return None
    return {
        "seen": SEEN[stage],
        "amount": round(sum(parts.values()), 2),
        "currency": cost.get("currency"),
        "plates": plates,
        "parts": parts,
    }


def _product(count: float | None, price: float | None) -> float:
    return count * price if count is not None and price is not None else 0.0


def _plates_of(page: PageSummary) -> int:
    """The plates that a page's form needs: every ink that marks it."""
    return len([plate for plate in page.plates if plate.kind != "finishing" and plate.marked_mm2 > 0.0])
