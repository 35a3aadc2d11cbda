"""What is imported: nothing heavy for a fit without its page, nothing heavy with the package."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

import pointmodel as pm

LEANING = str(Path(__file__).parent.parent / "data" / "leaning.csv")
HEAVY = ("pandas", "scipy", "lmfit", "matplotlib", "jinja2")
SLOW_TOO = (*HEAVY, "rich", "pointmodel.fitting.page", "pointmodel.fitting.pictures")


def imported_after(code: str, names: tuple[str, ...]) -> list[str]:
    """Which of these modules a fresh interpreter has loaded once it has run some code."""
    program = (
        f"import sys\n{code}\nprint(*[n for n in {names!r} if n in sys.modules], file=sys.stderr)"
    )
    result = subprocess.run(
        [sys.executable, "-c", program], capture_output=True, text=True, check=True
    )
    return result.stderr.split()


def command(*args: str) -> str:
    return (
        "from pointmodel.cli import main\n"
        f"sys.argv = ['pointmodel', *{args!r}]\n"
        "try:\n    main()\nexcept SystemExit as stop:\n    assert not stop.code"
    )


def test_the_package_comes_without_anything_heavy() -> None:
    assert imported_after("import pointmodel", (*SLOW_TOO, "click")) == []


def test_a_fit_without_its_page_imports_nothing_heavy() -> None:
    assert imported_after(command("fit", LEANING, "--no-report"), HEAVY) == []


def test_documents_need_no_library_that_sets_text() -> None:
    code = command("fit", LEANING, "--no-report", "--json")
    assert imported_after(code, SLOW_TOO) == []


def test_corrected_positions_import_nothing_heavy() -> None:
    assert imported_after(command("aim", LEANING, "10,45"), HEAVY) == []


def test_what_is_asked_at_the_telescope_imports_nothing_heavy() -> None:
    mount = str(Path(LEANING).parent / "mount.toml")
    at = ("--at", "2031-05-17T20:00+10:00", "--json")
    assert imported_after(command("plan", "--mount", mount, *at), SLOW_TOO) == []
    assert imported_after(command("check", LEANING, "--json"), SLOW_TOO) == []


def test_the_sky_is_not_loaded_by_the_package_alone() -> None:
    assert imported_after("import pointmodel", ("erfa", "pointmodel.entries.check")) == []


@pytest.mark.parametrize("name", pm.__all__)
def test_every_public_name_is_there_and_says_what_it_is(name: str) -> None:
    assert getattr(pm, name).__doc__


def test_the_functions_are_not_hidden_by_modules_of_their_name() -> None:
    code = "import pointmodel.simulation.simulate, pointmodel as pm; assert callable(pm.simulate)"
    assert imported_after(code, ("pandas",)) == []
