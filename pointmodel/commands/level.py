"""`pointmodel level`: re-level or not, which foot by how much, and what it would gain."""

from __future__ import annotations

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


@click.command("level", short_help="Re-level or not, which foot by how much, what it would gain.")
@log_argument
@mount_option
@images_option
@json_option
def level_command(log: str, mount: str | None, images: str | None, as_json: bool) -> None:
    """Say whether the base is worth levelling and, if so, which foot to turn by how much.

    An alignment hides how the base leans. No foot is named before it is known whether the
    controller was aligned before the log (stars, under [alignment] in the mount file). A wrong
    clock or place in the controller looks like a lean: no foot is named before the stars show that
    they are right, or the mount file says verified = true under [entered].

    CAUTION: turn a foot only with the load held by a second person or a support, one foot at a
    time. The maker's manual comes first.

    \b
    Example:
      pointmodel level night.csv --mount mount.toml
    """
    from pointmodel.fitting.fit import fit, level
    from pointmodel.levelling.text import level_text
    from pointmodel.reading.nightlog import read_log

    result = level(fit(read_log(log, mount, images=images)))
    if as_json:
        print_document(result.to_dict())
    else:
        print_text(level_text(result, width=width_columns(), color=use_color()))
