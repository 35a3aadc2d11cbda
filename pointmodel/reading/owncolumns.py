"""A log whose columns have names of their user's own, and messages about it in the same names.

`columns` maps own names to a log's; `OwnNames.table` reads by it, `OwnNames.told` turns messages
back. Rows of a frame are called by their labels too, where it has any.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from pointmodel.base.errors import InputError, Problem
from pointmodel.base.wording import nearest, one_of, quoted
from pointmodel.reading.columns import KNOWN, plain_name
from pointmodel.reading.rows import Table
from pointmodel.reading.table import is_frame

WANTED = 'a mapping of your own column names to a log\'s: {"my az": "commanded_az"}'
_MOST_NAMED = 20


@dataclass(frozen=True)
class OwnNames:
    """A log's columns by own name, each with the log's word for it; empty where none were told."""

    known_by: Mapping[str, str]

    def table(self, table: Table) -> Table:
        """The table under a log's own heading; columns that were not told of are passed over.

        Those that have a log's names already are kept. Raises InputError for names that no column
        has, and for meanings that no log knows.
        """
        if not self.known_by:
            return table
        problems = [*_strangers(self.known_by, table), *_meaningless(self.known_by, table)]
        if problems:
            raise InputError(problems)
        return replace(table, header=tuple(self._heading(cell) for cell in table.header))

    def _heading(self, written: str) -> str:
        if written in self.known_by:
            return self.known_by[written]
        return written if plain_name(written) in KNOWN else ""

    def told(self, problem: Problem) -> Problem:
        """The problem with the user's own word for the column."""
        own = {plain_name(known): own for own, known in self.known_by.items()}
        column = own.get(plain_name(problem.column or ""))
        return problem if column is None else replace(problem, column=column)


def refuse_columns_beside_a_log(columns: Any) -> None:
    """Raise InputError where columns are told of a log whose columns have been read already."""
    if columns is not None:
        wanted = "columns told to read_log, or the frame itself here: a NightLog is read already"
        raise InputError([Problem("<columns>", None, None, "columns beside a NightLog", wanted)])


def refuse_columns_as_mount(mount: Any) -> None:
    """Raise InputError where what should be a mount file maps words to columns of a log."""
    if not isinstance(mount, Mapping) or not mount:
        return
    if all(isinstance(known, str) and plain_name(known) in KNOWN for known in mount.values()):
        wanted = "columns={...} for the names of your columns: the second argument is the mount"
        raise InputError([Problem("<mount>", None, None, quoted(dict(mount)), wanted)])


def own_names(columns: Any) -> OwnNames:
    """The names that `columns` tells; None tells none. Raises InputError for what is no mapping."""
    if columns is None:
        return OwnNames({})
    if not isinstance(columns, Mapping):
        raise InputError([Problem("<columns>", None, None, quoted(columns), WANTED)])
    return OwnNames({str(own).strip(): str(known).strip() for own, known in columns.items()})


def _strangers(known_by: Mapping[str, str], table: Table) -> list[Problem]:
    """Own names that no column of the table has."""
    has = [cell for cell in table.header if cell]
    return [
        Problem("<columns>", None, None, quoted(own), _column_wanted(own, known, has))
        for own, known in known_by.items()
        if own not in has
    ]


def _column_wanted(own: str, known: str, has: list[str]) -> str:
    if known in has and plain_name(own) in KNOWN:
        return f"your own name first: {{{known!r}: {own!r}}}"
    return f"a column that is there: {one_of(has[:_MOST_NAMED], nearest(own, has))}"


def _meaningless(known_by: Mapping[str, str], table: Table) -> list[Problem]:
    """Meanings that no column of a log has."""
    return [
        Problem("<columns>", None, own, quoted(known), one_of(KNOWN, nearest(known, KNOWN)))
        for own, known in known_by.items()
        if own in table.header and plain_name(known) not in KNOWN
    ]


def index_of(source: Any) -> Any:
    """The index of a frame; None of anything else."""
    return None if isinstance(source, Mapping) or not is_frame(source) else source.index


def labels_of(index: Any) -> Any:
    """The index of a frame where it names the rows; None where it just counts them from 0."""
    counts = index.nlevels == 1 and bool(np.array_equal(index, np.arange(len(index))))
    return None if counts else index


def labels_at(index: Any, lines: list[int]) -> list[str]:
    """The labels of some rows (from 1) as texts; none where the index names no rows."""
    labels = None if index is None else labels_of(index)
    return [] if labels is None else [str(labels[line - 1]) for line in lines]


def with_labels(problem: Problem, index: Any) -> Problem:
    """The problem with its row's own label beside its number, where the frame has labels."""
    labels = labels_of(index)
    if labels is None or problem.line is None or not 1 <= problem.line <= len(labels):
        return problem
    return replace(problem, row_label=quoted(str(labels[problem.line - 1])))
