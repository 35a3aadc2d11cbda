"""Addresses under which phones on the same network reach this computer; no packet is sent."""

from __future__ import annotations

import ipaddress
import socket

from pointmodel.base.trace import trace

LOCAL = "127.0.0.1"
# One in each range of private networks, and one that stands for the rest of the world (RFC 1918;
# RFC 5737): the system is asked from which address it would send there, which sends nothing.
_ASKED = ("192.0.2.1", "10.255.255.254", "172.31.255.254", "192.168.255.254")
_DISCARD = 9  # a port (RFC 863)


def lan_addresses() -> tuple[str, ...]:
    """Return this computer's addresses on private networks, the likeliest first."""
    found = [address for asked in _ASKED if (address := _sent_from(asked))]
    found += _of_this_name()
    return tuple(dict.fromkeys(one for one in found if _is_private(one)))


def _sent_from(asked: str) -> str | None:
    """The address from which a packet would go there; None: none would."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as asking:
        try:
            asking.connect((asked, _DISCARD))
        except OSError:
            trace()
            return None
        return str(asking.getsockname()[0])


def _of_this_name() -> list[str]:
    """The addresses that this computer's own name stands for here."""
    try:
        return list(socket.gethostbyname_ex(socket.gethostname())[2])
    except OSError:
        trace()
        return []


def _is_private(address: str) -> bool:
    """Whether an address is one of a network at home: not the internet's, not this computer's."""
    told = ipaddress.ip_address(address)
    return told.is_private and not told.is_loopback and not told.is_unspecified
