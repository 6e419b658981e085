"""The commands: options in, exit status out. The only place that knows click.

Exit status of ``check`` (worst over all files by verdict): 0 go, 10 ask, 20 stop, 30 unchecked; 2 wrong usage, with one line
on standard error; 130 after Ctrl-C. No engine is imported here: ``preflight --help`` answers at once.
"""

from __future__ import annotations

import signal
import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any, NoReturn

import click

from preflight import __version__
from preflight.errors import Fault, ToolFault, UsageFault

if TYPE_CHECKING:
    from preflight.findings import Report
    from preflight.isolate import Limits
    from preflight.report.quiet import QuietScreen
    from preflight.report.terminal import Screen

# Whether it can be read is told by trying: a file without permission is an answer (unchecked), not wrong usage.
ARTWORK = click.Path(path_type=Path, readable=False)


class _Commands(click.Group):
    """Turns every fault into one line and its exit status: never a traceback for what a user or a file did."""

    def make_context(self, *args: Any, **settings: Any) -> click.Context:
        try:
            return super().make_context(*args, **settings)
        except click.UsageError as fault:
            _refuse(fault)

    def invoke(self, ctx: click.Context) -> Any:
        try:
            return super().invoke(ctx)
        except click.UsageError as fault:
            _refuse(fault)
        except Fault as fault:
            _end(str(fault), fault.exit_status)
        except KeyboardInterrupt:
            _end("stopped", 130)
        except BrokenPipeError:
            sys.stderr.close()
            sys.exit(141)
        except OSError as fault:
            _end(f"{fault.filename or 'the system'}: {fault.strerror or fault}", 30)


def _refuse(fault: click.UsageError) -> NoReturn:
    """Wrong options and arguments in one line; a command without any still shows its help."""
    if isinstance(fault, click.exceptions.NoArgsIsHelpError):
        raise fault
    said = " ".join(fault.format_message().split()).rstrip(".")
    names: list[str] = []
    at = fault.ctx
    while at is not None and at.parent is not None:
        names.insert(0, at.info_name or "")
        at = at.parent
    if names:
        said = f"{' '.join(names)}: {said}"
    _end(f"{said}; see: {' '.join(['preflight', *names, '--help'])}", 2)


def _end(line: str, status: int) -> NoReturn:
    from preflight.report.words import plain

    click.echo(f"preflight: {plain(line)}", err=True)
    sys.exit(status)


@click.group(cls=_Commands, context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100})
@click.version_option(__version__, prog_name="preflight")
def main() -> None:
    """Checks customers' artwork before offset plates are made.

    Opens what a customer sent (PDF, TIFF, JPEG, PNG), measures it the way the plates will show it, holds it against the
    shop's rules and the job as ordered, and says whether it can go straight to plates, what to ask, or what to send back.

    Exit status of check and batch: 0 go, 10 ask, 20 stop, 30 unchecked, 2 wrong usage.
    """


RULES = click.option(
    "--rules", metavar="NAME or PATH", help="Shop rules: a shipped name or a TOML file. [sheetfed-coated]"
)
TICKET = click.option("--ticket", type=ARTWORK, metavar="PATH", help="The job as ordered: a TOML file.")


def _limit_options(command: Any) -> Any:
    command = click.option(
        "--time-limit",
        type=click.FloatRange(min=0.0, min_open=True),
        default=600.0,
        show_default=True,
        metavar="SECONDS",
        help="Most time one file may take; the rest is reported as unchecked.",
    )(command)
    return click.option(
        "--memory-limit",
        type=click.IntRange(min=1),
        default=2048,
        show_default=True,
        metavar="MB",
        help="Most memory one process may take for a file.",
    )(command)


