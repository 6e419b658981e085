"""What counts as artwork below a folder, in which order it is found, and which ticket belongs to it."""

from __future__ import annotations

import os

import pytest
from night import small_pdf

from preflight.batch.folder import find_artwork, ticket_of


def names_in(folder, *leave_out):
    return [candidate.name for candidate in find_artwork(folder, leave_out)]


def touch(path, data=b"x"):
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(data)
    return path


@pytest.mark.parametrize(
    ("name", "head"),
    [
        ("no ending", b"%PDF-1.7\n"),
        ("late header", b"\x00" * 500 + b"%PDF-1.4\n"),
        ("tiff", b"II*\x00"),
        ("big-endian.tiff.bak", b"MM\x00*"),
        ("photo.jfif", b"\xff\xd8\xff\xe0"),
        ("png.img", b"\x89PNG\r\n\x1a\n"),
        ("layers.bin", b"8BPS\x00\x01"),
        ("drawing.txt", b"%!PS-Adobe-3.0"),
        ("web.dat", b"RIFF\x00\x00\x00\x00WEBP"),
        # Not artwork inside, but it says it is: the customer's fault to hear of.
        ("page.PDF", b"<!DOCTYPE html>"),
        ("empty.tif", b""),
    ],
)
def test_artwork_is_known_by_content_or_claim(tmp_path, name, head):
    touch(tmp_path / name, head)
    assert names_in(tmp_path) == [name]


@pytest.mark.parametrize(
    "name",
    [
        "notes.txt",
        "ticket.toml",
        "a.ticket.toml",
        "sound.wav",
        ".hidden.pdf",
        "a.pdf.part",
        "a.pdf.crdownload",
        "b.TMP",
    ],
)
def test_what_is_no_artwork_is_left_alone(tmp_path, name):
    touch(tmp_path / name, b"RIFF\x00\x00\x00\x00WAVE" if name.endswith("wav") else b"some words")
    assert names_in(tmp_path) == []


def test_special_files_are_not_opened(tmp_path):
    """Opening a pipe that nobody writes to would wait for ever."""
    os.mkfifo(tmp_path / "pipe.pdf")
    (tmp_path / "folder.pdf").mkdir()
    (tmp_path / "dangling.pdf").symlink_to(tmp_path / "nowhere")
    assert names_in(tmp_path) == []


def test_links_in_circles_end(tmp_path):
    small_pdf(tmp_path / "a" / "one.pdf")
    (tmp_path / "a" / "up").symlink_to(tmp_path)
    (tmp_path / "a" / "self").symlink_to("self")
    (tmp_path / "b").symlink_to(tmp_path / "a")
    assert names_in(tmp_path) == ["a/one.pdf"]


def test_nested_deeper_than_a_stack_goes(tmp_path):
    folders = [tmp_path.joinpath(*["d"] * depth) for depth in range(1, 1201)]
    for folder in folders:
        folder.mkdir()
    deep = touch(folders[-1] / "deep.pdf")
    try:
        assert names_in(tmp_path) == ["/".join(["d"] * 1200 + ["deep.pdf"])]
    finally:
        deep.unlink()
        for folder in reversed(folders):
            folder.rmdir()


def test_output_inside_input_is_not_artwork(tmp_path):
    touch(tmp_path / "in" / "night" / "marked.pdf")
    touch(tmp_path / "in" / "job" / "a.pdf")
    assert names_in(tmp_path / "in", tmp_path / "in" / "night") == ["job/a.pdf"]
    assert names_in(tmp_path / "in") == ["job/a.pdf", "night/marked.pdf"]


def test_order_is_that_of_names_as_bytes(tmp_path):
    for name in ("b.pdf", "a/z.pdf", "B.pdf", "ä.pdf", "a.pdf"):
        touch(tmp_path / name)
    assert names_in(tmp_path) == ["B.pdf", "a/z.pdf", "a.pdf", "b.pdf", "ä.pdf"]


def test_closed_folder_is_told_of(tmp_path):
    told = []
    gone = tmp_path / "gone"
    assert list(find_artwork(gone, (), lambda path, why: told.append((path, why)))) == []
    assert told == [(gone, "No such file or directory")]


def test_nearest_ticket(tmp_path):
    """NAME.ticket.toml first, with or without the ending; then ticket.toml, nearest first; none above the folder of the run."""
    art = touch(tmp_path / "run" / "job" / "part" / "cover.pdf")
    touch(tmp_path / "ticket.toml")
    root = tmp_path / "run"
    assert ticket_of(art, root) is None
    for ticket in ("ticket.toml", "job/ticket.toml", "job/part/ticket.toml"):
        touch(root / ticket)
        assert ticket_of(art, root) == root / ticket
    for name in ("cover.ticket.toml", "cover.pdf.ticket.toml"):
        touch(art.parent / name)
        assert ticket_of(art, root) == art.parent / name
    assert ticket_of(touch(root / "other" / "cover.pdf"), root) == root / "ticket.toml"
