"""`pointmodel aim`: corrected positions to command."""

from __future__ import annotations

import re

import click

from pointmodel.commands.common import (
    images_option,
    json_option,
    log_argument,
    mount_option,
    print_document,
    print_text,
    use_color,
    width_columns,
)

_NEGATIVE_PLACE = re.compile(r"-[\d.][^,;]*[,;].*")


class _PlacesCommand(click.Command):
    """A command whose arguments may be places that begin with a minus: those are no options."""

    def parse_args(self, ctx: click.Context, args: list[str]) -> list[str]:
        """Put a blank in front of them; whoever reads a place passes over it."""
        told = [f" {arg}" if _NEGATIVE_PLACE.fullmatch(arg) else arg for arg in args]
        return super().parse_args(ctx, told)


@click.command("aim", cls=_PlacesCommand, short_help="Corrected positions to command for targets.")
@log_argument
@click.argument("targets", metavar="TARGET...", nargs=-1, required=True)
@mount_option
@click.option(
    "--at",
    metavar="TIME",
    help="When, such as 2031-05-17T21:04:30+10:00; left out: now, for names.",
)
@images_option
@json_option
def aim_command(
    log: str,
    targets: tuple[str, ...],
    mount: str | None,
    at: str | None,
    images: str | None,
    as_json: bool,
) -> None:
    """Where to send the mount so that each TARGET ends up in the middle of the eyepiece.

    A TARGET is a star, planet or Messier object by name; right ascension and declination (ICRS,
    unless "of date" stands behind); or azimuth,altitude in degrees, in the controller's own frame.
    Names need the site in the mount file. LOG is the night's log that the corrections come from.

    CAUTION: the Sun blinds at once. Never point at or near it without a certified filter over the
    front of the telescope and of its finder. While it is up or in twilight, what stands within 20°
    of it is refused; without site or time nothing guards against it.

    \b
    Example:
      pointmodel aim night.csv Achernar "M 42" Saturn "05:34:31 +22:00:52"
      pointmodel aim night.csv 123.5,45 "210°30',60°" --at 2031-05-17T21:04:30+10:00
    """
    from pointmodel.aiming.aim import aim
    from pointmodel.aiming.text import aim_text
    from pointmodel.fitting.fit import fit
    from pointmodel.reading.nightlog import read_log

    result = aim(fit(read_log(log, mount, images=images)), targets, at)
    if as_json:
        print_document(result.to_dict())
    else:
        print_text(aim_text(result.to_dict(), width=width_columns(), color=use_color()))
