"""What is far longer, larger or stranger than anything a person writes is refused, and unread."""

from __future__ import annotations

import io
import json
import re
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from re import _compiler, _constants, _parser  # type: ignore[attr-defined]
from typing import Any

import pytest

import pointmodel as pm
from pointmodel.aiming.targets import asked_targets
from pointmodel.base.errors import InputError
from pointmodel.base.times import (
    TimeTextError,
    named_zone,
    parse_clock_s,
    parse_moment,
    parse_utc_offset_s,
    parse_zone_name,
)
from pointmodel.base.wording import LONGEST_FIGURE
from pointmodel.estimate.profile import PROFILE_SCHEMA, read_profile
from pointmodel.mount.terms import STANDARD_NAMES
from pointmodel.reading import columns, remarks, rows, sheetnumbers, table, toml, xlsx
from pointmodel.reading.dates import time_of_day
from pointmodel.reading.mountfile import read_mount
from pointmodel.reading.nightlog import read_log
from pointmodel.reading.nudges import parse_nudge_arcmin
from pointmodel.sky.names import LONGEST_TARGET
from pointmodel.sky.radec import parse_right_ascension_deg
from pointmodel.sky.targets import find_target, look_up

ROOT = Path(__file__).parents[1]
HEALTHY = ROOT / "data" / "healthy.csv"
LONG = LONGEST_FIGURE + 1


def test_times_and_figures_longer_than_any_are_refused_though_they_would_be_right() -> None:
    zeros = "0" * LONG
    for text in (f"2031-05-17T21:04:30.{zeros}+10:00", f"2031-05-17T21:04{' ' * LONG}Z"):
        with pytest.raises(TimeTextError, match="date and time such as"):
            parse_moment(text)
    assert time_of_day(f"21:04:30.{zeros}") is None
    with pytest.raises(TimeTextError, match="a clock time such as"):
        parse_clock_s(f"21:00:40.{zeros}")
    with pytest.raises(TimeTextError, match="an offset from UTC"):
        parse_utc_offset_s(f"UTC{' ' * LONG}+10")
    with pytest.raises(ValueError, match="a right ascension in hours"):
        parse_right_ascension_deg(f"5{' ' * LONG}h 30")
    with pytest.raises(ValueError, match="arcminutes such as 12"):
        parse_nudge_arcmin(f"12.{zeros}", "nudge_up", False, None)


@pytest.mark.parametrize("name", [".9" * 500, "Australia.Hobart", "../etc/passwd", "x" * 65, "\0"])
def test_names_of_zones_are_not_looked_for_as_modules_or_files(name: str) -> None:
    with pytest.raises(TimeTextError, match="a zone name such as"):
        parse_zone_name(name)
    with pytest.raises(ValueError, match="no name of a zone"):
        named_zone(name)


def test_targets_longer_than_any_are_refused_though_they_would_be_right() -> None:
    padded = f"05:34:31{' ' * LONGEST_TARGET}+22:00:52"
    assert look_up(padded) is None
    with pytest.raises(InputError, match="a star"):
        find_target(padded)
    with pytest.raises(InputError, match="azimuth and altitude in degrees"):
        asked_targets([f"123.5,{' ' * 200}45"])


UNBOUNDED = (int(_constants.MAXREPEAT), 40)  # as good as unbounded from forty on
SAMPLE = " \t" + "09aAhzZ_" + "#[]()=.,:;+-'\"°/\\*"


def repeats(parsed: Any) -> Iterator[tuple[bool, set[str]]]:
    """Each item of a pattern in order: whether it may repeat without end, and of which letters."""
    for operation, argument in parsed:
        name = str(operation)
        if name in ("MAX_REPEAT", "MIN_REPEAT"):
            _, most, inner = argument
            endless = int(most) >= min(UNBOUNDED)
            yield endless, letters(inner)
            if endless:
                inside = list(repeats(inner))
                held = all(one for one, _ in inside) and bool(inside)
                assert not held, "a repeat in a repeat"
        elif name == "SUBPATTERN":
            yield from repeats(argument[-1])
        elif name == "BRANCH":
            for branch in argument[1]:
                yield from repeats(branch)
        elif name not in ("AT", "ASSERT", "ASSERT_NOT"):
            yield False, set()


