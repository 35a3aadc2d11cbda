"""What commands share: options, the width and colours of the terminal, and printing."""

from __future__ import annotations

import os
import shutil
import sys
from typing import Any

import click

WIDEST_COLUMNS = 100

log_argument = click.argument("log", metavar="LOG")
mount_option = click.option(
    "--mount", metavar="FILE", help="Mount file; left out: mount.toml beside the log."
)
images_option = click.option(
    "--images", metavar="FOLDER", help="Solved FITS images, one a go-to: where it truly looked."
)
json_option = click.option(
    "--json", "as_json", is_flag=True, help="Print one JSON document and nothing else."
)
scheme_option = click.option(
    "--scheme",
    type=click.Choice(["day", "dark", "red"]),
    help="Colours that the page opens in; left out: as the screen is set.",
)


def print_text(text: str) -> None:
    """Print text, ending in one line feed."""
    click.echo(text.rstrip("\n"))


def print_document(document: dict[str, Any]) -> None:
    """Print a JSON document, UTF-8 whatever the terminal's encoding."""
    from pointmodel.base.documents import json_text

    click.echo(json_text(document).encode(), nl=False)


def width_columns() -> int:
    """Columns to set text in: the terminal's, 100 at most, 100 where there is no terminal."""
    return min(shutil.get_terminal_size((WIDEST_COLUMNS, 24)).columns, WIDEST_COLUMNS)


def use_color() -> bool:
    """Whether colours may be used: on a terminal that knows them, unless NO_COLOR is set."""
    dumb = os.environ.get("TERM") == "dumb"
    return sys.stdout.isatty() and not dumb and "NO_COLOR" not in os.environ
