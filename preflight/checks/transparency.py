"""Live transparency where it is forbidden, and pages whose transparency is mixed in the wrong colours.

What it looks at
    Whether anything that shows on a page is transparent (opacity, blend mode, soft mask), what the file claims to be, and the blend
    space of the page's group.
Why it matters on press
    Transparency is mixed before plates are made, in the page's blend space. In RGB every ink under it is converted, black type
    becomes four inks and spots turn into process; where no space is given each program chooses its own. A file that promises to
    have none may meet a machine that ignores it.
How it is measured
    From what is painted and shows, and the page group's colour space. Kind ``live`` is off unless a shop's rules forbid transparency
    by switching it on; a page of a file that claims PDF/X-1a, X-2 or X-3 is its second case (``live-mild``), which is asked whatever
    the shop thinks of transparency. An RGB page group on a page where nothing is transparent is the milder case of
    ``blend-space``. Image files have no blend space.
What to ask the customer for
    A PDF/X-4 with the printing condition as blend space; or flattened, where transparency is forbidden.
Source
    ISO 32000-2, Table 57 and 11.4.7 (page group, Table 145); PDF/X-1a and PDF/X-3 forbid transparency, PDF/X-4 allows it
    (ISO 15930-1, -3, -4, -6 from memory, -7 scope).
"""

from __future__ import annotations

from collections.abc import Iterator

from preflight.checking import Answer, Check, Kind, NoLimits
from preflight.findings import Found, Severity, Stage
from preflight.ground import leaves_ink
from preflight.inventory.model import DocumentFacts, Page, Painted
from preflight.ticket import Job
from preflight.units import Box

FORBIDDING_CLAIMS = ("PDF/X-1", "PDF/X-2", "PDF/X-3")
_RGB = ("rgb", "icc-rgb", "cal-rgb")


def check_page(page: Page, document: DocumentFacts, job: Job, limits: NoLimits) -> Iterator[Answer]:
    """Judges a page that is transparent, or whose group is RGB for nothing."""
    if document.kind != "pdf":
        return
    is_rgb = page.group_family in _RGB
    if not page.transparency:
        if is_rgb:
            yield _blend_space(
                page, None, mild=True, what="The page group is RGB, though nothing on the page is transparent"
            )
        return
    box = _place(page)
    claim = document.claim.claim or ""
    forbidden = claim.startswith(FORBIDDING_CLAIMS)
    claim = document.claim.info_conformance or claim
    by_the_shop = job.severity_of("transparency", "live") is not Severity.OFF
    if forbidden or by_the_shop:
        # A shop that forbids transparency at all says so louder than the claim.
        yield Found(
            kind="live",
            page=page.number,
            box_mm=box,
            mild=not by_the_shop,
            values={
                "reasons": ", ".join(page.transparency),
                "forbidden_by": f"{claim}, which the file claims to be, does" if forbidden else "the shop's rules do",
            },
            details={"reasons": list(page.transparency), "claim": claim or None},
        )
    if is_rgb:
        yield _blend_space(page, box, mild=False, what="Live transparency is mixed in RGB")
    elif page.group_family is None:
        yield _blend_space(page, box, mild=False, what="The page has live transparency and names no blend space")


def _blend_space(page: Page, box: Box | None, *, mild: bool, what: str) -> Found:
    advice = (
        "Nothing needs to be done; next time please export for print."
        if mild
        else "Please export the PDF again for print (PDF/X-4), with CMYK as the colour space for transparency."
    )
    return Found(
        kind="blend-space",
        page=page.number,
        box_mm=box,
        mild=mild,
        values={"what": what, "advice": advice},
        details={"blend_space": page.group_family, "has_group": page.has_group, "reasons": list(page.transparency)},
    )


def _place(page: Page) -> Box | None:
    """The box around what is transparent, as far as it can be told apart."""
    boxes = [thing.visible_mm for thing in page.painted if thing.visible_mm is not None and _is_live(thing)]
    if not boxes:
        return None
    whole = boxes[0]
    for box in boxes[1:]:
        whole = whole.union(box)
    return whole


def _is_live(thing: Painted) -> bool:
    if thing.kind == "mask":
        return thing.is_visible
    masked = thing.image is not None and (thing.image.mask_bits or 1) > 1
    return leaves_ink(thing) and (thing.alpha < 1.0 or thing.blend not in ("Normal", "Compatible") or masked)


CHECK = Check(
    name="transparency",
    limits=NoLimits,
    needs=frozenset({"paint", "claim"}),
    on_page=check_page,
    mild_kinds=frozenset({"live", "blend-space"}),
    kinds={
        "live": Kind(
            Stage.PLATES,
            "Live transparency ({reasons}) where {forbidden_by} not allow it.",
            "This page uses see-through effects (transparency), which this kind of file or this job does not allow. Please export the "
            "PDF again with transparency flattened, or ask us which PDF setting to use.",
        ),
        "blend-space": Kind(
            Stage.PLATES,
            "{what}.",
            "See-through effects on this page may change its colours in print. {advice}",
        ),
    },
)