def letters(parsed: Any) -> set[str]:
    """Letters of the sample that a part of a pattern may consist of."""
    single = [item for item in parsed if str(item[0]) in ("IN", "LITERAL", "NOT_LITERAL", "ANY")]
    found: set[str] = set()
    for item in single:
        pattern = _parser.SubPattern(_parser.State(), [item])
        matcher = _compiler.compile(pattern)
        found |= {letter for letter in SAMPLE if matcher.match(letter)}
    return found


def patterns_of_whole_lines() -> list[re.Pattern[str]]:
    """Patterns that are tried on lines and cells of any length."""
    modules = (rows, table, columns, remarks, toml, sheetnumbers, xlsx)
    return [
        value
        for module in modules
        for value in vars(module).values()
        if isinstance(value, re.Pattern)
    ]


def test_no_two_endless_repeats_that_share_a_letter_stand_side_by_side() -> None:
    """Where they do, a text that fails takes the square of its length; three take the cube."""
    for pattern in patterns_of_whole_lines():
        before: set[str] | None = None
        for endless, found in repeats(_parser.parse(pattern.pattern, pattern.flags)):
            if not endless:
                before = None
                continue
            assert before is None or not before & found, pattern.pattern
            before = found


def test_the_check_of_patterns_finds_what_it_looks_for() -> None:
    items = list(repeats(_parser.parse(r"\s*(\S.*?)\s*")))
    assert [endless for endless, _ in items] == [True, False, True, True]
    assert items[2][1] & items[3][1] == {" ", "\t"}
    with pytest.raises(AssertionError, match="a repeat in a repeat"):
        list(repeats(_parser.parse(r"(?:a+)*b")))


def mount_problem(text: str, tmp_path: Path) -> Any:
    path = tmp_path / "mount.toml"
    path.write_text(text)
    with pytest.raises(InputError) as caught:
        read_mount(path)
    (problem,) = caught.value.problems
    return problem


def test_endless_keys_and_files_are_refused_before_they_are_parsed(tmp_path: Path) -> None:
    problem = mount_problem(f"[site]\n{'.'.join('a' * 300)} = 1\n", tmp_path)
    assert (problem.line, problem.wanted) == (2, "a key of one word, such as latitude")
    problem = mount_problem("# " + "x" * toml.LARGEST_BYTES, tmp_path)
    assert problem.found == "1.0 MB of text"
    remark = tmp_path / "mount.toml"
    remark.write_text(f"# {'.' * 300} = 1\n[mount]\nname = '{'.' * 300}'\n")
    assert read_mount(remark).name == "." * 300


def test_table_headers_keep_their_lines_whatever_blanks_stand_in_them(tmp_path: Path) -> None:
    problem = mount_problem("\n  [  site  ]\nlatitude = 95.5\n", tmp_path)
    assert (problem.line, problem.column) == (3, "site.latitude")
    problem = mount_problem("\n [[ site ]]\nlatitude = 1\n", tmp_path)
    assert (problem.line, problem.column) == (2, "site")


def test_numbers_of_hundreds_of_digits_are_refused_at_their_line(tmp_path: Path) -> None:
    problem = mount_problem(f"[site]\nutc_offset = {'9' * 400}\n", tmp_path)
    assert (problem.line, problem.column) == (2, "site.utc_offset")
    assert "within 14 hours" in problem.wanted
    problem = mount_problem(f"[site]\nlatitude = 1\nlongitude = {'9' * 5000}\n", tmp_path)
    assert (problem.line, problem.wanted) == (3, "a figure of fewer digits")
    log = io.StringIO(f"# [alignment] stars = {'9' * 5000}\n" + HEALTHY.read_text(encoding="utf-8"))
    assert "remark_not_understood" in [notice.code for notice in read_log(log).warnings]


