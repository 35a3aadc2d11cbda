"""Faults put into copies of the program, one at a time: which do the tests notice?

    python tests/bench/faults.py                      # all of them
    python tests/bench/faults.py noise suspects       # those whose name holds one of these words

Each fault is (name, file, old text, new text, tests that should notice). It is put into a copy of
its own; the tests named are run there; what lived is told at the end, and the exit code is 1.
"""

from __future__ import annotations

import argparse
import os
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path
from typing import NamedTuple

ROOT = Path(__file__).parents[2]
COPIED = ("pointmodel", "tests", "data", "reports", "pyproject.toml", "README.md", "DEVELOPERS.md")
RULES = "tests/test_rules.py"
AT_MOST_S = 900


class Fault(NamedTuple):
    """One fault: what it is, where it goes, and which tests should notice it."""

    name: str
    file: str
    old: str
    new: str
    tests: tuple[str, ...] = (RULES,)


POSTERIOR = "pointmodel/estimate/posterior.py"
PRIORS = "pointmodel/mount/priors.py"
SEARCH = "pointmodel/estimate/search.py"
FORECAST = "pointmodel/forecasting/forecast.py"
PENSLIPS = "tests/test_badpairs.py"
BENT = "tests/test_bent_figures.py"

FAULTS = (
    Fault(
        "scatter missing in the misses drawn for targets",
        FORECAST,
        "miss += outlook.scatter_arcmin[::step, None] *",
        "miss += 0.0 * outlook.scatter_arcmin[::step, None] *",
        (f"{RULES}::test_misses_of_scatter_alone_are_those_of_rayleigh",),
    ),
    Fault(
        "high end of a forecast at 95 %",
        FORECAST,
        "rms_high_arcmin=_point(rms, 0.975)",
        "rms_high_arcmin=_point(rms, 0.95)",
        (f"{RULES}::test_a_forecast_ends_where_a_fortieth_lies_beyond",),
    ),
    Fault(
        "no neighbouring models averaged",
        POSTERIOR,
        "MOST_MODELS = 10",
        "MOST_MODELS = 1",
        (f"{RULES}::test_the_first_neighbour_is_averaged_too",),
    ),
    Fault(
        "the first neighbouring model skipped",
        POSTERIOR,
        "for new in additions[: MOST_MODELS - models]:",
        "for new in additions[1 : MOST_MODELS - models]:",
        (f"{RULES}::test_the_first_neighbour_is_averaged_too",),
    ),
    Fault(
        "deletions not averaged",
        POSTERIOR,
        "mixes += [mix_of(table, model, prior, without.noise) for prior in kept]",
        "mixes += []",
        (f"{RULES}::test_values_are_averaged_over_the_model_its_deletions_additions_and_swaps",),
    ),
    Fault(
        "what would do instead not averaged",
        POSTERIOR,
        "swaps = _instead(without, gone, candidate)",
        "swaps: list[Addition] = []",
        (f"{RULES}::test_values_are_averaged_over_the_model_its_deletions_additions_and_swaps",),
    ),
    Fault(
        "noise alike from star to star not thought of",
        POSTERIOR,
        "mixes += _noise_alike(result, places, near)",
        "pass",
        (BENT,),
    ),
    Fault(
        "memory of the noise taken out without its stretch",
        POSTERIOR,
        "return free, float(-2.0 * np.log(left).sum())",
        "return free, 0.0",
        (BENT,),
    ),
    Fault(
        "centre of the noise prior doubled",
        PRIORS,
        "SIGMA_ARCMIN, LOG_SIGMA_SD = 1.3, 0.8",
        "SIGMA_ARCMIN, LOG_SIGMA_SD = 2.6, 0.8",
        (f"{RULES}::test_stars_are_expected_to_be_centred_to_an_arcminute_or_so",),
    ),
    Fault(
        "prior of a bad pair a hundredth",
        PRIORS,
        "PROBABILITY_BAD = 0.04",
        "PROBABILITY_BAD = 0.0004",
        (f"{RULES}::test_one_line_in_twenty_five_is_bad_and_what_that_costs",),
    ),
    Fault(
        "wrong stars within one degree",
        PRIORS,
        "WRONG_STAR_WITHIN_ARCMIN, PROBABILITY_WITHIN = 600.0",
        "WRONG_STAR_WITHIN_ARCMIN, PROBABILITY_WITHIN = 60.0",
        (f"{RULES}::test_a_wrong_star_is_expected_as_far_off_as_people_find_one",),
    ),
    Fault(
        "suspects from five sigma",
        SEARCH,
        "SUSPECT_SQUARE = 9.0",
        "SUSPECT_SQUARE = 25.0",
        (f"{RULES}::test_a_line_is_set_aside_from_some_five_sigma_on_and_suspected_before",),
    ),
    Fault(
        "a majority of lines may be set aside",
        SEARCH,
        "if 2 * (np.count_nonzero(good) - 1) < good.size:",
        "if False:",
        (f"{RULES}::test_half_the_lines_always_stay",),
    ),
    Fault(
        "likely above .5",
        PRIORS,
        "LIKELY_ABOVE = 0.8",
        "LIKELY_ABOVE = 0.5",
        (f"{RULES}::test_verdicts_go_by_the_figures_that_readme_promises",),
    ),
    Fault(
        "possible above .2",
        PRIORS,
        "POSSIBLE_ABOVE = 0.05",
        "POSSIBLE_ABOVE = 0.2",
        (f"{RULES}::test_verdicts_go_by_the_figures_that_readme_promises",),
    ),
    Fault(
        "healthy below .6",
        PRIORS,
        "HEALTHY_BELOW = 0.3",
        "HEALTHY_BELOW = 0.6",
        (f"{RULES}::test_verdicts_go_by_the_figures_that_readme_promises",),
    ),
    Fault(
        "a lean real at 90 %",
        "pointmodel/diagnosis/lean.py",
        "REAL_LEAN = 9.21",
        "REAL_LEAN = 4.61",
        (f"{RULES}::test_a_lean_is_real_where_chance_makes_one_in_a_hundred",),
    ),
    Fault(
        "determined up to 1.5",
        "pointmodel/estimate/identify.py",
        "DETERMINED_BELOW, WEAK_BELOW = 1.15",
        "DETERMINED_BELOW, WEAK_BELOW = 1.5",
        (f"{RULES}::test_what_is_called_determined_hardly_widens_with_its_prior",),
    ),
    Fault(
        "inseparable terms never named",
        "pointmodel/estimate/identify.py",
        "if known[i] < 1.0]",
        "if known[i] < 0.0]",
        (f"{RULES}::test_what_stars_cannot_tell_apart_is_named_and_what_they_can_is_not",),
    ),
    Fault(
        "readout step 60 times too small",
        "pointmodel/estimate/reported.py",
        "step_arcsec = 60.0 * solution",
        "step_arcsec = 1.0 * solution",
        (f"{RULES}::test_the_readout_step_is_told_in_arcseconds",),
    ),
    Fault(
        "noise not shared among nights",
        "pointmodel/comparing/pooling.py",
        "drawn = drawn_variance * (weight[0] * mean + weight[1] * pooled.mean)",
        "drawn = mean",
        (f"{RULES}::test_a_night_whose_pairs_happen_to_agree_is_drawn_toward_the_others",),
    ),
    Fault(
        "noise of nights without its variances",
        "pointmodel/comparing/pooling.py",
        "np.exp(2.0 * (mean + variance - drawn - drawn_variance))",
        "np.exp(2.0 * (mean - drawn))",
        (f"{RULES}::test_how_surely_noise_is_known_counts_in_what_a_night_tells",),
    ),
    Fault(
        "5° is no slip of the pen",
        "pointmodel/estimate/penslips.py",
        '    (5.0, ("azimuth", "altitude"), 0.015),\n',
        "",
        (PENSLIPS,),
    ),
    Fault(
        "the figure that would be right is the one logged",
        "pointmodel/estimate/reported.py",
        "right = _logged_deg(side, pair, obs) + change_deg",
        "right = _logged_deg(side, pair, obs)",
        (PENSLIPS,),
    ),
    Fault(
        "the other side's figure with the wrong sign",
        "pointmodel/estimate/reported.py",
        "ways.append(_side_words(other, -change,",
        "ways.append(_side_words(other, change,",
        (PENSLIPS,),
    ),
    Fault(
        "minutes as decimals read as hundredths of a minute",
        "pointmodel/estimate/penslips.py",
        "minutes = (size - whole) * 100.0",
        "minutes = (size - whole) * 60.0",
        (PENSLIPS,),
    ),
    Fault(
        "copied lines are compared with the line after",
        "pointmodel/estimate/badpairs.py",
        "before = np.where(which > 0, np.degrees(figures[:, which - 1]), np.nan)",
        "before = np.where(which > 0, np.degrees(figures[:, which - 2]), np.nan)",
        (PENSLIPS,),
    ),
    Fault(
        "digits of minutes are never wrong",
        "pointmodel/estimate/lostfigures.py",
        "(1.0, 10), (1.0 / 6.0, 6), (0.1, 10))",
        "(1.0, 10))",
        (PENSLIPS,),
    ),
)


