"""The page is served beside the conversation, for as long as the recording lasts.

Read `server.py` first.
"""

from __future__ import annotations

import asyncio
import os
import socket
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

import uvicorn

from pointmodel.base.errors import InputError, Problem
from pointmodel.base.trace import passing_over, trace
from pointmodel.phone.code import code_lines
from pointmodel.phone.connection import LONGEST_HEAD, CarefulProtocol
from pointmodel.phone.door import PhoneDoor
from pointmodel.phone.network import LOCAL, lan_addresses
from pointmodel.phone.server import Address, PhoneServer, new_token
from pointmodel.recording.terminal import Terminal

PORT = 8742  # always the same where it is free: the phone finds again what it kept for this address
LONGEST_GOODBYE_S = 5.0
OVERHEARD = (
    "Anyone on this network can overhear what phone and computer say: it is plain http. Whoever "
    "overhears the link can enter pairs, too. Use your own network or the phone's hotspot."
)
ONLY_HERE = "Only this computer can open the page. For phones on your network: --phone-lan."
POINT_THE_CAMERA = "On the phone: join the same network, then point the camera at this code."
KEEP_IT = "Whoever has this link can enter pairs: keep it to yourself."
NOT_SERVED = "The page is not served. Recording goes on here."
GOES_ON = "Nothing more can be typed here. The phone goes on; Ctrl-C ends."
OTHER_PORT = (
    f"Port {PORT} is taken, so the page has another address than usual. What a phone has not sent "
    "yet waits under the usual one."
)


def free_socket(host: str) -> socket.socket:
    """A socket bound to the usual port of an address, or to another one. Raises InputError."""
    for port in (PORT, 0):
        bound = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
        if os.name != "nt":  # there it would take a port that another program has
            bound.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            bound.bind((host, port))
            bound.listen()  # at once: who follows the link is heard
        except OSError as error:
            bound.close()
            trace()
            reason = error.strerror or str(error)
        else:
            return bound
    found = f"no port to serve the page at ({reason})"
    raise InputError([Problem(host, None, None, found, "an address of this computer")])


class Serving:
    """The page at an address, in a thread of its own; `link` is what the phone opens."""

    def __init__(self, door: PhoneDoor, host: str) -> None:
        """Take the port; nothing is answered yet. Raises InputError."""
        self._socket = free_socket(host)
        self.address = Address(host, self._socket.getsockname()[1])
        token = new_token()
        self.link = f"{self.address.url}#{token}"
        config = uvicorn.Config(
            PhoneServer(door, token, self.address),
            http=CarefulProtocol,
            h11_max_incomplete_event_size=LONGEST_HEAD,
            ws="none",
            lifespan="off",
            log_config=None,
            access_log=False,
            log_level="critical",
            proxy_headers=False,
            server_header=False,
            date_header=False,
            timeout_keep_alive=10,
            timeout_graceful_shutdown=3,
        )
        self._server = uvicorn.Server(config)
        self._thread = threading.Thread(target=self._run, name="phone", daemon=True)

    def _run(self) -> None:
        asyncio.run(self._serve())

    async def _serve(self) -> None:
        asyncio.get_running_loop().set_exception_handler(_told_if_debugging)
        await self._server.serve(sockets=[self._socket])

    def start(self) -> None:
        """Answer from now on."""
        self._thread.start()

    def stop(self) -> None:
        """Answer no more; what is being answered is answered first."""
        self._server.should_exit = True
        self._thread.join(timeout=LONGEST_GOODBYE_S)
        self.close()

    def close(self) -> None:
        """Give the port back."""
        self._socket.close()


def _told_if_debugging(_: asyncio.AbstractEventLoop, context: dict[str, Any]) -> None:
    """What went wrong with a connection is nobody's affair at the telescope."""
    with passing_over(Exception):
        raise context.get("exception") or RuntimeError(context.get("message"))


@contextmanager
def served(door: PhoneDoor, host: str, terminal: Terminal) -> Iterator[None]:
    """Serve the page while the block lasts, and say where. Raises InputError."""
    serving = Serving(door, host)
    serving.start()
    try:
        say_where(serving, terminal)
        yield
    finally:
        serving.stop()
        door.close()


def say_where(serving: Serving, terminal: Terminal) -> None:
    """Print the link, and where phones can follow it the code."""
    if serving.address.port != PORT:
        terminal.say(OTHER_PORT, alarm=True)
    if serving.address.host == LOCAL:
        terminal.say(ONLY_HERE)
    else:
        terminal.say(POINT_THE_CAMERA)
        terminal.show(code_lines(serving.link))
    terminal.show([serving.link])
    terminal.say(KEEP_IT)


def host_meant(terminal: Terminal) -> str | None:
    """The address on the network that the person agrees to; None where they do not.

    Raises InputError where this computer is on no private network.
    """
    addresses = lan_addresses()
    if not addresses:
        found = "no address of this computer on a network at home"
        wanted = "a wireless network, or a phone's hotspot, joined first; or --phone without it"
        raise InputError([Problem("--phone-lan", None, None, found, wanted)])
    terminal.say(OVERHEARD, alarm=True)
    if len(addresses) == 1:
        typed = _asked(terminal, f"Serve the page at {addresses[0]}? [y/N] ")
        return addresses[0] if typed in ("y", "yes") else None
    for number, address in enumerate(addresses, start=1):
        terminal.say(f"{number}: {address}")
    typed = _asked(terminal, f"At which address? 1 to {len(addresses)} (Enter: at none) ")
    numbers = {str(number): address for number, address in enumerate(addresses, start=1)}
    return numbers.get(typed)


def _asked(terminal: Terminal, prompt: str) -> str:
    try:
        return terminal.ask(prompt).lower()
    except EOFError:
        return ""
