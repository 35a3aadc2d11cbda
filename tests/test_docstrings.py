"""The examples in docstrings do what they say; every public function has one."""

from __future__ import annotations

import doctest
import inspect
from collections.abc import Iterator

import pytest

import pointmodel as pm

FLAGS = doctest.ELLIPSIS | doctest.NORMALIZE_WHITESPACE
FINDER = doctest.DocTestFinder(recurse=True)
PUBLIC = [getattr(pm, name) for name in pm.__all__]


def examples() -> Iterator[doctest.DocTest]:
    """Every docstring of the package, of its public names and of their methods."""
    yield from FINDER.find(pm, "pointmodel", module=False, globs={}, extraglobs={})
    for one in PUBLIC:
        own = list(inspect.getmro(one)[1:-1]) if inspect.isclass(one) else []
        for thing in (one, *own):
            if thing.__module__.startswith("pointmodel"):
                yield from FINDER.find(thing, thing.__name__, module=False, globs={})


EXAMPLES = {one.name: one for one in examples() if one.examples}


@pytest.mark.parametrize("name", EXAMPLES)
def test_the_example_does_what_it_says(name: str) -> None:
    told: list[str] = []
    runner = doctest.DocTestRunner(optionflags=FLAGS)
    failed, tried = runner.run(EXAMPLES[name], out=told.append)
    assert tried
    assert not failed, "".join(told)


@pytest.mark.parametrize("one", [one for one in PUBLIC if inspect.isfunction(one)])
def test_every_public_function_has_an_example(one: object) -> None:
    assert ">>>" in (inspect.getdoc(one) or "")


def test_help_begins_with_an_example_that_fits_a_night() -> None:
    assert "pm.fit(" in (pm.__doc__ or "")
    assert "pointmodel" in EXAMPLES
