"""Reports on disk: safe names, whole or not at all, the same set again on a second run."""

from __future__ import annotations

import errno
import json
import os
import shutil
import stat
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from report.sample import clean_report, hostile_report, illustrated, report

from preflight.findings import Report
from preflight.report.files import folder_name, safe_stem, write_html, write_reports, write_whole


@pytest.fixture(scope="module")
def pictures(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("pictures")


@pytest.fixture(scope="module")
def whole(pictures: Path) -> Report:
    return illustrated(pictures, pages={3, 7})


def listing(folder: Path) -> list[str]:
    return sorted(str(path.relative_to(folder)) for path in folder.rglob("*") if path.is_file())


def test_one_set_a_file(whole: Report, pictures: Path, tmp_path: Path) -> None:
    folder = write_reports(whole, tmp_path / "out", pictures)

    assert folder == tmp_path / "out" / "spring-guide-ab12cd34"
    names = listing(folder)
    assert {"report.json", "report.html"} <= set(names)
    assert {"pictures/page-0003.jpg", "pictures/page-0007.jpg"} <= set(names)
    assert not [name for name in os.listdir(tmp_path / "out") if name.startswith(".")]


def test_pictures_are_named_from_the_reports_folder_and_all_there(
    whole: Report, pictures: Path, tmp_path: Path
) -> None:
    folder = write_reports(whole, tmp_path, pictures)

    told = json.loads((folder / "report.json").read_text(encoding="utf-8"))
    named = [entry["details"]["picture"] for entry in told["findings"] if "picture" in entry["details"]]
    named += [page["picture"] for page in told["pages"] if page["picture"]]
    assert len(named) == 6  # two pages, and four findings with a place on them
    assert all(name.startswith("pictures/") and (folder / name).is_file() for name in named)
    assert 'src="data:image/jpeg;base64,' in (folder / "report.html").read_text(encoding="utf-8")


def test_a_picture_that_is_not_there_is_not_named(whole: Report, pictures: Path, tmp_path: Path) -> None:
    lost = replace(whole, pages=[replace(page, picture="../../etc/passwd") for page in whole.pages])

    told = json.loads((write_reports(lost, tmp_path, pictures) / "report.json").read_text(encoding="utf-8"))

    assert {page["picture"] for page in told["pages"]} == {None}


def test_only_pictures_of_the_report_are_taken_along(whole: Report, pictures: Path, tmp_path: Path) -> None:
    (pictures / "of-another-file.jpg").write_bytes(b"x")

    assert "pictures/of-another-file.jpg" not in listing(write_reports(whole, tmp_path, pictures))


@pytest.mark.parametrize("movable", [True, False], ids=["moved", "on-another-file-system"])
def test_a_folder_of_pictures_may_become_the_reports_own(
    whole: Report, pictures: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, movable: bool
) -> None:
    expected = write_reports(whole, tmp_path / "copied", pictures)
    drawn = Path(shutil.copytree(pictures, tmp_path / "drawn"))
    drawn.chmod(0o700)  # as a temporary folder is
    (drawn / "of-a-page-given-up.jpg").write_bytes(b"x")
    rename = Path.rename

    def on_another_file_system(path: Path, target: Path) -> Path:
        if path == drawn:
            raise OSError(errno.EXDEV, "Invalid cross-device link")
        return rename(path, target)

    if not movable:
        monkeypatch.setattr(Path, "rename", on_another_file_system)
    folder = write_reports(whole, tmp_path / "moved", drawn, taken=True)

    assert listing(folder) == listing(expected)
    for name in listing(expected):
        assert (folder / name).read_bytes() == (expected / name).read_bytes()
    assert (folder / "pictures").stat().st_mode == (expected / "pictures").stat().st_mode
    assert drawn.exists() is not movable


def test_a_second_run_replaces_the_first_and_leaves_other_peoples_files(
    whole: Report, pictures: Path, tmp_path: Path
) -> None:
    folder = write_reports(whole, tmp_path, pictures)
    (folder / "letter-sent.eml").write_text("kept")
    first = {name: (folder / name).read_bytes() for name in listing(folder)}

    assert write_reports(whole, tmp_path, pictures) == folder
    assert {name: (folder / name).read_bytes() for name in listing(folder)} == first

    write_reports(replace(clean_report(), file=whole.file), tmp_path, pictures)
    assert listing(folder) == ["letter-sent.eml", "report.html", "report.json"]
    assert json.loads((folder / "report.json").read_text(encoding="utf-8"))["verdict"] == "go"
    assert os.listdir(tmp_path) == [folder.name]


def test_a_fault_half_way_leaves_the_former_report(
    whole: Report, pictures: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = write_reports(whole, tmp_path, pictures)
    first = {name: (folder / name).read_bytes() for name in listing(folder)}

    def fails(*_: object) -> str:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("preflight.report.html.html_report", fails)
    with pytest.raises(OSError, match="No space"):
        write_reports(clean_report(), tmp_path, pictures)
    with pytest.raises(OSError, match="No space"):
        write_reports(whole, tmp_path, pictures)

    assert {name: (folder / name).read_bytes() for name in listing(folder)} == first
    assert os.listdir(tmp_path) == [folder.name]


def test_what_a_killed_run_left_is_cleared_and_what_another_run_holds_is_not(tmp_path: Path) -> None:
    name = folder_name(report())
    left, held = tmp_path / f".{name}.part", tmp_path / f".{name}.old"
    left.mkdir()
    (left / "report.json").write_text("half")
    os.utime(left, (0, 0))
    held.mkdir()

    write_reports(report(), tmp_path)
    write_reports(report(), tmp_path)

    assert not left.exists()
    assert sorted(os.listdir(tmp_path)) == [held.name, name]


def test_files_can_be_read_by_others_as_the_users_mask_says(whole: Report, pictures: Path, tmp_path: Path) -> None:
    before = os.umask(0o022)
    try:
        folder = write_reports(whole, tmp_path, pictures)
        page = write_html(whole, tmp_path / "one.html", pictures)
    finally:
        os.umask(before)

    assert stat.S_IMODE(folder.stat().st_mode) == 0o755
    assert stat.S_IMODE((folder / "report.json").stat().st_mode) == 0o644
    assert stat.S_IMODE(page.stat().st_mode) == 0o644


def test_without_pictures_the_set_is_whole_all_the_same(tmp_path: Path) -> None:
    assert listing(write_reports(report(), tmp_path)) == ["report.html", "report.json"]


def test_hostile_text_is_written_and_read_back(tmp_path: Path) -> None:
    folder = write_reports(hostile_report(), tmp_path)

    json.loads((folder / "report.json").read_text(encoding="utf-8"))
    assert folder.parent == tmp_path
    (folder / "report.html").read_text(encoding="utf-8")


def test_a_whole_file_or_none(tmp_path: Path) -> None:
    target = tmp_path / "report.json"
    write_whole(target, b"one")
    write_whole(target, b"two")

    assert target.read_bytes() == b"two"
    assert os.listdir(tmp_path) == ["report.json"]


# --- names ---------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("name", "stem"),
    [
        ("spring-guide.pdf", "spring-guide"),
        ("final final (2).PDF", "final-final-2"),
        ("Frühling.pdf", "Frühling"),
        ("Fru\u0308hling.pdf", "Frühling"),
        ("../../etc/passwd", "passwd"),
        ("..\\..\\windows\\system32.pdf", "system32"),
        ("/", "artwork"),
        ("", "artwork"),
        ("...", "artwork"),
        (".htaccess", "htaccess"),
        ("-rf.pdf", "rf"),
        ("con.pdf", "_con"),
        ("NUL.tar.pdf", "_NUL.tar"),
        ("com1", "_com1"),
        ("a\x00b\nc.pdf", "a-b-c"),
        ("half\udcff.pdf", "half"),
        ("\u202egnp.pdf", "gnp"),
        ("<script>.pdf", "script"),
        ("a..b.pdf", "a.b"),
        ("🌿.pdf", "artwork"),
        ("नमूना.pdf", "नमूना"),
    ],
)
def test_a_strangers_name_becomes_a_harmless_one(name: str, stem: str) -> None:
    assert safe_stem(name) == stem


@given(st.text(alphabet=st.characters(), max_size=400))
def test_any_name_makes_one_part_of_a_path(name: str) -> None:
    stem = safe_stem(name)

    assert stem
    assert len(f".{stem}-12345678.part.abcdefgh".encode()) < 200
    assert not set(stem) & set('/\\:*?"<>|\0')
    assert stem == stem.strip(" .-")
    assert stem not in (".", "..")


def test_long_names_are_cut_between_letters() -> None:
    stem = safe_stem("ü" * 300 + ".pdf")

    assert stem == "ü" * 50


def test_files_of_one_name_are_told_apart_by_their_content() -> None:
    one = report()
    other = replace(one, file=replace(one.file, sha256="99" * 32))

    assert folder_name(one) != folder_name(other)


def test_files_that_could_not_be_read_are_told_apart_by_their_place(tmp_path: Path) -> None:
    unread = replace(report(), file=replace(report().file, sha256=None))

    names = {folder_name(unread, tmp_path / part / "spring-guide.pdf") for part in ("a", "b")}
    assert len(names) == 2
    assert all(name.startswith("spring-guide-") for name in names)


@pytest.mark.parametrize("digest", ["4/e3ab27f0", "../../../x", "", "\0" * 64, "AB" * 32])
def test_hash_that_a_report_read_back_claims_leads_nowhere(tmp_path, digest):
    whole = replace(report(), file=replace(report().file, sha256=digest))
    assert write_reports(whole, tmp_path / "out").parent == tmp_path / "out"
    assert [path.name for path in tmp_path.iterdir()] == ["out"]