def copy_of(root: Path, into: Path) -> None:
    """Copy what the tests need."""
    for name in COPIED:
        source = root / name
        if source.is_dir():
            ignored = shutil.ignore_patterns("__pycache__", "*.pyc")
            shutil.copytree(source, into / name, ignore=ignored)
        else:
            shutil.copy2(source, into / name)


def put_in(fault: Fault, root: Path) -> None:
    """Put a fault into a copy. Raises ValueError where its old text stands not once."""
    path = root / fault.file
    text = path.read_text("utf-8")
    if text.count(fault.old) != 1:
        raise ValueError(f"{fault.name}: the old text stands {text.count(fault.old)} times")
    path.write_text(text.replace(fault.old, fault.new), "utf-8")


def is_noticed(fault: Fault) -> bool:
    """Whether one of the tests named fails with the fault in place."""
    with tempfile.TemporaryDirectory() as folder:
        root = Path(folder)
        copy_of(ROOT, root)
        put_in(fault, root)
        command = [
            sys.executable,
            "-m",
            "pytest",
            "-q",
            "-p",
            "no:cacheprovider",
            *fault.tests,
        ]
        ran = subprocess.run(
            command,
            cwd=root,
            env=os.environ | {"PYTHONPATH": str(root)},
            capture_output=True,
            text=True,
            timeout=AT_MOST_S,
        )
    if ran.returncode not in (0, 1):
        raise ValueError(f"{fault.name}: the tests did not run: {ran.stdout[-500:]}{ran.stderr}")
    return ran.returncode == 1


def main() -> int:
    """Put the faults in that were asked for; return 1 where one lived."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("words", nargs="*", help="left out: all faults")
    words = parser.parse_args().words
    asked = [f for f in FAULTS if not words or any(word in f.name for word in words)]
    lived = []
    for fault in asked:
        try:
            noticed = is_noticed(fault)
        except ValueError as error:
            print(error)
            noticed = False
        print(f"{'noticed' if noticed else 'LIVED'}: {fault.name}", flush=True)
        if not noticed:
            lived.append(fault.name)
    print(f"{len(asked) - len(lived)} of {len(asked)} noticed; lived: {lived or 'none'}")
    return 1 if lived else 0


if __name__ == "__main__":
    sys.exit(main())
