"""`pointmodel compare`: nights side by side, what changed, what is the mount's own."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click

from pointmodel.base.errors import InputError, Problem
from pointmodel.commands.common import (
    json_option,
    mount_option,
    print_document,
    print_text,
    scheme_option,
    use_color,
    width_columns,
)

if TYPE_CHECKING:
    from pointmodel.comparing.compare import CompareResult
    from pointmodel.showing.pages import Scheme

REPORT = "reports/compare.html"
SAID = {"report": "The page of these nights", "profile_file": "The profile, kept"}


@click.command("compare", short_help="Nights side by side: what changed, what is the mount's own.")
@click.argument("logs", metavar="LOG...", nargs=-1, required=True)
@mount_option
@json_option
@scheme_option
@click.option("--report", metavar="FILE", help=f"Where to write the page; left out: {REPORT}.")
@click.option("--no-report", is_flag=True, help="Write no page.")
@click.option(
    "--profile-out", metavar="FILE", help="Keep what one more night will look like, for --prior."
)
def compare_command(
    logs: tuple[str, ...],
    mount: str | None,
    as_json: bool,
    scheme: Scheme | None,
    report: str | None,
    no_report: bool,
    profile_out: str | None,
) -> None:
    """Compare nights of one mount: which terms are its own, which are new each night, what changed.

    A LOG is a file, a folder (every log in it and below) or a pattern in quotes. A log that cannot
    be used is told and left out. Page and profile replace only files of this program's own making.

    \b
    Example:
      pointmodel compare season/ --profile-out mount-profile.json
    """
    from pointmodel.comparing.text import compare_text

    if report is not None and no_report:
        raise click.UsageError("--report and --no-report contradict each other: one of the two.")
    result = _compared(logs, mount)
    if not as_json:
        print_text(compare_text(result, width=width_columns(), color=use_color()))
    path = None if no_report else _report_path(result, report)
    written = _write(result, path, profile_out, scheme)
    if as_json:
        print_document({**result.to_dict(), **written})
    elif written:
        print_text("\n" + "\n".join(f"{SAID[kind]}: {path}" for kind, path in written.items()))


def _compared(logs: tuple[str, ...], mount: str | None) -> CompareResult:
    """Compare on all cores, with a bar on standard error where that is a terminal."""
    from pointmodel.comparing.compare import compare
    from pointmodel.comparing.season import cores, sources_of

    sources = list(sources_of(logs))
    hidden = not sys.stderr.isatty()
    with click.progressbar(
        length=len(sources), label="Fitting nights", file=sys.stderr, hidden=hidden
    ) as bar:
        try:
            return compare(sources, mount, workers=cores(), progress=lambda: bar.update(1))
        except KeyboardInterrupt:
            told = f"\nstopped after {bar.pos} of {len(sources)} nights; nothing was written"
            click.echo(told, err=True)
            raise click.Abort from None


def _report_path(result: CompareResult, told: str | None) -> Path:
    """Where the page goes: as told, else where no page of other nights stands."""
    if told is not None:
        return Path(told)
    from pointmodel.comparing.page import about
    from pointmodel.showing.pages import free_path

    return free_path(Path(REPORT), about(result))


def _write(
    result: CompareResult, report: Path | None, profile: str | None, scheme: Scheme | None
) -> dict[str, str]:
    """Write what was asked for and return the paths; one that fails does not stop the other."""
    from pointmodel.comparing.keep import write_profile

    written: dict[str, str] = {}
    problems: list[Problem] = []
    if report is not None:
        try:
            written["report"] = str(result.report(report, scheme or "auto"))
        except InputError as error:
            problems.extend(error.problems)
    if profile is not None:
        try:
            written["profile_file"] = str(write_profile(result.profile, Path(profile)))
        except InputError as error:
            problems.extend(error.problems)
    if problems:
        raise InputError(problems)
    return written