@main.command()
@click.argument("art", nargs=-1, required=True, type=ARTWORK)
@RULES
@TICKET
@click.option("--json", "json_path", metavar="PATH or -", help="Write the report as JSON (several files: an array).")
@click.option(
    "--html", "html_path", type=ARTWORK, metavar="PATH", help="Write one self-contained HTML page (one file only)."
)
@click.option("--out", type=ARTWORK, metavar="DIR", help="Write every kind of report, one set per file.")
@click.option("--quiet", is_flag=True, help="One line a file.")
@_limit_options
@click.option(
    "--jobs", type=click.IntRange(min=1), metavar="N", help="Processes that may share a file's pages. [cores granted]"
)
def check(
    art: tuple[Path, ...],
    rules: str | None,
    ticket: Path | None,
    json_path: str | None,
    html_path: Path | None,
    out: Path | None,
    quiet: bool,
    time_limit: float,
    memory_limit: int,
    jobs: int | None,
) -> None:
    """Check artwork files and say whether they can go straight to plates."""
    _refuse_bad_targets(art, json_path, html_path, out)
    from preflight.fork_server import warm_up

    warm_up(pictures=html_path is not None or out is not None)
    from preflight import isolate
    from preflight.findings import worst_verdict
    from preflight.rules import settle

    job = settle(rules, ticket)
    limits = isolate.Limits(time_limit, memory_limit, jobs or isolate.granted_cores())
    screen = _screen(quiet=quiet, to_stderr=json_path == "-")
    reports: list[Report] = []
    for source in art:
        report = _check_one(source, job, limits, screen, html_path, out)
        reports.append(report)
    if json_path is not None:
        _write_json(reports, json_path)
    verdict = worst_verdict([report.verdict for report in reports])
    sys.exit(verdict.exit_status)


def _screen(*, quiet: bool, to_stderr: bool) -> Screen | QuietScreen:
    if quiet:
        from preflight.report.quiet import QuietScreen

        return QuietScreen(to_stderr=to_stderr)
    from preflight.report.terminal import Screen

    return Screen(to_stderr=to_stderr)


def _check_one(
    source: Path, job: Any, limits: Limits, screen: Screen | QuietScreen, html_path: Path | None, out: Path | None
) -> Report:
    """Checks one file, prints its verdict, and writes the HTML page and the set of reports where asked for."""
    from preflight.isolate import check_file

    with _scratch(wanted=html_path is not None or out is not None) as pictures:
        with screen.progress(source.name) as progress:
            report = check_file(source, job, limits=limits, pictures=pictures, progress=progress)
        written: list[Path] = []
        if html_path is not None:
            from preflight.report.files import write_html

            written.append(write_html(report, html_path, pictures))
        if out is not None:
            from preflight.marking import mark_in_child
            from preflight.report.files import MARKED_NAME, write_reports

            folder = write_reports(report, out, pictures, source)
            mark_in_child(source, report, folder / MARKED_NAME, limits, job)
            written.append(folder)
        screen.show(report, written)
    return report


@contextmanager
def _scratch(*, wanted: bool) -> Iterator[Path | None]:
    if not wanted:
        yield None
        return
    from preflight.scratch import scratch

    with scratch() as folder:
        yield folder


def _refuse_bad_targets(art: tuple[Path, ...], json_path: str | None, html_path: Path | None, out: Path | None) -> None:
    """Everything that is wrong usage is said before anything runs."""
    for source in art:
        if not source.exists() and not source.is_symlink():
            raise UsageFault(f"{source}: no such file")
        if not source.exists():
            raise UsageFault(f"{source}: a link that leads nowhere")
        if source.is_dir():
            raise UsageFault(f"{source}: is a folder; name files, or use: preflight batch {source} --out DIR")
        if not source.is_file():
            raise UsageFault(f"{source}: is not an ordinary file")
    if html_path is not None and len(art) > 1:
        raise UsageFault("--html takes one file; use --out DIR for several")
    targets = [Path(json_path)] if json_path not in (None, "-") else []
    targets += [html_path] if html_path is not None else []
    for target in targets:
        if target.is_dir():
            raise UsageFault(f"{target}: is a folder; a file name was expected")
        if not target.parent.is_dir():
            raise UsageFault(f"{target}: the folder {target.parent} does not exist")
        if any(target.exists() and target.samefile(source) for source in art):
            raise UsageFault(f"{target}: is the artwork itself, which is never written to")
    if out is not None and out.exists() and not out.is_dir():
        raise UsageFault(f"{out}: is a file; --out expects a folder")


