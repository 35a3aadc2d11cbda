"""A fault that a test must notice; the lists of them are `fault_list.py`'s."""

from __future__ import annotations

from typing import NamedTuple


class Fault(NamedTuple):
    """One fault: what it is, where it goes, and which tests should notice it."""

    name: str
    file: str
    old: str
    new: str
    tests: tuple[str, ...]
