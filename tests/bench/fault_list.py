"""Faults that a test must notice: what each is, where it goes, and which tests should fail.

`faults.py` puts them in and runs the tests. The first list holds faults of the estimator and of
what is promised of it, the second those of everything around it.
"""

from __future__ import annotations

from typing import NamedTuple

RULES = "tests/test_rules.py"


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

LADDER = "pointmodel/advising/ladder.py"
STAND = "pointmodel/levelling/stand.py"
SHEETPARTS = "pointmodel/reading/sheetparts.py"
PREPARED = "pointmodel/fitting/prepared.py"
MOVE = "pointmodel/estimate/moves.py"
OWN_TERM = "pointmodel/mount/ownterms.py"
ADVISING = ("tests/test_advising.py",)
READINGS = "tests/test_readings.py"
OTHERS = "tests/test_record_others.py"
SHEETS = "tests/test_sheets.py"
CELLS = "pointmodel/reading/freetext.py"
FREETEXT = "tests/test_free_text.py"
PLOTS = "tests/test_plots.py"
MOVES = "tests/test_moves.py"
OWN = "tests/test_own_terms.py"
PARAMETERS = "tests/test_parameters.py"

AROUND_IT = (
    Fault(
        "the miss after a step is that of the step alone",
        "pointmodel/advising/advise.py",
        "ladder.forecast(done) if told else None",
        "ladder.forecast((name,)) if told else None",
        (*ADVISING,),
    ),
    Fault(
        "a lean that a clock could feign is levelled at once",
        "pointmodel/advising/advise.py",
        'if "level" in chosen.thorough and grounds.cleared is None:',
        "if False:",
        (*ADVISING,),
    ),
    Fault(
        "a quick way that is no quicker",
        LADDER,
        "shorter = self.minutes(quick) < self.minutes(thorough)",
        "shorter = True",
        (*ADVISING,),
    ),
    Fault(
        "corrections go before any zero",
        LADDER,
        "FAR_FIELDS = 2.0",
        "FAR_FIELDS = 200.0",
        (*ADVISING,),
    ),
    Fault(
        "ways of four actions",
        LADDER,
        "MOST_ACTIONS = 3",
        "MOST_ACTIONS = 4",
        (*ADVISING,),
    ),
    Fault(
        "cures are ended by any zeroing",
        LADDER,
        'return not cures or ending == ("realign" if self.aligned else "zero_on_star")',
        "return True",
        (*ADVISING,),
    ),
    Fault(
        "a fiftieth of the miss is worth a remedy",
        "pointmodel/forecasting/worth.py",
        "WORTH_CHANCE, WORTH_SHARE, WORTH_SHARE_OF_FIELD = 0.02, 0.2, 0.125",
        "WORTH_CHANCE, WORTH_SHARE, WORTH_SHARE_OF_FIELD = 0.02, 0.02, 0.0125",
        (*ADVISING,),
    ),
    Fault(
        "feet are turned by one star after a knock",
        "pointmodel/advising/grounds.py",
        "FEWEST_AFTER_MOVE = 4",
        "FEWEST_AFTER_MOVE = 1",
        (
            MOVES,
            *ADVISING,
        ),
    ),
    Fault(
        "feet are turned though the figures may mean something else",
        "pointmodel/advising/grounds.py",
        "if grounds.readings.feet_wait is not None:",
        "if False:",
        (READINGS,),
    ),
    Fault(
        "an unconfirmed alignment is asked about of a good mount",
        "pointmodel/readings/question.py",
        "if prospects.good_now:",
        "if False:",
        ("tests/test_question.py",),
    ),
    Fault(
        "presses denied by the owner are looked for",
        "pointmodel/readings/weigh.py",
        'if alignment.presses in ("none", "each_star", "logged") or',
        'if alignment.presses in ("each_star", "logged") or',
        (READINGS,),
    ),
    Fault(
        "presses take the miss of their own line alone",
        "pointmodel/readings/sums.py",
        "upto = np.cumsum(taken, axis=-2)",
        "upto = taken",
        (READINGS,),
    ),
    Fault(
        "coarse displays are called pressed",
        "pointmodel/readings/pressed.py",
        "COARSE_STEP_ARCMIN = 2.0 * SIGMA_ARCMIN",
        "COARSE_STEP_ARCMIN = 20.0 * SIGMA_ARCMIN",
        (READINGS,),
    ),
    Fault(
        "nine lines in ten may be wrong",
        "pointmodel/readings/limits.py",
        "MOST_BAD = 0.45",
        "MOST_BAD = 0.9",
        (READINGS,),
    ),
    Fault(
        "three pairs fit no mount",
        "pointmodel/readings/nomount.py",
        "FEWEST_PAIRS = 4",
        "FEWEST_PAIRS = 2",
        (
            READINGS,
            "tests/test_readings_sky.py",
        ),
    ),
    Fault(
        "another reading is taken up at even odds",
        "pointmodel/readings/weigh.py",
        "TAKEN_UP_ABOVE = 3.0",
        "TAKEN_UP_ABOVE = -3.0",
        (READINGS,),
    ),
    Fault(
        "another program's save is written into",
        LOG_FILE,
        "if changed and told:",
        "if False:",
        (OTHERS,),
    ),
    Fault(
        "a line is buried in an open quotation",
        LOG_FILE,
        "            self._refuse_to_bury(line)\n",
        "",
        (
            OTHERS,
            "tests/test_record_log.py",
        ),
    ),
    Fault(
        "a last line without its end is run into the next",
        LOG_FILE,
        'if os.read(fd, 1) not in b"\\r\\n":',
        "if False:",
        ("tests/test_record_log.py",),
    ),
    Fault(
        "a line half written is taken for a pair",
        LOG_FILE,
        'return True\n    try:\n        layout = layout_of(data, "the log")',
        'return False\n    try:\n        layout = layout_of(data, "the log")',
        (
            "tests/test_record_log.py",
            POWER,
        ),
    ),
    Fault(
        "any file is taken for a lock",
        "pointmodel/recording/lock.py",
        'rb"process \\d+ on [^\\n]*, since [^\\n]*\\n"',
        'rb"[^\\n]*"',
        (
            "tests/test_record_log.py",
            OTHERS,
        ),
    ),
    Fault(
        "names of passing files can be foretold",
        OWN_FILES,
        "secrets.token_hex(_RANDOM_BYTES)",
        "'0' * (2 * _RANDOM_BYTES)",
        ("tests/test_ownfiles.py",),
    ),
    Fault(
        "what was only put right is written again",
        "pointmodel/recording/others.py",
        "and _figures(cells) not in there",
        "",
        (OTHERS,),
    ),
    Fault(
        "screws that reach ten times as far",
        STAND,
        "USUAL_TRAVEL_MM = 8.0",
        "USUAL_TRAVEL_MM = 80.0",
        (FIELD,),
    ),
    Fault(
        "the side to raise is the other one",
        STAND,
        "readings_at(model, (toward_az_deg, *at_feet))",
        "readings_at(model, (toward_az_deg + 180.0, *at_feet))",
        (FIELD,),
    ),
    Fault(
        "legs are set as finely as screws",
        STAND,
        'return self.by in (None, "screws")',
        "return True",
        (FIELD,),
    ),
    Fault(
        "the shakiest way to level comes first",
        STAND,
        '("lower_only", "raise_only", "least_travel")  # the',
        '("raise_only", "least_travel", "lower_only")  # the',
        (FIELD,),
    ),
    Fault(
        "a sheet unpacks to any size",
        SHEETPARTS,
        '        self._spend("bytes", info.file_size)\n',
        "",
        (SHEETS,),
    ),
    Fault(
        "a sheet has any number of tags",
        SHEETPARTS,
        '        self._spend("tags", content.count(b"<"))\n',
        "",
        (SHEETS,),
    ),
    Fault(
        "a sheet of any size is opened",
        SHEETPARTS,
        "if len(data) > MOST_FILE_BYTES:",
        "if False:",
        (SHEETS,),
    ),
    Fault(
        "entities of a sheet are unfolded",
        SHEETPARTS,
        "parser.StartDoctypeDeclHandler = _refuse_doctype",
        "parser.StartDoctypeDeclHandler = None",
        (SHEETS,),
    ),
    Fault(
        "a filled cell in the last column is read",
        "pointmodel/reading/sheetcells.py",
        "if not 1 <= column <= MOST_COLUMNS:",
        "if not 1 <= column <= LAST_COLUMN:",
        (SHEETS,),
    ),
    Fault(
        "any number of cells is read",
        "pointmodel/reading/sheetcells.py",
        "if self._area > MOST_CELLS:",
        "if False:",
        (SHEETS,),
    ),
    Fault(
        "a formula that begins with @ is run",
        CELLS,
        '_RUN = "=+@',
        '_RUN = "=+',
        (FREETEXT,),
    ),
    Fault(
        "a formula behind a separator inside a cell is run",
        CELLS,
        r'_BEGINS = re.compile(rf"(^|[,;\t][ \t]*)(?=',
        '_BEGINS = re.compile(rf"(^)(?=',
        (FREETEXT,),
    ),
    Fault(
        "the apostrophe is read as part of a note",
        CELLS,
        r'return _KEPT.sub(r"\1", cell) if name in FREE_TEXT else cell',
        "return cell",
        (FREETEXT,),
    ),
    Fault(
        "an apostrophe of the user's own is lost",
        CELLS,
        r"[ \t]*){_KEPT_A_TEXT}(?=",
        r"[ \t]*){_KEPT_A_TEXT}+(?=",
        (FREETEXT,),
    ),
    Fault(
        "east on the right of the dome",
        PREPARED,
        "return -from_zenith * np.sin(angle), ",
        "return from_zenith * np.sin(angle), ",
        (
            PLOTS,
            "tests/test_plotting.py",
        ),
    ),
    Fault(
        "up on the sky points away from the zenith",
        PREPARED,
        "-right * np.sin(angle) - up * np.cos(angle)",
        "-right * np.sin(angle) + up * np.cos(angle)",
        (
            PLOTS,
            "tests/test_plotting.py",
        ),
    ),
    Fault(
        "what lies beyond a scale of misses is not counted",
        PREPARED,
        "np.histogram(np.clip(known, *limits), edges)",
        "np.histogram(known, edges)",
        (
            PLOTS,
            "tests/test_plotting.py",
        ),
    ),
    Fault(
        "a scale of misses ends at the middle one",
        PREPARED,
        "(1.0, 99.5)",
        "(1.0, 50.0)",
        (
            PLOTS,
            "tests/test_plotting.py",
        ),
    ),
    Fault(
        "a key without a size that is there",
        PREPARED,
        "if s <= longest_arcmin)",
        "if s <= 0.1 * longest_arcmin)",
        (
            PLOTS,
            "tests/test_plotting.py",
        ),
    ),
    Fault(
        "only wildly loose logs are asked for moves",
        MOVE,
        "TIMES_USUAL_NOISE = 1.5",
        "TIMES_USUAL_NOISE = 15.0",
        (MOVES,),
    ),
    Fault(
        "a move changed terms the other way",
        MOVE,
        'removesuffix("_before")] = -value',
        'removesuffix("_before")] = value',
        (MOVES,),
    ),
    Fault(
        "a knock is dated a pair late",
        MOVE,
        "before = (np.arange(obs.count) < place).astype(float)",
        "before = (np.arange(obs.count) <= place).astype(float)",
        (MOVES,),
    ),
    Fault(
        "the lean of sinking ground is that of the start",
        MOVE,
        "since_end = hours - hours[-1]",
        "since_end = hours - hours[0]",
        (MOVES,),
    ),
    Fault(
        "a move half as likely as none is taken up",
        MOVE,
        "TAKEN_UP_ABOVE_NATS, POSSIBLE_ABOVE_NATS = 0.0, -2.0",
        "TAKEN_UP_ABOVE_NATS, POSSIBLE_ABOVE_NATS = -2.0, -2.0",
        (MOVES,),
    ),
    Fault(
        "a term of one's own takes the name of another",
        OWN_TERM,
        "if name in tuple(TERMS):",
        "if False:",
        (OWN,),
    ),
    Fault(
        "a term of one's own may be infinite",
        OWN_TERM,
        "if not np.isfinite(found).all():",
        "if False:",
        (OWN,),
    ),
    Fault(
        "a term of one's own counts an hour as nothing",
        OWN_TERM,
        '"arcmin/h": " an hour"',
        '"arcmin/h": ""',
        (OWN,),
    ),
    Fault(
        "priors asked to be left out are kept",
        "pointmodel/estimate/ties.py",
        "width = HARDLY_A_PRIOR * spread if self.flat else spread",
        "width = spread",
        (
            "tests/test_against_conf_interval.py",
            "tests/test_against_least_squares.py",
        ),
    ),
    Fault(
        "priors pull parameters to nowhere",
        "pointmodel/fitting/asked.py",
        "mean = centre + np.linalg.solve(own, told)",
        "mean = centre",
        (PARAMETERS,),
    ),
    Fault(
        "a slip asked for begins a pair late",
        "pointmodel/fitting/asked.py",
        "before = np.arange(obs.count) < slip_at",
        "before = np.arange(obs.count) <= slip_at",
        (PARAMETERS,),
    ),
    Fault(
        "a held term starts where the estimator ended",
        "pointmodel/fitting/asked.py",
        "if one.vary and not one.expr:",
        "if not one.expr:",
        (PARAMETERS,),
    ),
    Fault(
        "morning for evening ahead of the clock",
        "pointmodel/entries/catalogue.py",
        "likely = (ahead_s > 0) == (right.local.hour < 12)",
        "likely = (ahead_s > 0) != (right.local.hour < 12)",
        ("tests/test_check.py",),
    ),
    Fault(
        "logs of one name are one log",
        "pointmodel/reading/whichlog.py",
        "os.fsencode(os.path.realpath(source))",
        "os.fsencode(os.path.basename(source))",
        ("tests/test_overwriting.py",),
    ),
)

FAULTS = OF_WHAT_IS_PROMISED + AROUND_IT