def _write_json(reports: list[Report], target: str) -> None:
    from preflight.report.json_report import report_to_json, reports_to_json

    _write_text(report_to_json(reports[0]) if len(reports) == 1 else reports_to_json(reports), target)


def _write_text(text: str, target: str) -> None:
    from preflight.report.files import write_whole

    if target == "-":
        sys.stdout.buffer.write(text.encode() + b"\n")
        sys.stdout.buffer.flush()
    else:
        write_whole(Path(target), text.encode() + b"\n")


@main.group()
def rules() -> None:
    """Show and validate shop rules."""


@rules.command("list")
def rules_list() -> None:
    """The shop rules shipped with this tool."""
    from preflight.rules import list_rules

    for name, title, _ in list_rules():
        click.echo(f"{name:20} {title}")


@rules.command("show")
@click.argument("name", required=False)
@TICKET
def rules_show(name: str | None, ticket: Path | None) -> None:
    """Every effective value of the rules NAME (or PATH), and the file it comes from."""
    from preflight.report.terminal import print_rules
    from preflight.rules import settle

    print_rules(settle(name, ticket))


@rules.command("validate")
@click.argument("path")
def rules_validate(path: str) -> None:
    """Whether a rules file is sound: nothing is said of whether its figures are wise."""
    from preflight.rules import validate

    job = validate(Path(path))
    click.echo(f"{path}: sound; {len(job.values)} values in effect")


@main.command()
@click.argument("check", required=False)
def explain(check: str | None) -> None:
    """What a check looks at, why it matters on press, how it is measured, what to ask for, and the source."""
    from preflight.report.explain import explain_list, explain_text

    click.echo(explain_text(check) if check else explain_list())


@main.command()
@click.argument("art", type=ARTWORK)
@click.option("--out", type=ARTWORK, required=True, metavar="DIR", help="Folder for the pictures and the table.")
@RULES
@TICKET
@_limit_options
def plates(art: Path, out: Path, rules: str | None, ticket: Path | None, time_limit: float, memory_limit: int) -> None:
    """The plates of ART as pictures, the total-ink map, and the tables of coverage and of ink by zone."""
    _refuse_bad_targets((art,), None, None, out)
    from preflight import isolate
    from preflight.report.coverage import coverage_lines, write_coverage, write_zones
    from preflight.rules import settle

    isolate.warm_up()
    job = settle(rules, ticket)
    limits = isolate.Limits(time_limit, memory_limit, isolate.granted_cores())
    from preflight.report.plate_pictures import clear_plates, write_scale

    out.mkdir(parents=True, exist_ok=True)
    clear_plates(out)
    report = isolate.check_file(art, job, limits=limits, plates=out)
    if not report.pages:
        reasons = [item.why for item in report.unchecked] + [finding.message for finding in report.findings]
        raise ToolFault(f"{art}: no plates: {'; '.join(reasons[:1]) or 'it has no pages'}")
    click.echo("\n".join(coverage_lines(report)))
    write_coverage(report, out)
    write_scale(out)
    write_zones(report, out)
    click.echo(f"Pictures and tables: {out}")


@main.command()
@click.option(
    "--out",
    type=ARTWORK,
    default=Path("demo-reports"),
    show_default=True,
    metavar="DIR",
    help="Folder for files and reports.",
)
def demo(out: Path) -> None:
    """Make the demo files, check them, and say where the reports are."""
    from preflight.demo import run_demo

    run_demo(out)


