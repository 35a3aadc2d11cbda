"""`pointmodel new`: a mount file and an empty log to start from."""

from __future__ import annotations

import click

from pointmodel.commands.common import json_option, print_document, print_text


@click.command("new", short_help="A commented mount.toml and an empty log, to start from.")
@click.argument("folder", default=".", metavar="[FOLDER]")
@json_option
def new_command(folder: str, as_json: bool) -> None:
    """Write a commented mount.toml and an empty night.csv into FOLDER (left out: this one).

    FOLDER is made if need be; nothing is ever overwritten.

    \b
    Example:
      pointmodel new first-night
    """
    from pointmodel.reading.newfiles import new_files

    paths = new_files(folder)
    if as_json:
        from pointmodel.base.documents import new_document

        print_document(new_document(paths))
    else:
        print_text(
            "\n".join(f"Wrote {path}" for path in paths)
            + "\nFill in what you know of the mount. At the telescope write one line a star, "
            'before you press the key that tells the controller "this is the star". Then: '
            f"pointmodel fit {paths[1]}"
        )
