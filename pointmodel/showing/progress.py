"""A bar that says how far a long work has come: in a notebook, or on a terminal.

IPython is never imported: where a notebook runs this, it is there already. Nothing stays behind.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any, TypeAlias

from pointmodel.showing.axes import ipython_shell

Advance: TypeAlias = Callable[[], None]
Progress: TypeAlias = Advance | bool | None

FEWEST_SHOWN = 8  # of the works: fewer are done before anyone has read how far they are


@contextmanager
def progress_of(wanted: Progress, count: int, what: str) -> Iterator[Advance | None]:
    """Give what is to be called after each of `count` works; None where nobody looks.

    `wanted` True shows a bar in a notebook or on a terminal, None in a notebook alone, False none;
    anything that can be called is called as it is.
    """
    if callable(wanted):
        yield wanted
    elif wanted is not False and count >= FEWEST_SHOWN and _kernel_runs():
        with _in_notebook(count, what) as advance:
            yield advance
    elif wanted is True and sys.stderr.isatty():
        import click

        with click.progressbar(length=count, label=what, file=sys.stderr) as bar:
            yield lambda: bar.update(1)
    else:
        yield None


def _kernel_runs() -> bool:
    """Whether a notebook's kernel runs this: an IPython at a terminal has none."""
    return getattr(ipython_shell(), "kernel", None) is not None


@contextmanager
def _in_notebook(count: int, what: str) -> Iterator[Advance]:
    shown: Any = sys.modules["IPython.display"]
    handle = shown.display(shown.HTML(_bar(0, count, what)), display_id=True)
    done = 0

    def advance() -> None:
        nonlocal done
        done += 1
        handle.update(shown.HTML(_bar(done, count, what)))

    try:
        yield advance
    finally:
        handle.update(shown.HTML(""))


def _bar(done: int, count: int, what: str) -> str:
    return f'<progress value="{done}" max="{count}"></progress> {done} of {count} {what}'
