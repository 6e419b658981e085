"""What must not matter to any check: how a page is turned, where its origin lies, whether it is wrapped in a form.

Pages are drawn at random from faults that are met every day. Ids, severities, measured values and counts stay (boxes and edges
turn with the page); loosening any limit never adds a finding. Measured values hold within 2 % or one pixel of the plates.
"""

from __future__ import annotations

import math
from dataclasses import fields, replace
from typing import Any

import pytest
from artwork import Book, mm, rectangle
from by_hand import shop_rules
from hypothesis import HealthCheck, Phase, assume, given, settings
from hypothesis import strategies as st
from pikepdf import Array, Name
from whole import job_for, report_of

from preflight.findings import Finding
from preflight.ticket import Job

WIDTH, HEIGHT = 90.0, 60.0
#: One pixel of the plates, and the rounding of a report.
PIXEL_MM = 1.0 / 6.0 + 0.001
FEW = settings(
    max_examples=20,
    deadline=None,
    derandomize=True,
    database=None,
    phases=[Phase.explicit, Phase.generate],
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)
#: Turning a page turns what these look at: orientation, the spine, and which way lines of type run.
TURNED_WITH_THE_PAGE = ("trim.turned", "margins.gutter", "binding.", "fold.")


# --- pages at random ---


def ink(draw) -> str:
    return draw(
        st.sampled_from(
            [
                "0 0 0 1 k 0 0 0 1 K",
                "1 0.9 0.9 0.9 k 1 0.9 0.9 0.9 K",
                "0.6 0.4 0 0 k 0.6 0.4 0 0 K",
                "1 0 0 rg 1 0 0 RG",
                "0.5 g 0.5 G",
                "/Spot cs 1 scn /Spot CS 1 SCN",
            ]
        )
    )


@st.composite
def things(draw) -> str:
    """One thing on a page, somewhere between 1 mm outside the trim and its middle, in tenths of a millimetre."""
    x = draw(st.integers(-30, 700)) / 10
    y = draw(st.integers(-30, 450)) / 10
    width = draw(st.integers(20, 300)) / 10
    height = draw(st.integers(20, 200)) / 10
    what = draw(st.sampled_from(["patch", "line", "bar", "picture", "text", "bleed", "marks", "all"]))
    colour = ink(draw)
    if what == "patch":
        return f"{colour} {rectangle(x, y, width, height)} f"
    if what == "line":
        weight = draw(st.sampled_from([0.1, 0.22, 0.4, 1.0]))
        return f"{colour} {weight} w {mm(x)} {mm(y)} m {mm(x + width)} {mm(y)} l S"
    if what == "bar":
        return f"{colour} {rectangle(x, y, width, 0.05)} f"
    if what == "picture":
        return f"q {mm(width)} 0 0 {mm(height)} {mm(x)} {mm(y)} cm /Photo Do Q"
    if what == "text":
        size = draw(st.sampled_from([3.0, 7.0, 14.0]))
        return f"{colour} BT /Type {size} Tf {mm(x)} {mm(y)} Td (Fernhollow Garden) Tj ET"
    if what == "bleed":
        past = draw(st.sampled_from([0.0, 1.0, 3.0]))
        return f"{colour} {rectangle(-past, -past, WIDTH + 2 * past, 20)} f"
    if what == "marks":
        gap = draw(st.sampled_from([1.5, 4.0]))
        lines = [
            f"{mm(edge - out * gap)} {mm(at)} m {mm(edge - out * (gap + 4))} {mm(at)} l S "
            f"{mm(edge)} {mm(at - over * gap)} m {mm(edge)} {mm(at - over * (gap + 4))} l S"
            for edge, out in ((0.0, 1), (WIDTH, -1))
            for at, over in ((0.0, 1), (HEIGHT, -1))
        ]
        return f"0 0 0 1 K 0.3 w {' '.join(lines)}"
    return f"/All cs 1 scn {rectangle(x, y, 5, 2)} f"


CONTENT = st.lists(things(), min_size=1, max_size=5).map("\n".join)


def book_of(content: str, *, rotate: int = 0, origin: tuple[float, float] = (0.0, 0.0), wrapped: bool = False) -> Book:
    book = Book()
    every = Array([Name.Separation, Name.All, Name.DeviceCMYK, book.spot("x", (1.0, 1.0, 1.0, 1.0))[3]])
    resources: dict[str, Any] = {
        "Spot": book.spot("Fern Green"),
        "All": every,
        "Photo": book.image(40, 30),
        "Type": book.base_font(),
    }
    if wrapped:
        form = book.form(content, resources=resources)
        content, resources = "q /Whole Do Q", {"Whole": book.form("/Inner Do", resources={"Inner": form})}
    page = book.page(content, trim_mm=(WIDTH, HEIGHT), resources=resources)
    if rotate:
        page.obj.Rotate = rotate
    if any(origin):
        for name in ("/MediaBox", "/TrimBox", "/BleedBox"):
            page.obj[name] = Array([float(value) + origin[i % 2] for i, value in enumerate(page.obj[name])])
        stream = page.obj.Contents.read_bytes()
        page.obj.Contents = book.stream(b"1 0 0 1 %.4f %.4f cm\n" % origin + stream)
    return book


