"""The usual cautions stand where they matter, in one wording."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from click.testing import CliRunner

from pointmodel.base.cautions import CAUTIONS, FILTERED, SUN
from pointmodel.cli import COMMANDS, command_line

PACKAGE = Path(__file__).parents[1] / "pointmodel"
LOOKS_UP = ("check", "plan", "aim", "record")


@pytest.mark.parametrize("name", LOOKS_UP)
def test_the_help_of_a_command_that_sends_a_telescope_warns_of_the_sun(name: str) -> None:
    told = " ".join(CliRunner().invoke(command_line, [name, "--help"]).output.split())
    assert "CAUTION" in told
    assert FILTERED in told


def test_every_command_is_known_here() -> None:
    assert set(LOOKS_UP) < set(COMMANDS)


def test_the_caution_about_the_sun_is_written_once() -> None:
    own = [
        str(path.relative_to(PACKAGE))
        for path in PACKAGE.rglob("*.py")
        if re.search(r"certified\s+filter", re.sub(r'"\s*f?"', "", path.read_text("utf-8")))
    ]
    help_texts = {f"commands/{name}.py" for name in LOOKS_UP} | {"cli.py"}
    in_comments = {"sky/sunguard.py"}
    assert set(own) - help_texts - in_comments == {"base/cautions.py"}


def test_the_sun_comes_first_among_the_cautions() -> None:
    assert CAUTIONS[0] == SUN
    assert "blinds" in SUN
