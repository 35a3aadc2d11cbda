"""`pointmodel check`: do the controller's clock and site entries agree with the stars?"""

from __future__ import annotations

import click

from pointmodel.commands.common import (
    json_option,
    log_argument,
    mount_option,
    print_document,
    print_text,
    use_color,
    width_columns,
)


@click.command("check", short_help="Do the controller's clock and site agree with the stars?")
@log_argument
@mount_option
@json_option
def check_command(log: str, mount: str | None, as_json: bool) -> None:
    """Say whether the controller's date, time and place agree with the stars it was sent to.

    Needs no centring: a star's name, where the controller put it (commanded_az, commanded_alt) and
    the true time from a phone or GPS, and the true site in the mount file. One star is enough to
    begin with, two leave one answer. What was typed may stand under [entered] in the mount file.

    CAUTION: a controller with a wrong clock or place also has the Sun in the wrong place. Never
    point at or near it without a certified filter over the front of the telescope and of its
    finder.

    \b
    Example:
      pointmodel check night.csv --mount mount.toml
    """
    from pointmodel.entries.check import check
    from pointmodel.entries.text import check_text

    result = check(log, mount)
    if as_json:
        print_document(result.to_dict())
    else:
        print_text(check_text(result, width=width_columns(), color=use_color()))
