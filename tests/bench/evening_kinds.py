"""The kinds of evening: what is wrong, what a right first advice is, and which would harm.

Read `evenings.py` first. One entry of `KINDS` a kind; `evening(name, seed)` plays one. Adding a
kind is adding an entry: the figure `first_advice` takes it up.
"""

from __future__ import annotations

import zlib
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
from bench.evening_play import Evening, Script, play

Draw = Callable[[np.random.Generator], Script]

# what a first advice may be called; the remedies that are done by hand are judged by doing them
HELPS = "helps"  # any remedy that, done in the simulator, makes go-to better; "good" where it is
ASK = "ask"
LOG_AGAIN, SET_ENTRY, MEND_FILE, STEADY = "log_again", "set_entry", "mend_file", "steady_base"
LEVEL, ZERO, REALIGN, GOOD = "level", "zero_on_star", "realign", "good"
BY_HAND = frozenset(
    {LEVEL, ZERO, REALIGN, "start_level", "square_tube", "apply_corrections", SET_ENTRY}
)


@dataclass(frozen=True)
class Kind:
    """One kind of evening. `right`: names of right first advice; `harmful`: always harmful here.

    What is in neither is judged by doing it.
    """

    name: str
    wrong: str
    right: frozenset[str]
    harmful: frozenset[str]
    draw: Draw


KINDS: dict[str, Kind] = {}


def _kind(
    name: str,
    wrong: str,
    script: Script | Draw,
    right: tuple[str, ...] = (HELPS,),
    harmful: tuple[str, ...] = (),
) -> None:
    draw = script if callable(script) else lambda rng: script
    KINDS[name] = Kind(name, wrong, frozenset(right), frozenset(harmful), draw)


@lru_cache(maxsize=256)  # the tests look at one evening from several sides
def evening(name: str, seed: int, **changes: object) -> Evening:
    """Play an evening of a kind; `changes` are fields of `Script` set on top."""
    rng = np.random.default_rng([seed, zlib.crc32(name.encode())])
    script = replace(KINDS[name].draw(rng), **changes)  # type: ignore[arg-type]
    return play(name, seed, script, rng)


def leaning(
    rng: np.random.Generator, low_arcmin: float = 25.0, high_arcmin: float = 70.0
) -> dict[str, float]:
    """A base that leans by so much in any direction."""
    size, turn = rng.uniform(low_arcmin, high_arcmin), rng.uniform(0.0, 2.0 * np.pi)
    return {"tilt_north": size * float(np.cos(turn)), "tilt_east": size * float(np.sin(turn))}


def good_terms(rng: np.random.Generator) -> dict[str, float]:
    """A mount on which nothing is wrong but its zeros: a lean of some 2′, a tube square to 1′."""
    small = {"tilt_north": 1.5, "tilt_east": 1.5, "collimation": 1.0, "non_perpendicularity": 1.0}
    return {name: float(rng.normal(0.0, sd)) for name, sd in small.items()}


SILENT = ("alignment",)
KINDS_OF_SOLVING = ("rotation", "altitude_zero")


def _either_kind(rng: np.random.Generator) -> str:
    return KINDS_OF_SOLVING[int(rng.integers(2))]


# nothing wrong but the mount's own terms
_kind("plain", "nothing was pressed, all is said", lambda rng: Script(terms=leaning(rng, 0.0)))
_kind(
    "plain_good",
    "nothing is wrong at all",
    lambda rng: Script(terms=good_terms(rng), aligned_on=1, sigma_arcmin=rng.uniform(0.7, 1.1)),
)
_kind(
    "plain_silent",
    "nothing was pressed, the mount file does not say so",
    lambda rng: Script(terms=leaning(rng), silent=SILENT),
    (ASK, HELPS),
)
_kind(
    "zeroed",
    "zeroed on one star before the log, and said so",
    lambda rng: Script(terms=leaning(rng, 0.0), aligned_on=1),
)
_kind(
    "zeroed_silent",
    "zeroed on one star before the log, not said",
    lambda rng: Script(terms=leaning(rng, 0.0), aligned_on=1, silent=SILENT),
    (ASK, HELPS),
)

# the controller was aligned on two stars
for _shows in ("axes", "sky"):
    _kind(
        f"aligned_{_shows}",
        f"aligned on two stars and said so; the display is of the {_shows}",
        lambda rng, shows=_shows: Script(
            terms=leaning(rng), aligned_on=2, shows=shows, solves=_either_kind(rng)
        ),
        (HELPS, GOOD),
        (LEVEL,) if _shows == "sky" else (),
    )
    _kind(
        f"alignment_not_said_{_shows}",
        f"aligned on two stars, the mount file is silent; the display is of the {_shows}",
        lambda rng, shows=_shows: Script(
            terms=leaning(rng),
            aligned_on=2,
            shows=shows,
            solves=_either_kind(rng),
            silent=(*SILENT, "mount"),
        ),
        (ASK, GOOD, HELPS),
        (LEVEL,),
    )
