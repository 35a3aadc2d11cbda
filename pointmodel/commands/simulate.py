"""`pointmodel simulate`: the command line of `simulate.py`, one option an argument."""

from __future__ import annotations

from typing import Any

import click

from pointmodel.base.errors import InputError, Problem
from pointmodel.simulation.faults import PEN_SLIPS
from pointmodel.simulation.night import MOTIONS, MOUNT_CLASSES, PEN_SLIP_PLACES


def _terms(given: tuple[str, ...]) -> dict[str, float]:
    """Terms from NAME=VALUE texts; raises `InputError` that lists all that are no such text."""
    terms, problems = {}, []
    for text in given:
        name, _, value = text.partition("=")
        try:
            terms[name.strip()] = float(value)
        except ValueError:
            wanted = "NAME=VALUE, such as collimation=12"
            problems.append(Problem("simulate", None, "--term", repr(text), wanted))
    if problems:
        raise InputError(problems)
    return terms


@click.command("simulate", short_help="Make a night with known terms and faults.")
@click.option("--out", default="simulated.csv", show_default=True, help="Log to write; a new file.")
@click.option("--seed", type=int, default=0, show_default=True, help="Same seed, same night.")
@click.option("--pairs", type=int, default=12, show_default=True, help="Stars centred.")
@click.option(
    "--mount-class",
    type=click.Choice(MOUNT_CLASSES),
    default="usual",
    show_default=True,
    help="Kind of mount that the terms are drawn for.",
)
@click.option(
    "--term",
    "term",
    multiple=True,
    metavar="NAME=VALUE",
    help="Set a term (arcmin; drifts arcmin/h, scales arcmin/deg, refraction 1). Repeatable.",
)
@click.option("--sigma", "sigma_arcmin", type=float, help="Noise an axis on the sky, arcmin.")
@click.option("--mount-share", type=float, help="The mount's share of the noise, 0 to 1.")
@click.option("--readout-step", "readout_step_arcsec", type=float, help="Arcsec; 0 for none.")
@click.option("--wrong-stars", type=int, default=0, help="Lines with another star centred.")
@click.option("--pen-slips", type=int, default=0, help="Lines with a slip of the pen.")
@click.option("--pen-slip-kind", type=click.Choice(list(PEN_SLIPS)), help="Left out: any.")
@click.option(
    "--pen-slip-in",
    type=click.Choice(PEN_SLIP_PLACES),
    default="centred",
    show_default=True,
    help="Figures that the pen slips in.",
)
@click.option(
    "--clutch-slip",
    "clutch_slip_arcmin",
    type=float,
    default=0.0,
    help="Jump of the azimuth readout, arcmin.",
)
@click.option("--slip-after", "slip_after_pair", type=int, help="Pairs before it; half the night.")
@click.option("--low-alt", "low_alt_deg", type=float, default=15.0, show_default=True)
@click.option("--high-alt", "high_alt_deg", type=float, default=80.0, show_default=True)
@click.option("--start", help="First centring, ISO 8601 with a zone.")
@click.option("--minutes-between", type=float, default=3.0, show_default=True)
@click.option(
    "--motions",
    type=click.Choice(MOTIONS),
    default="mixed",
    show_default=True,
    help="Last motions of the centring.",
)
@click.option(
    "--sidereal-error",
    "sidereal_error_min",
    type=float,
    default=0.0,
    help="Controller's sidereal time minus the true one, minutes (needs a site).",
)
@click.option(
    "--latitude-error",
    "latitude_error_deg",
    type=float,
    default=0.0,
    help="Controller's latitude minus the true one, degrees (needs a site).",
)
@click.option("--mount", help="Mount file: site (stars by name), horizon, weather.")
@click.option("--json", "as_json", is_flag=True, help="Print the truth as one JSON document.")
def simulate_command(
    out: str, term: tuple[str, ...], start: str | None, as_json: bool, **arguments: Any
) -> None:
    """Make a night's log with known terms and faults, and its truth beside it.

    Writes the log and <its stem>.truth.json; a file that exists is never replaced.
    """
    from pointmodel.simulation.simulate import simulate

    if start is not None:
        arguments["start"] = start
    night = simulate(terms=_terms(term), **arguments)
    files = night.write(out)
    if as_json:
        import json

        click.echo(json.dumps(night.to_dict(files), ensure_ascii=False, allow_nan=False))
    else:
        click.echo(f"{night}\nwrote {files[0]}, and the truth to {files[1]}")
