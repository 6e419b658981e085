"""Writes reports to disk: whole or not at all, under names made safe, and the same set again on a second run.

One set a file: ``DIR/<safe stem>-<first 8 of sha256>/report.json, report.html, pictures/``. Everything is written under a
temporary name beside its place and then moved, so a full disk or a killed run leaves the former report, never half of one.
"""

from __future__ import annotations

import contextlib
import functools
import hashlib
import os
import re
import shutil
import tempfile
import time
import unicodedata
from dataclasses import replace
from pathlib import Path
from typing import Any

from preflight.findings import Report
from preflight.report.json_report import report_to_json
from preflight.report.words import SECOND_PICTURES

JSON_NAME = "report.json"
HTML_NAME = "report.html"
PICTURES_NAME = "pictures"
_PICTURE_KEYS = ("picture", *SECOND_PICTURES)
#: The marked copy, which is made of a written report and goes with it.
MARKED_NAME = "marked.pdf"
#: File systems take 255 bytes; the hash, temporary marks and a letter's name need some of them.
_MOST_STEM_BYTES = 100
#: Names that some systems keep for devices, whatever follows the first full stop.
_RESERVED = frozenset(
    {"con", "prn", "aux", "nul", "conin$", "conout$"}
    | {f"{port}{digit}" for port in ("com", "lpt") for digit in "0123456789¹²³"}
)
#: A temporary name older than this was left by a run that was killed.
_STALE_S = 3600.0


def write_reports(
    report: Report,
    out_dir: Path,
    pictures: Path | None = None,
    source: Path | None = None,
    *,
    taken: bool = False,
) -> Path:
    """Writes every kind of report about one file below ``out_dir`` and returns the folder.

    ``pictures`` is the folder that the child drew into; ``taken``: it may become the report's own and be gone afterwards, which
    saves making and removing as many names. ``source`` tells files apart that have no hash because they could not be read.
    Other people's files in the report's folder (a letter sent, a note) are left alone.
    """
    from preflight.report.html import html_report

    out_dir.mkdir(parents=True, exist_ok=True)
    target = out_dir / folder_name(report, source)
    part = _scratch_beside(target, "part")
    try:
        kept = _file_pictures(report, pictures, part / PICTURES_NAME, taken=taken)
        filed = with_filed_pictures(report, kept)
        (part / JSON_NAME).write_bytes(report_to_json(filed).encode() + b"\n")
        (part / HTML_NAME).write_text(html_report(filed, part / PICTURES_NAME if kept else None), encoding="utf-8")
        _move_into_place(part, target)
    finally:
        shutil.rmtree(part, ignore_errors=True)
    return target


def write_html(report: Report, path: Path, pictures: Path | None = None) -> Path:
    """Writes the HTML report alone, as one self-contained file."""
    from preflight.report.html import html_report

    write_whole(path, html_report(report, pictures).encode())
    return path


def write_whole(path: Path, data: bytes) -> None:
    """Writes a file under a temporary name beside it and moves it into place."""
    descriptor, name = tempfile.mkstemp(prefix=f".{path.name[:60]}.", suffix=".part", dir=path.parent)
    part = Path(name)
    try:
        with os.fdopen(descriptor, "wb") as file:
            file.write(data)
        part.chmod(0o666 & ~_umask())
        part.replace(path)
    finally:
        part.unlink(missing_ok=True)


def folder_name(report: Report, source: Path | None = None) -> str:
    """The name of a report's folder: what the customer called the file, made safe, and the start of its hash."""
    digest = report.file.sha256
    if digest is None or not re.fullmatch("[0-9a-f]{64}", digest):  # a report read back may say anything
        # Unreadable files of one name from different folders must not share a report.
        name = str(source.absolute() if source else report.file.name)
        digest = hashlib.sha256(name.encode("utf-8", "surrogatepass")).hexdigest()
    return f"{safe_stem(report.file.name)}-{digest[:8]}"


def safe_stem(name: str) -> str:
    """A stranger's file name as a harmless part of a path: letters, digits, ``-_.`` and no more; never empty."""
    last = re.split(r"[/\\]", name)[-1]
    stem = last.rpartition(".")[0] or last
    stem = unicodedata.normalize("NFC", stem.encode("utf-8", "replace").decode("utf-8"))
    stem = "".join(sign if _is_harmless(sign) else "-" for sign in stem)
    stem = re.sub(r"\.{2,}", ".", re.sub(r"-{2,}", "-", stem))
    # Cut by bytes without splitting a letter.
    stem = stem.encode()[:_MOST_STEM_BYTES].decode("utf-8", "ignore").strip("-. ")
    if stem.partition(".")[0].casefold() in _RESERVED:
        stem = f"_{stem}"
    return stem or "artwork"