@main.command()
@click.argument("old", type=ARTWORK, metavar="OLD.json")
@click.argument("new", type=ARTWORK, metavar="NEW.json")
@click.option("--json", "json_path", metavar="PATH or -", help="Write the comparison as JSON.")
@click.option("--html", "html_path", type=ARTWORK, metavar="PATH", help="Write it as one self-contained HTML page.")
def compare(old: Path, new: Path, json_path: str | None, html_path: Path | None) -> None:
    """What a new version fixed, what is still there, what is new, and which pages and sizes changed.

    Takes the JSON reports of both versions; pages and findings are known again by what the plates look like.
    """
    for path in (old, new):
        if not path.is_file():
            raise UsageFault(
                f"{path}: {'is a folder' if path.is_dir() else 'no such file'}; a JSON report was expected"
            )
    _refuse_bad_targets((), json_path, html_path, None)
    for target in (Path(str(target)) for target in (json_path, html_path) if target not in (None, "-")):
        if target.exists() and any(path.samefile(target) for path in (old, new)):
            raise UsageFault(f"{target}: is one of the reports to compare, which are only read")
    from preflight.report.changes import comparison_html, print_comparison
    from preflight.report.compare import compare as hold_against
    from preflight.report.compare import comparison_to_json
    from preflight.report.files import write_whole
    from preflight.report.json_report import report_from_json
    from preflight.report.terminal import Screen

    before, now = (report_from_json(path.read_bytes(), str(path)) for path in (old, new))
    comparison = hold_against(before, now)
    if json_path is not None:
        _write_text(comparison_to_json(comparison), json_path)
    if html_path is not None:
        write_whole(html_path, comparison_html(comparison, new.parent / "pictures").encode())
    print_comparison(comparison, Screen(to_stderr=json_path == "-").console)


@main.command()
@click.argument("report", type=ARTWORK, metavar="REPORT.json")
@click.option(
    "--language",
    default="en",
    show_default=True,
    metavar="TAG",
    help="Language of the letter: en, de, fr or es; or de-AT.",
)
@click.option("--units", type=click.Choice(["mm", "inch"]), help="Units of lengths. [mm; inch for en-US]")
@click.option(
    "--earlier", type=ARTWORK, metavar="OLD.json", help="Report of the version before: only what is open is said."
)
@click.option("--out", type=ARTWORK, metavar="DIR", help="Folder for the letter. [beside the report]")
def letter(report: Path, language: str, units: str | None, earlier: Path | None, out: Path | None) -> None:
    """The customer's fix list from a report: as text, as HTML, and as a mail to open, address and send.

    Pictures are taken from beside the report, where check --out put them.
    """
    for path in (report, *([earlier] if earlier is not None else [])):
        if not path.is_file():
            raise UsageFault(
                f"{path}: {'is a folder' if path.is_dir() else 'no such file'}; a JSON report was expected"
            )
    folder = report.parent if out is None else out
    if folder.exists() and not folder.is_dir():
        raise UsageFault(f"{folder}: is a file; --out expects a folder")
    from preflight.report.json_report import report_from_json
    from preflight.report.letter import letter as letter_about
    from preflight.report.letter import write_letter
    from preflight.report.letter_language import language_of

    spoken = language_of(language, units)  # type: ignore[arg-type]
    if spoken.locale.language == "en" and not language.strip().lower().startswith("en"):
        click.echo(f"preflight: --language {language.strip()}: no letter in it yet; it is written in English", err=True)
    now = report_from_json(report.read_bytes(), str(report))
    before = report_from_json(earlier.read_bytes(), str(earlier)) if earlier is not None else None
    said = letter_about(now, spoken, before, pictures=report.parent / "pictures")
    for path in write_letter(said, folder):
        click.echo(path)


