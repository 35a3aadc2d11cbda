"""The example scripts run as they stand, without a warning, and do what they say."""

from __future__ import annotations

import re
import runpy
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

EXAMPLES = Path(__file__).parents[1] / "data" / "examples"


@pytest.fixture
def printed_by(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> Callable[..., str]:
    """What a script prints, run as it stands, where a warning is an error."""

    def printed(script: str, *arguments: str) -> str:
        monkeypatch.setattr(sys, "argv", [script, *arguments])
        runpy.run_path(str(EXAMPLES / script), run_name="__main__")
        return capsys.readouterr().out

    return printed


def test_a_frame_of_one_s_own_is_fitted_and_drawn(
    tmp_path: Path, printed_by: Callable[..., str]
) -> None:
    told = printed_by("fit_a_frame.py", str(tmp_path))
    assert "a value is missing" in told
    assert "Worst left over in height: shot 10" in told
    assert (tmp_path / "fit-a-frame.png").read_bytes().startswith(b"\x89PNG")


def test_a_season_is_mapped_over_the_workers_of_dask() -> None:
    """In a process of its own: its workers start others."""
    command = [sys.executable, "-W", "error", str(EXAMPLES / "season_over_dask.py")]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    told = done.stdout
    assert "Collimation moved by" in told
    assert "Three stars with the season" in told


def test_priors_and_plain_least_squares_are_compared(
    tmp_path: Path, printed_by: Callable[..., str]
) -> None:
    told = printed_by("priors_and_plain.py", str(tmp_path), "--nights", "2")
    half = {}
    for way in ("estimator", "lmfit, with priors", "lmfit, plain"):
        found = re.search(rf"^{way}, collimation, by stars: 4: ±([\d.]+)′", told, re.MULTILINE)
        assert found is not None
        half[way] = float(found[1])
    # four stars are eight figures for six terms and the noise
    assert half["lmfit, plain"] > 2.0 * half["estimator"]
    assert half["lmfit, with priors"] < 1.5 * half["estimator"]
    assert "<svg" in (tmp_path / "priors-and-plain.svg").read_text(encoding="utf-8")


@pytest.mark.parametrize("script", sorted(path.name for path in EXAMPLES.glob("*.py")))
def test_every_example_says_how_to_run_it_and_is_told_beside_the_nights(script: str) -> None:
    text = (EXAMPLES / script).read_text(encoding="utf-8")
    assert f"python data/examples/{script}" in text
    assert f"`examples/{script}`" in (EXAMPLES.parent / "README.md").read_text(encoding="utf-8")
