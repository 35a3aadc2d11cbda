"""A registry: one place for all entries of a kind, each found by its name, in order."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager
from typing import Generic, Protocol, TypeVar


class Named(Protocol):
    """What a registry holds: anything with a name."""

    @property
    def name(self) -> str:
        """The name it is found by."""


Entry = TypeVar("Entry", bound=Named)


class Registry(Mapping[str, Entry], Generic[Entry]):
    """Entries by name, in the order they were added; whoever looks it up later finds new ones."""

    def __init__(self, entries: Iterable[Entry]) -> None:
        """Hold these entries; raises ValueError where two have one name."""
        self._entries: dict[str, Entry] = {}
        self._known: dict[str, Entry] = {}
        for entry in entries:
            self.add(entry)

    def __getitem__(self, name: str) -> Entry:
        """Return the entry of this name, a user's own among them; raises KeyError."""
        return self._entries[name] if name in self._entries else self._known[name]

    def __iter__(self) -> Iterator[str]:
        """Go through the names in order."""
        return iter(self._entries)

    def __len__(self) -> int:
        """Count the entries."""
        return len(self._entries)

    def add(self, entry: Entry) -> None:
        """Add an entry at the end; raises ValueError for a name that is there already."""
        if entry.name in self._entries:
            raise ValueError(f"{entry.name} is registered already")
        self._entries[entry.name] = entry

    def know(self, *entries: Entry) -> None:
        """Let a user's own entries be found by name; they are in no list, and nobody else's fit.

        The latest of a name counts. Raises ValueError for a name that is registered.
        """
        for entry in entries:
            if entry.name in self._entries:
                raise ValueError(f"{entry.name} is registered already")
            self._known[entry.name] = entry

    @property
    def known(self) -> tuple[Entry, ...]:
        """A user's own entries."""
        return tuple(self._known.values())

    @contextmanager
    def holding(self, *entries: Entry) -> Iterator[None]:
        """Hold further entries for a while, as for terms of a user's own."""
        for entry in entries:
            self.add(entry)
        try:
            yield
        finally:
            for entry in entries:
                del self._entries[entry.name]