_kind(
    "aligned_wrong_star",
    "the second alignment star was another star",
    lambda rng: Script(
        aligned_on=2,
        second_star="wrong",
        shows="sky",
        solves=_either_kind(rng),
        solves_said=bool(rng.random() < 0.5),
    ),
    (REALIGN, HELPS),
    (LEVEL, GOOD, SET_ENTRY),
)
_kind(
    "aligned_badly_centred",
    "the second alignment star was centred badly, by 1° to 2.5°",
    lambda rng: Script(
        aligned_on=2, second_star="badly_centred", shows="sky", solves=_either_kind(rng)
    ),
    (REALIGN, HELPS),
    (LEVEL, GOOD, SET_ENTRY),
)

# "this is the star" pressed while logging
for _jitter in ("exact", "jitter"):
    _kind(
        f"noted_after_press_{_jitter}",
        f"the figures were noted after the press ({_jitter}): they hold nothing",
        lambda rng, jitter=_jitter: Script(
            terms=leaning(rng), press="each", noted_after=jitter, silent=SILENT
        ),
        (LOG_AGAIN, ASK),
        (LEVEL, GOOD, SET_ENTRY),
    )
_kind(
    "synced_each",
    "zeroed after each line, not logged",
    lambda rng: Script(lines=(4, 12), terms=leaning(rng), press="each", silent=SILENT),
    (ASK, HELPS),
)
_kind(
    "synced_each_logged",
    "zeroed after each line, each logged as an event",
    lambda rng: Script(terms=leaning(rng), press="each", press_logged=True),
)
_kind(
    "synced_some",
    "zeroed after some of the lines, not logged",
    lambda rng: Script(lines=(8, 12), terms=leaning(rng), press="some", silent=SILENT),
    (ASK, HELPS),
)

# columns that hold something else
_kind(
    "columns_exchanged",
    "the columns commanded and centred are exchanged",
    lambda rng: Script(terms=leaning(rng, 0.0), columns=(("both", "columns_exchanged"),)),
    (MEND_FILE, ASK, HELPS),
    (LEVEL,),
)
FORMS = (
    "azimuth_counted_backwards",
    "azimuth_from_south",
    "zenith_distance",
    "hours_not_degrees",
    "radians_not_degrees",
    "axes_exchanged",
)
for _form in FORMS:
    # an azimuth stands in a column of altitudes only in one corner of the sky
    _range = (3.0, 87.0) if _form == "axes_exchanged" else (0.0, 360.0)
    for _which in ("centred", "commanded", "both"):
        # a readout from south is a zero that is off by half a turn: the feet are right either way
        _same = (_form, _which) == ("azimuth_from_south", "centred")
        _kind(
            f"{_form}:{_which}",
            f"{_form.replace('_', ' ')}, {_which}",
            lambda rng, form=_form, which=_which, span=_range: Script(
                terms=leaning(rng, 0.0), columns=((which, form),), az_range_deg=span
            ),
            (MEND_FILE, ASK, HELPS),
            (SET_ENTRY,) if _same else (LEVEL, SET_ENTRY),
        )

# the base or the tube moves
_kind(
    "knocked",
    "the base was knocked by 25′ to 60′ after some line",
    lambda rng: Script(lines=(8, 12), terms=leaning(rng, 0.0), move="knock"),
    (STEADY, LOG_AGAIN, ASK, HELPS),
)
_kind(
    "sinking",
    "the ground sinks under the feet, 60′ an hour",
    lambda rng: Script(
        lines=(10, 12), minutes_between=40.0 / 11.0, terms=leaning(rng, 0.0), move="sinking"
    ),
    (STEADY, LOG_AGAIN, ASK),
    (LEVEL, GOOD),
)
_kind(
    "tube_shifted",
    "the tube slipped in its saddle after some line",
    lambda rng: Script(lines=(8, 12), terms=leaning(rng, 0.0), move="tube"),
    ("tighten", LOG_AGAIN, ASK, HELPS),
)

