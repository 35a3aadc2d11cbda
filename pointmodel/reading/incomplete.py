"""Rows that lack a value: left out where the user wants that, and told of.

A pair needs a commanded place and a second one (centred, nudged or seen), by an almanac a name and
a time in place of the first. An event that stands beside missing figures is kept.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any, Literal

from pointmodel.base.errors import InputError, Notice, Problem
from pointmodel.base.wording import join, line_list, quoted
from pointmodel.reading.columns import NUDGE, PLACES, columns_of, find_columns, is_almanac
from pointmodel.reading.rows import Table

Incomplete = Literal["refuse", "skip"]
MOST_NAMED = 20
HOW = 'incomplete="skip" to leave out the lines that lack one'


def checked_incomplete(word: Any) -> Incomplete:
    """Return the word. Raises InputError for any but "refuse" and "skip"."""
    if word == "refuse":
        return "refuse"
    if word == "skip":
        return "skip"
    wanted = '"refuse" or "skip" for incomplete'
    raise InputError([Problem("<incomplete>", None, None, quoted(word), wanted)])


def without_incomplete(table: Table) -> tuple[Table, list[int]]:
    """The table without the pairs that lack a value, and their lines.

    Raises InputError as `find_columns` does.
    """
    positions, _ = find_columns(table)
    ways = _ways(positions)
    rows, lines, left_out = [], [], []
    for row, line in zip(table.rows, table.lines, strict=True):
        filled = {name for name, position in positions.items() if row[position].strip()}
        whole = all(any(way <= filled for way in place) for place in ways)
        if not whole and ("event" not in filled or filled & _FIGURES):
            left_out.append(line)
        if whole or "event" in filled:
            rows.append(row if whole else _without_figures(row, positions))
            lines.append(line)
    return replace(table, rows=rows, lines=lines), left_out


def _ways(positions: Mapping[str, int]) -> list[list[set[str]]]:
    """The places that each pair needs, each with the columns of any way to state it."""
    ways = []
    for place in (*PLACES, "nudge"):
        stated = [set(columns_of(place, equatorial)) for equatorial in (False, True)]
        if there := [way for way in stated if way <= positions.keys()]:
            ways.append(there)
    return [[{"target", "time"}], *ways] if is_almanac(positions) else ways


def _without_figures(row: Sequence[str], positions: Mapping[str, int]) -> Sequence[str]:
    figures = {positions[name] for name in positions if name in _FIGURES}
    return ["" if k in figures else cell for k, cell in enumerate(row)]


_FIGURES = {*NUDGE, *(name for p in PLACES for way in (False, True) for name in columns_of(p, way))}


def left_out_notice(lines: list[int], labels: Sequence[str] = ()) -> list[Notice]:
    """What is said of the lines that were left out, labels beside them; nothing without any."""
    if not lines:
        return []
    called = f" (index {join([quoted(one) for one in labels[:MOST_NAMED]])})" if labels else ""
    text = f"{line_list(lines, at_most=MOST_NAMED)}{called}: a value is missing; left out"
    return [Notice("left_out", text)]


def refusals(lines: list[int], file: str) -> list[Problem]:
    """One problem for each row that lacks a value."""
    return [
        Problem(file, line, None, "a missing value", f"a figure there, or {HOW}") for line in lines
    ]