@main.command()
@click.argument("folder", type=ARTWORK)
@click.option("--out", type=ARTWORK, required=True, metavar="DIR", help="Folder for reports and the summary.")
@RULES
@click.option("--jobs", type=click.IntRange(min=1), metavar="N", help="Files checked side by side. [cores granted]")
@click.option("--quiet", is_flag=True, help="Only the last line.")
@click.option(
    "--marked", is_flag=True, help="With a copy of each artwork beside its report: a PDF with the findings marked."
)
@click.option("--cluster", metavar="ADDRESS", help="Check on the workers of a dask.distributed scheduler.")
@_limit_options
def batch(
    folder: Path,
    out: Path,
    rules: str | None,
    jobs: int | None,
    quiet: bool,
    marked: bool,
    cluster: str | None,
    time_limit: float,
    memory_limit: int,
) -> None:
    """Check all artwork below FOLDER, with a summary to read in the morning.

    Tickets lie beside the artwork: NAME.ticket.toml, or ticket.toml in the same or a parent folder. A second run does only
    what is new or changed.
    """
    if not folder.is_dir():
        raise UsageFault(f"{folder}: a folder was expected")
    if out.exists() and not out.is_dir():
        raise UsageFault(f"{out}: is a file; --out expects a folder")
    from preflight.fork_server import NOW_AND_THEN, warm_up

    if not cluster:
        warm_up(NOW_AND_THEN)
    from preflight import isolate
    from preflight.batch.cluster import ClusterLanes
    from preflight.batch.lanes import LocalLanes, lanes_for
    from preflight.batch.run import BatchRun
    from preflight.batch.screen import RunScreen
    from preflight.batch.signals import stopping
    from preflight.report.words import plain

    limits = isolate.Limits(time_limit, memory_limit)
    with RunScreen(quiet=quiet) as screen:
        stop = threading.Event()
        lanes = (
            ClusterLanes(cluster, out, limits, stop, marked=marked)
            if cluster
            else LocalLanes(lanes_for(jobs), out, limits, stop, marked=marked)
        )
        run = BatchRun(folder, out, rules, lanes, screen.tell, stop)
        with stopping(stop) as stopped:
            summary = run.go()
    data = summary.as_data()
    piles = ", ".join(f"{count} {pile}" for pile, count in data["piles"].items())
    screen.say(plain(f"{data['done']} of {data['files']} files: {piles}. Summary: {out / 'summary.html'}"))
    for complaint in (*summary.complaints, *filter(None, [summary.not_written])):
        screen.say(plain(f"preflight: {complaint}"), err=True)
    if stopped:
        sys.exit(130)
    sys.exit(summary.verdict.exit_status)


@main.command()
@click.argument("folder", type=ARTWORK)
@click.option("--out", type=ARTWORK, required=True, metavar="DIR", help="Folder for reports and the summary.")
@RULES
@click.option("--jobs", type=click.IntRange(min=1), metavar="N", help="Files checked side by side. [cores granted]")
@click.option("--poll", is_flag=True, help="Look around by itself: for network drives that send no events.")
@click.option("--sort-into", type=ARTWORK, metavar="DIR", help="Move artwork into DIR/go, ask, stop and unchecked.")
@click.option(
    "--still",
    type=click.FloatRange(min=0.1),
    default=2.0,
    show_default=True,
    metavar="SECONDS",
    help="How long a file must not have grown.",
)
@_limit_options
def watch(
    folder: Path,
    out: Path,
    rules: str | None,
    jobs: int | None,
    poll: bool,
    sort_into: Path | None,
    still: float,
    time_limit: float,
    memory_limit: int,
) -> None:
    """Check files as they arrive in FOLDER, until SIGTERM or Ctrl-C."""
    if not folder.is_dir():
        raise UsageFault(f"{folder}: a folder was expected")
    for target in (out, sort_into):
        if target is not None and target.exists() and not target.is_dir():
            raise UsageFault(f"{target}: is a file; a folder was expected")
    from preflight import isolate
    from preflight.batch.lanes import lanes_for
    from preflight.batch.screen import RunScreen, line_of
    from preflight.batch.signals import stopping
    from preflight.batch.watch import Watch
    from preflight.batch.whole import Arrivals

    stop = threading.Event()
    screen = RunScreen()
    limits = isolate.Limits(time_limit, memory_limit)
    run = Watch(
        folder,
        out,
        rules,
        limits,
        lanes_for(jobs),
        lambda result: screen.say(line_of(result)),
        stop,
        poll,
        sort_into,
        Arrivals(still_s=still),
    )
    with stopping(stop) as received:
        run.go()
    sys.exit(130 if signal.SIGINT in received else 0)
