"""What a user can get wrong, and what the program has to remark.

Every error that a user can cause is one `InputError`; it carries all problems found, not just the
first. A `Notice` is something worth saying about input that was good enough to go on with.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

MOST_PRINTED = 20
FRAME = "<frame>"  # the file of what came from memory


@dataclass(frozen=True)
class Problem:
    """One thing that is wrong: where it stands, what was read, what would be right.

    `line` counts from 1 as an editor does; `column` is the header's word. Either is None where the
    problem concerns the whole file. Of a frame `line` is the row's place, from 1, and `row_label`
    what its index calls it, where it has names for its rows.
    """

    file: str
    line: int | None
    column: str | None
    found: str
    wanted: str
    row_label: str | None = None

    def __str__(self) -> str:
        """Return the problem as one line."""
        place = [self.file]
        if self.line is not None:
            label = "" if self.row_label is None else f" (index {self.row_label})"
            place.append(f"line {self.line}{label}")
        if self.column is not None:
            place.append(f"column {self.column}")
        return f"{', '.join(place)}: read {self.found}; wanted {self.wanted}"


class InputError(ValueError):
    """The input cannot be used as it stands; `problems` lists everything that is wrong with it.

    >>> import pointmodel as pm
    >>> try:
    ...     pm.fit({"commanded_az": [370.5], "commanded_alt": [41.0]})
    ... except pm.InputError as error:
    ...     print(error.problems[0].column, error.problems[0].wanted)
    commanded_az degrees from -180 to 360
    """

    def __init__(self, problems: Iterable[Problem]) -> None:
        """Hold every problem; the text stops after the first twenty."""
        self.problems: tuple[Problem, ...] = tuple(problems)
        lines = [str(problem) for problem in self.problems[:MOST_PRINTED]]
        if len(self.problems) > MOST_PRINTED:
            lines.append(f"and {len(self.problems) - MOST_PRINTED} more like these")
        super().__init__("\n".join(lines))

    def __reduce__(self) -> tuple[type[InputError], tuple[tuple[Problem, ...]]]:
        """Pickle by the problems, so that an error survives the way back from another process."""
        return (type(self), (self.problems,))


@dataclass(frozen=True)
class Notice:
    """A remark on input or result; `code` is a short stable word for programs."""

    code: str
    text: str
