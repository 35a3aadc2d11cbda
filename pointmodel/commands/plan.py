"""`pointmodel plan`: which stars to centre, and in which order."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from pointmodel.commands.common import (
    json_option,
    print_document,
    print_text,
    scheme_option,
    use_color,
    width_columns,
)

if TYPE_CHECKING:
    from pointmodel.showing.pages import Scheme

MOUNT_FILE = "mount.toml"


@click.command("plan", short_help="Which stars to centre, in which order; a sheet to print.")
@click.option(
    "--mount", metavar="FILE", help="Mount file with the site; left out: mount.toml here."
)
@click.option(
    "--at",
    metavar="TIME",
    help="When, such as 2031-05-17T21:00; left out: now, or as soon as it is dark.",
)
@click.option("--stars", metavar="N", type=int, help="How many; left out: eight.")
@click.option("--after", metavar="LOG", help="Go on from this log: the next best stars.")
@click.option("--sheet", metavar="FILE", help="Write a page to print and to fill in.")
@scheme_option
@json_option
def plan_command(
    mount: str | None,
    at: str | None,
    stars: int | None,
    after: str | None,
    sheet: str | None,
    scheme: Scheme | None,
    as_json: bool,
) -> None:
    """Say which stars to centre so that the fit is good soonest, how to find them, when to stop.

    Needs the site: latitude and longitude under [site] in the mount file. The page for --sheet
    replaces only a sheet that this program wrote.

    CAUTION: never point at or near the Sun without a certified filter over the front of the
    telescope and of its finder.

    \b
    Example:
      pointmodel plan --mount mount.toml --at 2031-05-17T20:00 --sheet tonight.html
    """
    from pointmodel.planning.plan import plan
    from pointmodel.planning.text import plan_text

    fitted = None
    if after is not None:
        from pointmodel.fitting.fit import fit

        fitted = fit(after, mount)
    if mount is None and fitted is None and Path(MOUNT_FILE).is_file():
        mount = MOUNT_FILE
    result = plan(mount, at, stars, fitted)
    in_place = sheet is not None and Path(sheet).exists()
    written = {} if sheet is None else {"sheet": str(result.sheet(sheet, scheme or "auto"))}
    if as_json:
        print_document({**result.to_dict(), **written})
        return
    print_text(plan_text(result, width=width_columns(), color=use_color()))
    if written:
        instead = " (in place of the sheet that was there)" if in_place else ""
        print_text(f"\nThe sheet to print: {written['sheet']}{instead}")
