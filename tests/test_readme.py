"""README's examples do what README says."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

import pointmodel as pm

ROOT = Path(__file__).parents[1]
README = (ROOT / "README.md").read_text(encoding="utf-8")


def _blocks(language: str) -> list[str]:
    return re.findall(rf"^```{language}\n(.*?)^```$", README, re.MULTILINE | re.DOTALL)


def test_the_first_two_fenced_blocks_are_the_two_commands() -> None:
    first, second = re.findall(r"^```(\w*)\n(.*?)^```$", README, re.MULTILINE | re.DOTALL)[:2]
    assert (first[0], second[0]) == ("bash", "bash")
    assert "pointmodel fit data/leaning.csv" in first[1]
    assert "pytest" in second[1]


def test_the_python_example_runs(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(ROOT)
    for block in _blocks("python"):
        exec(compile(block, "README.md", "exec"), {})
    printed = capsys.readouterr().out
    assert "Set aside: lines 10 and 19." in printed
    assert "collimation" in printed


def test_the_example_of_a_log_can_be_read(tmp_path: Path) -> None:
    (block,) = _blocks("csv")
    path = tmp_path / "night.csv"
    path.write_text(block, encoding="utf-8")
    log = pm.read_log(path)
    assert log.target == ("Achernar", "Canopus")
    assert log.centred_az_deg[0] == pytest.approx(206.0 + 1.2 / 60.0)