@pytest.mark.parametrize("target", ["5;30,1;45", (10**400, 45), ("5;30", "1")])
def test_targets_with_too_many_marks_or_digits_are_no_places(target: Any) -> None:
    with pytest.raises(InputError, match="azimuth and altitude in degrees"):
        asked_targets([target])


def test_decimal_commas_of_azimuth_and_altitude_are_still_read() -> None:
    assert asked_targets(["123,5;45,25"])[0].place_deg == (123.5, 45.25)


def profile(**changed: Any) -> dict[str, Any]:
    count = len(STANDARD_NAMES)
    square = [[float(row == column) for column in range(count)] for row in range(count)]
    held = {"schema": PROFILE_SCHEMA, "terms": list(STANDARD_NAMES), "mean": [0.0] * count,
            "covariance": square, "log_sigma": {"mean": 0.0, "sd": 0.5}, "nights": 3}  # fmt: skip
    return held | changed


def test_a_covariance_of_other_rows_than_terms_is_refused() -> None:
    square = profile()["covariance"]
    assert read_profile(profile()) is not None
    for covariance in (square[:4], [*square, square[0]], [], [row[:4] for row in square]):
        with pytest.raises(InputError, match="another length than terms"):
            read_profile(profile(covariance=covariance))
    huge = [[1e300 * figure for figure in row] for row in square]
    with pytest.raises(InputError, match="figures that no mount can have"):
        read_profile(profile(covariance=huge))


def test_whole_numbers_of_hundreds_of_digits_are_out_of_every_bound() -> None:
    with pytest.raises(InputError, match="slip_after_pair") as caught:
        pm.simulate(slip_after_pair=10**400, sigma_arcmin=10**400)
    assert len(caught.value.problems) == 2


def test_half_letters_are_refused_like_other_wrong_values() -> None:
    with pytest.raises(InputError, match="a part missing or misshapen"):
        read_profile({**profile(), "\ud800": 1})
    with pytest.raises(InputError, match=r'wanted "axes" or "sky"'):
        read_mount({"mount": {"readout": "\ud800"}})


@pytest.fixture(scope="module")
def saved(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Any]:
    path = tmp_path_factory.mktemp("saved") / "fit.json"
    pm.fit(HEALTHY).save(path)
    return dict(json.loads(path.read_text(encoding="utf-8")))


@pytest.mark.parametrize(
    ("place", "value"),
    [
        (("columns", "time_s"), 1e12),
        (("columns", "commanded_time_s"), -1e12),
        (("columns", "time_s"), 1e300),
        (("noted",), [1e300, 1.0, None]),
        (("noted",), [1.0, 1.0, 1e12]),
    ],
)
def test_saved_fits_with_impossible_moments_are_refused(
    saved: dict[str, Any], tmp_path: Path, place: tuple[str, ...], value: Any
) -> None:
    changed = json.loads(json.dumps(saved))
    held = changed["fitted_log"]
    pairs = len(held["columns"]["line"])
    for name in place[:-1]:
        held = held[name]
    held[place[-1]] = [value] * pairs
    path = tmp_path / "fit.json"
    path.write_text(json.dumps(changed))
    with pytest.raises(InputError, match="a saved fit that was changed or cut short"):
        pm.load_fit(path)


def test_an_unknown_drawing_backend_does_not_matter_to_a_page(tmp_path: Path) -> None:
    done = subprocess.run(
        [sys.executable, "-m", "pointmodel", "fit", str(HEALTHY), "--report", "night.html"],
        cwd=tmp_path,
        env={"MPLBACKEND": "nonsense", "PYTHONPATH": str(ROOT), "PATH": "/usr/bin:/bin"},
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    assert "<svg" in (tmp_path / "night.html").read_text(encoding="utf-8")
