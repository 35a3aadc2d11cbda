"""Faults around the estimator: advice, readings, logs, levelling, sheets, pictures, moves."""

from __future__ import annotations

from bench.fault import Fault
from bench.faults_of_promises import FIELD, LOG_FILE, OWN_FILES, POWER

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
        "it is asked though every answer leads to the same advice",
        "pointmodel/advising/advise.py",
        "if (not_aligned.thorough, not_aligned.quick) == (aligned.thorough, aligned.quick):",
        "if False:",
        (*ADVISING,),
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