# times, entries, the mount file
for _times in ("cut", "rounded"):
    for _lines in (4, 8):
        _kind(
            f"minutes_{_times}_{_lines}",
            f"times without seconds, {_times}, {_lines} lines; the controller is right",
            lambda rng, times=_times, lines=_lines: Script(
                lines=(lines, lines), terms=leaning(rng, 0.0), times=times
            ),
            (HELPS,),
            (SET_ENTRY,),
        )
WRONG_ENTRIES = (
    "summer_time",
    "time_zone",
    "zone_sign",
    "am_pm",
    "longitude_sign",
    "latitude_sign",
    "day_month_swapped",
    "utc_as_local",
)
_kind(
    "wrong_entry",
    "one entry of the controller is wrong, the mount file is right",
    lambda rng: Script(
        terms=leaning(rng, 0.0), entry=WRONG_ENTRIES[int(rng.integers(len(WRONG_ENTRIES)))]
    ),
    (SET_ENTRY, "check_entries", ASK),
    (LEVEL, GOOD, MEND_FILE),
)
for _slip in ("longitude_sign", "latitude_sign", "exchanged"):
    _kind(
        f"mount_file_{_slip}",
        f"the mount file's site is wrong ({_slip}), the controller is right",
        # only one of the sites has a longitude that can stand for a latitude
        lambda rng, slip=_slip: Script(
            terms=leaning(rng, 0.0), mount_slip=slip, site=1 if slip == "exchanged" else None
        ),
        (MEND_FILE, "check_entries", ASK),
        (LEVEL, SET_ENTRY),
    )

# nothing to be had
for _hopeless in ("wrong_stars", "shifted", "random"):
    _kind(
        f"hopeless_{_hopeless}",
        f"nothing fits: {_hopeless.replace('_', ' ')}",
        lambda rng, hopeless=_hopeless: Script(
            terms=leaning(rng, 0.0), hopeless=hopeless, names=bool(rng.random() < 0.7)
        ),
        (LOG_AGAIN, ASK, MEND_FILE, "check_entries"),
        tuple(sorted({*BY_HAND, GOOD})),
    )
_kind(
    "hopeless_radians",
    "both columns in radians, and no names or times that could tell",
    lambda rng: Script(
        terms=leaning(rng, 0.0),
        columns=(("both", "radians_not_degrees"),),
        names=False,
        times="none",
    ),
    # read as radians the log is as good as any; feet wait until the owner says so
    (LOG_AGAIN, ASK, MEND_FILE, HELPS),
    (LEVEL, SET_ENTRY),
)


# rough or unusual, and nothing wrong
def coarse_set_up(rng: np.random.Generator) -> dict[str, float]:
    """A mount set down anyhow: altitude zero off by 6°, lean 3°, tube 1° off square."""
    signs = rng.choice([-1.0, 1.0], 2)
    anyhow = {
        "azimuth_index": float(rng.uniform(-10800.0, 10800.0)),
        "altitude_index": 360.0 * float(signs[0]),
        "collimation": 60.0 * float(signs[1]),
    }
    return anyhow | leaning(rng, 180.0, 180.0)


def _loose(rng: np.random.Generator, said: bool = False) -> Script:
    return Script(
        lines=(3, 3),
        terms=coarse_set_up(rng),
        sigma_arcmin=float(np.hypot(0.8, 5.0)),
        mount_share=0.8 / float(np.hypot(0.8, 5.0)),
        centring_said=said,
        silent=() if said else ("optics",),
    )


_kind("loose_low_power", "three stars, centred to 5′, nothing said of it", _loose)
_kind("loose_said", "three stars, centred to 5′, and said so", lambda rng: _loose(rng, True))
_kind("nudges", "a log of nudges", lambda rng: Script(terms=leaning(rng, 0.0), form="nudges"))
ARCSEC = 1.0 / 60.0


def _observatory(rng: np.random.Generator, form: str) -> Script:
    small = {"azimuth_index": 2.0, "altitude_index": 1.5, "collimation": 0.5,
             "non_perpendicularity": 0.5, "tilt_north": 0.6, "tilt_east": 0.6}  # fmt: skip
    terms = {name: float(rng.normal(0.0, sd)) for name, sd in small.items()}
    return Script(
        lines=(130, 130),
        minutes_between=1.5,
        terms=terms | {"tube_flexure": 20.0 * ARCSEC},
        sigma_arcmin=4.0 * ARCSEC,
        form=form,
        step_arcsec=0.1,
    )


for _log in ("labels", "label_nudges"):
    _kind(
        f"coarse_{_log}",
        "130 lines, commanded printed to 0.1°, offsets to 0.1″",
        lambda rng, log=_log: _observatory(rng, log),
        (HELPS, GOOD),
    )
