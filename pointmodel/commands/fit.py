"""`pointmodel fit`: terms, forecast and causes of a night, and its page."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import click

from pointmodel.base.errors import InputError, Problem
from pointmodel.commands.common import (
    images_option,
    json_option,
    log_argument,
    mount_option,
    print_document,
    print_text,
    scheme_option,
    use_color,
    width_columns,
)
from pointmodel.mount.remedies import TARGETS_AN_EVENING

if TYPE_CHECKING:
    from pointmodel.fitting.result import Fit
    from pointmodel.showing.pages import Scheme

REPORTS = "reports"


@click.command("fit", short_help="Terms, go-to forecast, causes and cures; writes the page.")
@log_argument
@mount_option
@json_option
@click.option(
    "--report", metavar="FILE", help="Where to write the page; left out: reports/<log name>.html."
)
@click.option("--no-report", is_flag=True, help="Write no page.")
@scheme_option
@click.option("--residuals", metavar="FILE", help="Write every line with its residuals as CSV.")
@click.option("--save", metavar="FILE", help="Keep the fit, to be read by pm.load_fit.")
@click.option("--prior", metavar="FILE", help="This mount's profile, as compare writes it.")
@images_option
@click.option("--all", "whole", is_flag=True, help="Print what a usual screen leaves out, too.")
@click.option(
    "--targets",
    type=click.IntRange(1, 1000),
    default=TARGETS_AN_EVENING,
    show_default=True,
    help="How many targets this evening; corrected positions cost time for each.",
)
@click.option("--watch", is_flag=True, help="Fit again whenever LOG grows, until Ctrl-C.")
def fit_command(
    log: str,
    mount: str | None,
    as_json: bool,
    report: str | None,
    no_report: bool,
    scheme: Scheme | None,
    residuals: str | None,
    save: str | None,
    prior: str | None,
    images: str | None,
    whole: bool,
    targets: int,
    watch: bool,
) -> None:
    """Fit a night's log: the mount's terms, how far go-tos miss, what is behind it, what helps.

    LOG is a .csv, .tsv, .xlsx or .ods file, or - for standard input. The page replaces only an
    earlier page of the same log.

    \b
    Example:
      pointmodel fit night.csv --mount mount.toml
    """
    from pointmodel.fitting.fit import fit
    from pointmodel.reading.nightlog import read_log

    if report is not None and no_report:
        raise click.UsageError("--report and --no-report contradict each other: one of the two.")
    if watch:
        if as_json or any(one is not None for one in (report, save, residuals, scheme)):
            raise click.UsageError(
                "--watch writes nothing: leave out --json, --report, --scheme, --residuals and "
                "--save."
            )
        if images is not None:
            raise click.UsageError("--watch reads no images: leave out one of the two.")
        _watch(log, mount, prior)
        return
    found = replace(fit(read_log(log, mount, images=images), None, prior), targets=targets)
    if not as_json:
        from pointmodel.fitting.text import fit_text

        print_text(fit_text(found, width=width_columns(), color=use_color(), whole=whole))
    page = None if no_report else _report_path(found, report)
    written = _write(
        ("report", page, lambda path: found.report(path, scheme or "auto")),
        ("residuals", None if residuals is None else Path(residuals), found.residuals),
        ("saved", None if save is None else Path(save), found.save),
    )
    if as_json:
        print_document({**found.to_dict(), **written})
    elif written:
        print_text("\n" + "\n".join(f"{_SAID[kind]}: {path}" for kind, path in written.items()))


def _watch(log: str, mount: str | None, prior: str | None) -> None:
    """Say one line after each new pair, until Ctrl-C."""
    import sys

    from pointmodel.estimate.profile import read_profile
    from pointmodel.recording.session import mount_for
    from pointmodel.recording.terminal import Terminal
    from pointmodel.recording.watch import watch

    terminal = Terminal(sys.stdout, width_columns(), use_color())
    watch(log, mount_for(log, mount), terminal.say, read_profile(prior))


_SAID = {
    "report": "The page of this night",
    "residuals": "Every line, as CSV",
    "saved": "The fit, saved",
}


def _report_path(fit: Fit, told: str | None) -> Path:
    """Where the page goes: as told, else where no page of another log stands."""
    if told is not None:
        return Path(told)
    from pointmodel.fitting.page import about
    from pointmodel.reading.whichlog import identity
    from pointmodel.showing.pages import free_path

    return free_path(Path(REPORTS) / f"{fit.log.name}.html", about(identity(fit.as_written)))


def _write(*writers: tuple[str, Path | None, Callable[[Path], Path]]) -> dict[str, str]:
    """Write what was asked for and return the paths; one that fails does not stop the other."""
    written: dict[str, str] = {}
    problems: list[Problem] = []
    for kind, path, write in writers:
        if path is None:
            continue
        try:
            written[kind] = str(write(path))
        except InputError as error:
            problems.extend(error.problems)
    if problems:
        raise InputError(problems)
    return written
