"""Faults in what is promised: the estimator's rules and figures, verdicts, safe writing."""

from __future__ import annotations

from bench.fault import Fault

RULES = "tests/test_rules.py"
POSTERIOR = "pointmodel/estimate/posterior.py"
PRIORS = "pointmodel/mount/priors.py"
SEARCH = "pointmodel/estimate/search.py"
FORECAST = "pointmodel/forecasting/forecast.py"
PENSLIPS = "tests/test_badpairs.py"
BENT = "tests/test_bent_figures.py"
OWN_FILES = "pointmodel/base/ownfiles.py"
LOG_FILE = "pointmodel/recording/logfile.py"
POWER = "tests/test_record_powercut.py"
REMARK = "tests/test_record_remark.py"
FIELD = "tests/test_level_in_the_field.py"
ENTERED = "tests/test_check_entered.py"

OF_WHAT_IS_PROMISED = (
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
        (f"{BENT}::test_what_would_do_instead_counts_though_nothing_more_is_taken_up_besides",),
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
    Fault(
        "chance counted over twice the field",
        FORECAST,
        "np.searchsorted(sample, 0.5 * field)",
        "np.searchsorted(sample, 1.0 * field)",
        (f"{RULES}::test_misses_of_scatter_alone_are_those_of_rayleigh",),
    ),
    Fault(
        "a target's chance counted over twice the field",
        "pointmodel/aiming/aim.py",
        "np.mean(misses_arcmin <= 0.5 * field_arcmin)",
        "np.mean(misses_arcmin <= 1.0 * field_arcmin)",
        ("tests/test_aiming.py",),
    ),
    Fault(
        "lean after levelling without the hand's error",
        "pointmodel/levelling/level.py",
        "left = left + hand_errors_arcmin(",
        "left = left + 0.0 * hand_errors_arcmin(",
        (FIELD,),
    ),
    Fault(
        "no summer time in January at 43° S",
        "pointmodel/entries/circumstances.py",
        "summer=offset_s > standard_s,",
        "summer=False,",
        (ENTERED, "tests/test_check.py"),
    ),
    Fault(
        "a zone that has no summer time in January at 43° S",
        "pointmodel/entries/circumstances.py",
        "has_summer=has_summer,",
        "has_summer=False,",
        (ENTERED,),
    ),
    Fault(
        "summer time typed with the other sign",
        "pointmodel/entries/typed.py",
        "HOUR_S if right.summer else -HOUR_S, flag",
        "-HOUR_S if right.summer else HOUR_S, flag",
        (ENTERED,),
    ),
    Fault(
        "check's share of wrong names ten times",
        "pointmodel/entries/odds.py",
        "BAD_SHARE = 0.03",
        "BAD_SHARE = 0.3",
        ("tests/test_check.py",),
    ),
    Fault(
        "check's covariance halved",
        "pointmodel/entries/believed.py",
        "covariance=covariance[k] * excess[k] + shared,",
        "covariance=0.5 * covariance[k] * excess[k] + shared,",
        (
            "tests/test_check_figures.py::test_sharp_entries_are_named_as_often_as_is_promised_and_ranges_hold",
        ),
    ),
    Fault(
        "a file rewritten in place",
        OWN_FILES,
        "    with _written_beside(path, data) as beside:\n        os.replace(beside, path)\n",
        "    path.write_bytes(data)\n",
        (POWER,),
    ),
    Fault(
        "a rewritten file without fsync",
        OWN_FILES,
        "            os.fsync(fd)\n            if sys.platform ==",
        "            if sys.platform ==",
        (POWER,),
    ),
    Fault(
        "a line appended without fsync",
        LOG_FILE,
        "            write_all(fd, data)\n            os.fsync(fd)\n",
        "            write_all(fd, data)\n",
        (POWER,),
    ),
    Fault(
        "the folder not synced",
        OWN_FILES,
        "            os.fsync(fd)\n        finally:\n            os.close(fd)\n\n\ndef refusal",
        "            pass\n        finally:\n            os.close(fd)\n\n\ndef refusal",
        (POWER,),
    ),
    Fault(
        "record's misfit threshold ten times",
        "pointmodel/recording/remark.py",
        "CHANCE_OF_FITTING, TIMES_THE_USUAL = 0.01, 3.0",
        "CHANCE_OF_FITTING, TIMES_THE_USUAL = 0.1, 3.0",
        (REMARK,),
    ),
)
