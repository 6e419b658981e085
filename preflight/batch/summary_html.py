"""The morning's page: three piles, what was not checked, most frequent faults; one file, no script, no network."""

from __future__ import annotations

from typing import Any
from urllib.parse import quote

from preflight.batch.summary import PILES, pile_of
from preflight.report.files import HTML_NAME
from preflight.report.html import environment


def summary_html(data: dict[str, Any]) -> str:
    """The summary's data as one HTML page; links lead to the reports beside it."""
    piles = []
    for name, (title, means) in PILES.items():
        results = [result for result in data["results"] if pile_of(result["verdict"]) == name]
        order = {"stop": 0, "unchecked": 1, "ask": 2, "go": 3}
        results.sort(key=lambda result: (order.get(result["verdict"], 9), result["name"]))
        piles.append({"name": name, "title": title, "means": means, "results": results})
    page: str = environment().get_template("summary.html.j2").render(data=data, piles=piles, link=_link, found=_found)
    return page


def _link(result: dict[str, Any], name: str = HTML_NAME) -> str | None:
    return quote(f"{result['report']}/{name}") if result["report"] else None


def _found(counts: dict[str, int]) -> str:
    """Only what there is: ``2 stop, 1 note``."""
    kinds = ("stop", "ask", "note", "waived", "unchecked")
    return ", ".join(f"{counts[kind]} {kind}" for kind in kinds if counts.get(kind)) or "nothing"