def findings_of(book: Book, folder, job: Job) -> list[Finding]:
    report = report_of(book.save(folder / "page.pdf"), job)
    assert not report.unchecked, report.unchecked
    return report.findings


def outline(findings: list[Finding]) -> list[tuple[str, str, int, float]]:
    return sorted((each.id, each.severity.value, each.count, each.measured or 0.0) for each in findings)


def assert_same(before: list[Finding], after: list[Finding]) -> None:
    one, other = outline(before), outline(after)
    assert [each[:3] for each in one] == [each[:3] for each in other]
    for (identifier, _, _, was), (_, _, _, now) in zip(one, other, strict=True):
        slack = max(0.02 * abs(was), PIXEL_MM)
        assert math.isclose(was, now, abs_tol=slack), f"{identifier}: {was} became {now}"


JOB = job_for(trim_mm=(WIDTH, HEIGHT), inks=("Cyan", "Magenta", "Yellow", "Black"))


@FEW
@given(content=CONTENT, rotate=st.sampled_from([90, 180, 270]))
def test_turning_a_page_changes_no_finding(content, rotate, tmp_path) -> None:
    straight = findings_of(book_of(content), tmp_path, JOB)
    turned = findings_of(book_of(content, rotate=rotate), tmp_path, JOB)
    assert_same(
        [each for each in straight if not each.id.startswith(TURNED_WITH_THE_PAGE)],
        [each for each in turned if not each.id.startswith(TURNED_WITH_THE_PAGE)],
    )


@FEW
@given(content=CONTENT, x=st.integers(-2000, 2000), y=st.integers(-2000, 2000))
def test_moving_the_origin_changes_no_finding(content, x, y, tmp_path) -> None:
    assume(x or y)
    here = findings_of(book_of(content), tmp_path, JOB)
    there = findings_of(book_of(content, origin=(x / 7, y / 7)), tmp_path, JOB)
    assert_same(here, there)


@FEW
@given(content=CONTENT)
def test_wrapping_a_page_in_forms_changes_no_finding(content, tmp_path) -> None:
    bare = findings_of(book_of(content), tmp_path, JOB)
    wrapped = findings_of(book_of(content, wrapped=True), tmp_path, JOB)
    assert_same(bare, wrapped)


# --- limits ---


def looser(job: Job) -> list[tuple[str, str, Job]]:
    """One job for each limit of each check, with that limit so loose that it hardly asks anything."""
    jobs = []
    for check, limits in job.limits.items():
        for each in fields(limits):
            value = getattr(limits, each.name)
            if not isinstance(value, int | float) or isinstance(value, bool):
                continue
            if "_below_" in each.name:
                loose = type(value)(value * 0.4)
            elif "_above_" in each.name or each.name.startswith("tolerance"):
                loose = type(value)(value * 3)
            else:
                continue
            changed = dict(job.limits) | {check: replace(limits, **{each.name: loose})}
            jobs.append((check, each.name, replace(job, limits=changed)))
    return jobs


FAULTY = "\n".join(
    [
        f"1 0.9 0.9 0.9 k {rectangle(10, 10, 20, 20)} f",
        f"0 0 0 1 K 0.15 w {mm(40)} {mm(10)} m {mm(70)} {mm(10)} l S",
        f"0.6 0.4 0 0 K 0.3 w {mm(40)} {mm(15)} m {mm(70)} {mm(15)} l S",
        f"q {mm(20)} 0 0 {mm(15)} {mm(60)} {mm(30)} cm /Photo Do Q",
        f"1 0 0 rg {rectangle(-1, 40, 30, 10)} f",
        f"0 0 0 1 k BT /Type 3 Tf {mm(30)} {mm(5)} Td (Fernhollow) Tj ET",
        f"0.02 0 0 0 k {rectangle(32, 35, 10, 10)} f",
    ]
)


@pytest.fixture(scope="module")
def strict_findings(tmp_path_factory) -> list[Finding]:
    return findings_of(book_of(FAULTY), tmp_path_factory.mktemp("strict"), JOB)


@pytest.mark.parametrize(("check", "key"), [(check, key) for check, key, _ in looser(shop_rules())], ids=str)
def test_loosening_a_limit_never_adds_a_finding(check, key, strict_findings, tmp_path) -> None:
    (job,) = (job for one, other, job in looser(JOB) if (one, other) == (check, key))
    loose = findings_of(book_of(FAULTY), tmp_path, job)
    assert len(loose) <= len(strict_findings)
    own = [each for each in strict_findings if each.id.startswith(f"{check}.")]
    assert len([each for each in loose if each.id.startswith(f"{check}.")]) <= len(own)
    others = [each for each in strict_findings if not each.id.startswith(f"{check}.")]
    assert outline(others) == outline([each for each in loose if not each.id.startswith(f"{check}.")])