def _is_harmless(sign: str) -> bool:
    return sign.isalnum() or sign in "-_." or unicodedata.category(sign) in ("Mn", "Mc")  # vowel signs and accents


def with_filed_pictures(report: Report, names: set[str]) -> Report:
    """The report with its pictures named from the report's folder; pictures that are not there are not named."""

    def filed(name: object) -> str | None:
        last = Path(str(name)).name if name else ""
        return f"{PICTURES_NAME}/{last}" if last in names else None

    findings = []
    for finding in report.findings:
        details: dict[str, Any] = {key: value for key, value in finding.details.items() if key not in _PICTURE_KEYS}
        pictures = {key: filed(finding.details.get(key)) for key in _PICTURE_KEYS}
        findings.append(replace(finding, details=details | {key: name for key, name in pictures.items() if name}))
    pages = [
        replace(
            page,
            picture=filed(page.picture),
            plate_pictures=[replace(plate, picture=filed(plate.picture)) for plate in page.plate_pictures]
            if all(plate.picture is None or filed(plate.picture) for plate in page.plate_pictures)
            else [],
        )
        for page in report.pages
    ]
    return replace(report, findings=findings, pages=pages)


def _file_pictures(report: Report, pictures: Path | None, target: Path, *, taken: bool) -> set[str]:
    """Puts the pictures the report names (no others) into ``target`` and returns their names."""
    wanted = _pictures_of(report)
    if pictures is not None and taken and _moved(pictures, target):
        return _kept_of(wanted, target)
    target.mkdir()
    if pictures is None:
        return set()
    copied = set()
    for name in sorted(wanted):
        with contextlib.suppress(FileNotFoundError):
            _take_over(pictures / name, target / name)
            copied.add(name)
    return copied


def _pictures_of(report: Report) -> set[str]:
    named: set[object] = {page.picture for page in report.pages}
    named |= {plate.picture for page in report.pages for plate in page.plate_pictures}
    named |= {finding.details.get(key) for finding in report.findings for key in _PICTURE_KEYS}
    return {Path(str(name)).name for name in named if name}


def _moved(folder: Path, target: Path) -> bool:
    try:
        folder.rename(target)
    except OSError:  # on another file system: its pictures go one by one, then
        return False
    return True


def _kept_of(wanted: set[str], folder: Path) -> set[str]:
    """Makes a folder that a child drew into the report's: what the report does not name goes; returns what is there."""
    folder.chmod(0o777 & ~_umask())
    there = {path.name for path in folder.iterdir()}
    for name in there - wanted:  # of a page that was given up while it was drawn
        (folder / name).unlink()
    return there & wanted


def _take_over(picture: Path, target: Path) -> None:
    """A picture under a second name where the file system has such, which is sooner done than a copy."""
    try:
        os.link(picture, target, follow_symlinks=False)
    except FileNotFoundError:
        raise
    except OSError:
        shutil.copyfile(picture, target)


def _move_into_place(part: Path, target: Path) -> None:
    """Moves a finished folder to its name; where one is there already, its reports are replaced one by one, JSON last."""
    if not target.exists():
        # Another run may be faster with the same file: then its folder is there and is filled like an older one.
        with contextlib.suppress(OSError):
            part.rename(target)
            return
    former = _scratch_beside(target, "old")
    try:
        with contextlib.suppress(FileNotFoundError):
            (target / PICTURES_NAME).rename(former / PICTURES_NAME)
        (target / MARKED_NAME).unlink(missing_ok=True)
        for name in (PICTURES_NAME, HTML_NAME, JSON_NAME):
            (part / name).replace(target / name)
    except OSError:
        if not (target / PICTURES_NAME).exists():
            with contextlib.suppress(OSError):
                (former / PICTURES_NAME).rename(target / PICTURES_NAME)
        raise
    finally:
        shutil.rmtree(former, ignore_errors=True)


def _scratch_beside(target: Path, what: str) -> Path:
    """A new folder under a temporary name beside ``target``; what a killed run left under that name is removed."""
    folder = target.with_name(f".{target.name}.{what}")
    with contextlib.suppress(FileNotFoundError):
        if time.time() - folder.stat().st_mtime > _STALE_S:
            shutil.rmtree(folder, ignore_errors=True)
    try:
        folder.mkdir()
    except FileExistsError:  # another run is at the same file right now
        folder = Path(tempfile.mkdtemp(prefix=f"{folder.name}.", dir=target.parent))
        folder.chmod(0o777 & ~_umask())
    return folder


@functools.cache
def _umask() -> int:
    """The user's mask for new files, which temporary files do not follow by themselves.

    Asked for once: it can only be read by setting it, which the other threads of a run over a folder would feel.
    """
    mask = os.umask(0o077)
    os.umask(mask)
    return mask
