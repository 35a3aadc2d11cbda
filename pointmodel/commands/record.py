"""`pointmodel record`: pairs entered at the telescope, each safe before the next is asked for."""

from __future__ import annotations

import os
import sys
import threading
import time
from contextlib import suppress
from importlib.util import find_spec
from typing import TYPE_CHECKING

import click

from pointmodel.base.streams import no_input
from pointmodel.commands.common import (
    json_option,
    log_argument,
    mount_option,
    print_document,
    use_color,
    width_columns,
)

if TYPE_CHECKING:
    from pointmodel.recording.dialogue import Dialogue
    from pointmodel.recording.session import Session
    from pointmodel.recording.terminal import Terminal

PHONE_NEEDS = ("starlette", "uvicorn", "segno")


@click.command("record", short_help="Enter pairs at the telescope, with the fit kept current.")
@log_argument
@mount_option
@json_option
@click.option("--prior", metavar="FILE", help="This mount's profile, as compare writes it.")
@click.option("--pipe", is_flag=True, help="For programs: log lines in, one JSON line back each.")
@click.option("--plain", is_flag=True, help="No colours.")
@click.option("--phone", is_flag=True, help="Serve a page to tap stars on, to this computer alone.")
@click.option("--phone-lan", is_flag=True, help="The same, to phones on your network; asks first.")
def record_command(
    log: str,
    mount: str | None,
    as_json: bool,
    prior: str | None,
    pipe: bool,
    plain: bool,
    phone: bool,
    phone_lan: bool,
) -> None:
    """Enter pairs one question at a time; each is on the disk before the next is asked for.

    LOG is a .csv or .tsv file; one that exists is gone on with. Type the star, what the controller
    says, and what the mount reads with the star centred; or how far you moved the tube (12r 5u: 12
    arcminutes right, 5 up). Type ? at any question for all that you may type. After each pair you
    are told whether it fits and what to do next. Stop it, kill it, pull the plug: what has been
    given a line number is safe, and starting again goes on.

    With --phone, a page is served on which a tap where the star stands is a pair; both go on at
    once. With --phone-lan phones on your network can open it.

    With --pipe, a program sends the header and then log lines on standard input; each is answered
    by one line of JSON on standard output, kept or refused.

    CAUTION: never point at or near the Sun without a certified filter over the front of the
    telescope and of its finder.

    \b
    Example:
      pointmodel record tonight.csv --mount mount.toml
    """
    if pipe and as_json:
        raise click.UsageError("--pipe answers in JSON already, a line each: leave out --json.")
    if phone or phone_lan:
        _refuse_without_packages(pipe)
    if sys.stdin is None and (phone or phone_lan):
        sys.stdin = open(os.devnull)  # noqa: SIM115 (it is standard input from here on)
    if sys.stdin is None:
        raise no_input("a terminal to type at, or with --pipe a program's lines")
    if pipe:
        _pipe(log, mount, prior)
        return
    from pointmodel.estimate.profile import read_profile
    from pointmodel.recording.dialogue import Dialogue
    from pointmodel.recording.logfile import open_log
    from pointmodel.recording.session import Session, mount_for
    from pointmodel.recording.terminal import Terminal

    mount_file, profile = mount_for(log, mount), read_profile(prior)
    stream = sys.stderr if as_json else sys.stdout
    color = use_color() and not plain and not as_json
    terminal = Terminal(stream, width_columns(), color)
    file = open_log(log)
    try:
        session = Session(file, log, mount_file, time.time(), profile)
        dialogue = Dialogue(session, terminal)
        if phone or phone_lan:
            _beside_a_phone(session, dialogue, terminal, phone_lan)
        else:
            dialogue.run()
        result = session.result(time.time())
    finally:
        file.close()
    if as_json:
        print_document(result.to_dict())
    else:
        for line in str(result).splitlines():
            terminal.say(line)


def _refuse_without_packages(pipe: bool) -> None:
    """Say what is missing for a phone. Raises click.UsageError."""
    if pipe:
        raise click.UsageError("--phone goes beside the conversation: leave out --pipe.")
    if any(find_spec(name) is None for name in PHONE_NEEDS):
        raise click.UsageError('the phone needs more packages: pip install "pointmodel[phone]"')


def _beside_a_phone(session: Session, dialogue: Dialogue, terminal: Terminal, lan: bool) -> None:
    """Converse while a page is served; where nothing more can be typed, until Ctrl-C."""
    from pointmodel.phone.door import PhoneDoor
    from pointmodel.phone.network import LOCAL
    from pointmodel.phone.serving import GOES_ON, NOT_SERVED, host_meant, served

    host = host_meant(terminal) if lan else LOCAL
    if host is None:
        terminal.say(NOT_SERVED)
        dialogue.run()
        return
    with served(PhoneDoor(session, dialogue.heard), host, terminal):
        if dialogue.run() or sys.stdin.isatty():
            return
        terminal.say(GOES_ON)
        with suppress(KeyboardInterrupt):
            threading.Event().wait()


def _pipe(log: str, mount: str | None, prior: str | None) -> None:
    """Answer a program's lines."""
    from pointmodel.estimate.profile import read_profile
    from pointmodel.recording.logfile import open_log
    from pointmodel.recording.pipe import PipedLines, answer_lines
    from pointmodel.recording.session import Session, mount_for
    from pointmodel.sky.sunguard import sun_notices

    mount_file, profile = mount_for(log, mount), read_profile(prior)
    lines = PipedLines(sys.stdin.buffer)
    file = open_log(log, lines.header_for_new_log)
    try:
        session = Session(file, log, mount_file, time.time(), profile)
        for notice in sun_notices(session.sun(time.time())):
            click.echo(f"CAUTION: {notice.text}.", err=True)
        answer_lines(session, lines, _answer, time.time)
    finally:
        file.close()


def _answer(line: str) -> None:
    sys.stdout.write(line + "\n")
    sys.stdout.flush()
