"""The command line's one door: it finds the command, and turns errors into messages and exit codes.

Library code raises; only this module exits. 0: the command did its work; 2: bad usage or bad input;
1: anything else. With POINTMODEL_DEBUG set in the environment errors come with their traceback.
"""

from __future__ import annotations

import sys
import warnings
from collections.abc import Callable
from importlib import import_module
from typing import Any, NoReturn

import click

from pointmodel.base import interrupts, streams
from pointmodel.base.errors import InputError
from pointmodel.base.interrupts import INTERRUPTED
from pointmodel.base.trace import debugging, trace

COMMANDS = {
    "fit": "pointmodel.commands.fit:fit_command",
    "check": "pointmodel.commands.check:check_command",
    "level": "pointmodel.commands.level:level_command",
    "compare": "pointmodel.commands.compare:compare_command",
    "plan": "pointmodel.commands.plan:plan_command",
    "aim": "pointmodel.commands.aim:aim_command",
    "record": "pointmodel.commands.record:record_command",
    "simulate": "pointmodel.commands.simulate:simulate_command",
    "new": "pointmodel.commands.new:new_command",
}
BAD_INPUT, FAILED = 2, 1


class Commands(click.Group):
    """The group of all commands; each is imported when it is asked for."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """Names of the commands, the most used first."""
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """Import and return a command, None where there is none of that name."""
        if cmd_name not in COMMANDS:
            return None
        module, _, name = COMMANDS[cmd_name].partition(":")
        command = getattr(import_module(module), name)
        assert isinstance(command, click.Command)
        return command

    def main(self, *args: Any, **kwargs: Any) -> NoReturn:
        """Run a command, tell what went wrong, and exit; see the module for the codes."""
        kwargs["standalone_mode"] = False

        def command() -> Any:
            streams.make_ready()
            return super(Commands, self).main(*args, **kwargs)

        try:
            interrupts.raise_from_here()
            with warnings.catch_warnings():
                if not debugging():
                    warnings.simplefilter("ignore")
                code = _run(command)
                streams.let_go_of_output()
            interrupts.end_quietly_where_a_command()
        except KeyboardInterrupt:
            code = INTERRUPTED
        sys.exit(code)


@click.group(cls=Commands, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(package_name="pointmodel", message="%(prog)s %(version)s")
def command_line() -> None:
    """From a night's log of a small alt-az go-to telescope to its pointing terms and their cures.

    \b
    Example:
      pointmodel new first-night
      pointmodel fit first-night/night.csv

    CAUTION: never point at or near the Sun without a certified filter over the front of the
    telescope and of its finder.
    """


def main() -> NoReturn:
    """Run the command line: the entry point of the program."""
    command_line.main(prog_name="pointmodel")


def _run(command: Callable[[], Any]) -> int:
    """Run a command and return its exit code, with every error told on standard error."""
    try:
        code = command()
        return code if isinstance(code, int) else 0
    except click.ClickException as error:
        error.show()
        return error.exit_code
    except click.Abort:
        return INTERRUPTED
    except InputError as error:
        trace()
        for line in str(error).split("\n"):
            _tell(line)
        return BAD_INPUT
    except Exception as error:
        if isinstance(error, OSError) and streams.is_closed_output(error):
            _tell(str(streams.no_output()))
            return BAD_INPUT
        if debugging():
            raise
        _tell(_what_failed(error))
        return FAILED


def _what_failed(error: Exception) -> str:
    if isinstance(error, OSError):
        where = f": {error.filename}" if error.filename is not None else ""
        return f"the system refuses: {error.strerror or error}{where}"
    detail = f"{type(error).__name__}: {error}".rstrip(": ")
    return f"internal error: {detail}; please report with the log"


def _tell(message: str) -> None:
    """One line on standard error, with nothing in it that a terminal would obey."""
    from pointmodel.base.figures import clean

    click.echo(clean(message), err=True)
