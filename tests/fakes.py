"""A fit with made-up figures, so that texts, pictures and pages are tried without an estimator."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from types import SimpleNamespace
from typing import Any

import numpy as np

from pointmodel.advising.result import Advice, LeftOut, Plan, Step
from pointmodel.base.angles import direction_vectors
from pointmodel.base.arrays import FloatArray
from pointmodel.base.errors import Notice
from pointmodel.diagnosis.lean import Lean
from pointmodel.diagnosis.result import Cause
from pointmodel.estimate.inturn import Happened
from pointmodel.estimate.results import Inseparable, Noise, PairResults, SetAside, TermEstimate
from pointmodel.fitting.breakdown import Breakdown
from pointmodel.fitting.landings import Landing
from pointmodel.fitting.shares import Bought
from pointmodel.fitting.turn import logged_misses
from pointmodel.fitting.unsettled import Influence, Ridge
from pointmodel.forecasting.result import RemedyForecast, SkyForecast
from pointmodel.levelling.feet import foot_orders
from pointmodel.levelling.result import CAUTIONS, Gain, LevelResult
from pointmodel.levelling.stand import WAYS, Stand
from pointmodel.reading.mountfile import Feet
from pointmodel.readings.result import Readings

HOSTILE = """<script>alert(1)</script> "&' $\\frac{ [bold] \x1b[31m"""
NAMES = (
    "Achernar",
    "Canopus",
    "Rigil Kentaurus",
    "Fomalhaut",
    "Antares",
    "Spica",
    "Arcturus",
    "Regulus",
    "Procyon",
    "Sirius",
)


@dataclass(frozen=True)
class FakeFit:
    """The attributes of a fit that showing reads."""

    log: Any
    term_estimates: tuple[TermEstimate, ...]
    noise: Noise
    set_aside: tuple[SetAside, ...]
    inseparable: tuple[Inseparable, ...]
    pair_results: PairResults
    pairs_read: int
    residual_rms_arcmin: float
    before_rms_arcmin: float
    forecasts: tuple[RemedyForecast, ...]
    sky_forecast: SkyForecast
    causes: tuple[Cause, ...]
    advice: Advice
    warnings: tuple[Notice, ...]
    levelling: LevelResult
    breakdown: Breakdown
    landings: tuple[Landing, ...]
    happened: tuple[Happened, ...] = ()
    readings: Readings = field(default_factory=Readings)

    @property
    def as_written(self) -> Any:
        """The log itself: nothing of it was read as anything else."""
        return self.log


def _forecast(remedy: str, size: float, field: float | None, seed: int) -> RemedyForecast:
    sample = size / np.sqrt(2) * np.random.default_rng(seed).rayleigh(size=800)
    return RemedyForecast(
        remedy,
        rms_arcmin=size,
        rms_low_arcmin=0.9 * size,
        rms_high_arcmin=1.15 * size,
        median_arcmin=float(np.median(sample)),
        p95_arcmin=float(np.percentile(sample, 95)),
        chance_in_field=None if field is None else float(np.mean(sample < field / 2)),
        sample_arcmin=sample,
    )


def _term(name: str, value: float, error: float, unit: str = "arcmin") -> TermEstimate:
    status = "determined" if error < 4 else "weak" if error < 10 else "not_determined"
    return TermEstimate(name, value, error, value - 2.1 * error, value + 2.1 * error, unit, status)


def _terms(azimuth_index: float, few: bool) -> tuple[TermEstimate, ...]:
    wide = 20.0 if few else 1.0
    return (
        _term("azimuth_index", azimuth_index, 0.9 * wide),
        _term("altitude_index", -14.2, 0.6),
        _term("collimation", 11.8, 0.7 * wide),
        _term("non_perpendicularity", -2.1, 14.0 if few else 4.4),
        _term("tilt_north", 38.4, 0.41),
        _term("tilt_east", -22.7, 0.38 * wide),
        _term("azimuth_scale", 0.212, 0.034, "arcmin/deg"),
        TermEstimate("altitude_slip", 7.4, 1.3, 4.7, 10.1, "arcmin", "determined", 12),
    )


def _pair_results(pairs: int, aside: int, offset: float, targets: tuple[str, ...]) -> PairResults:
    rng = np.random.default_rng(4)
    az = np.mod(np.arange(pairs) * 137.5 + 20, 360.0)
    alt = 18 + 60 * np.mod(np.arange(pairs) * 0.618, 1.0)
    a, h = np.radians(az), np.radians(alt)
    across = offset + np.tan(h) * (38.4 * np.sin(a) + 22.7 * np.cos(a))
    climb = -14.2 + 38.4 * np.cos(a) - 22.7 * np.sin(a)
    residual_x, residual_y = rng.normal(0, 0.9, (2, pairs))
    bad = np.zeros(pairs, dtype=bool)
    bad[[7, 14][:aside]] = True
    climb[bad] -= 601.0
    before_x, before_y = arc_and_bearing(az, alt, az + across / 60, alt + climb / 60)
    residual_y[bad] -= 601.0
    cause = tuple("log_typo" if is_bad else None for is_bad in bad)
    return PairResults(
        line=np.arange(2, pairs + 2),
        target=targets,
        star_az_deg=az,
        star_alt_deg=alt,
        before_x_arcmin=before_x,
        before_y_arcmin=before_y,
        residual_x_arcmin=residual_x,
        residual_y_arcmin=residual_y,
        band_x_arcmin=np.full(pairs, 1.9) + 0.3 * np.sin(a),
        band_y_arcmin=np.full(pairs, 1.8),
        leverage=np.full(pairs, 0.35),
        set_aside=bad,
        cause=cause,
        hint=tuple("altitude reads 10° low" if word else None for word in cause),
        probability_bad=np.where(bad, 0.999, 0.01),
    )


def arc_and_bearing(
    az_deg: FloatArray, alt_deg: FloatArray, to_az_deg: FloatArray, to_alt_deg: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """The way from one direction to another: its length, arcminutes, shared out across and up."""
    here, there = direction_vectors(az_deg, alt_deg), direction_vectors(to_az_deg, to_alt_deg)
    right = direction_vectors(np.asarray(az_deg) + 90.0, np.zeros_like(az_deg))
    up = direction_vectors(az_deg, np.asarray(alt_deg) + 90.0)
    x, y = (there * right).sum(axis=-1), (there * up).sum(axis=-1)
    arc = 60 * np.degrees(np.arctan2(np.hypot(x, y), (there * here).sum(axis=-1)))
    return arc * x / np.hypot(x, y), arc * y / np.hypot(x, y)


def _sky(few: bool) -> SkyForecast:
    count = 220
    alt = np.degrees(np.arcsin(np.linspace(np.sin(np.radians(15)), np.sin(np.radians(80)), count)))
    az = np.mod(np.arange(count) * 137.508, 360.0)
    size = 1.3 + (30.0 if few else 1.6) * (1 + np.sin(np.radians(az))) * (1 - alt / 90) ** 2
    return SkyForecast(az, alt, size)


def _breakdown(pairs: PairResults, few: bool) -> Breakdown:
    """A lean and zeros that make up the misses, and two terms hard to part on a short log."""
    logged = logged_misses(pairs)
    whole = np.column_stack([logged.x_arcmin, logged.y_arcmin])
    left = np.column_stack([pairs.residual_x_arcmin, pairs.residual_y_arcmin])
    zeros = np.tile([-31.0, -14.2], (len(pairs.line), 1))
    nothing = np.zeros_like(whole)
    used = pairs.line[~pairs.set_aside]
    names = ("azimuth_index", "altitude_index", "collimation")
    now = np.array([[400.0, -380.0], [-380.0, 420.0]])
    return Breakdown(
        part=np.zeros(len(pairs.line), dtype=int),
        shares={"lean": whole - left - zeros, "tube": nothing, "zeros": zeros},
        steps=nothing,
        slack=nothing,
        bought=() if few else (Bought("lean", 13.0), Bought("azimuth zero", 1.4)),
        ridge=Ridge(names[::2], np.array([-31.0, 11.8]), now, 0.1 * now, (135.0, 75.0))
        if few
        else None,
        influence=Influence(used, np.linspace(0.1, 2.0, used.size), np.zeros(used.size)),
        names=names,
        correlation=np.eye(3),
        degrees_of_freedom=max(2 * used.size - 6, 0),
    )


def _landings(pairs: PairResults) -> tuple[Landing, ...]:
    return (
        Landing("as logged", pairs.before_x_arcmin, pairs.before_y_arcmin),
        Landing("the quick way", 9 * pairs.residual_x_arcmin, 9 * pairs.residual_y_arcmin),
        Landing("all steps", pairs.residual_x_arcmin, pairs.residual_y_arcmin),
    )


def _log(
    name: str,
    source: str,
    mount_name: str | None,
    field: float | None,
    pairs: PairResults,
    note: str | None,
) -> Any:
    mount = SimpleNamespace(
        name=mount_name,
        readout="axes",
        zone=None,
        alignment=SimpleNamespace(stars=(), state="none"),
        site=None,
        optics=SimpleNamespace(field_of_view_arcmin=field, centring_error_arcmin=None),
        horizon=((0.0, 12.0), (90.0, 35.0), (180.0, 8.0), (270.0, 20.0)),
    )
    start = 1936900000.0
    return SimpleNamespace(
        name=name,
        source=source,
        mount=mount,
        camera=False,
        time_s=start + 180.0 * np.arange(len(pairs.line)),
        time_offset_s=36000.0,
        line=pairs.line,
        note=tuple(note for _ in pairs.line),
        commanded_az_deg=pairs.star_az_deg,
        commanded_alt_deg=pairs.star_alt_deg,
        centred_az_deg=pairs.star_az_deg + 0.5,
        centred_alt_deg=pairs.star_alt_deg - 0.25,
        az_motion=np.where(np.arange(len(pairs.line)) % 2, 1.0, -1.0),
        alt_motion=np.ones(len(pairs.line)),
        events=(),
        warnings=(),
    )


_HEADLINE = (
    "Align again on two stars (3 min): 83′ → 14′. Or level the base, then zero on a star "
    "(12 min): 13′."
)


def _inseparable(few: bool) -> tuple[Inseparable, ...]:
    if not few:
        return ()
    hint = "Centre one star above 60° altitude: it tells these two apart."
    return (Inseparable(("azimuth_index", "collimation"), hint),)


def _causes() -> tuple[Cause, ...]:
    return (
        Cause(
            cause="not_level",
            verdict="likely",
            probability=0.999,
            evidence="The azimuth axis leans 44.6′ toward azimuth 329°.",
            remedy="Level the base (step 1).",
            size=44.6,
            low=43.8,
            high=45.4,
            unit="arcmin",
        ),
        Cause(
            cause="clock_or_longitude",
            verdict="possible",
            probability=0.4,
            evidence="A clock 4 min wrong looks the same as this lean.",
            remedy="Compare the controller's clock with a phone.",
        ),
        Cause(
            cause="collimation",
            verdict="open",
            probability=0.02,
            evidence="no sign of it; these stars leave up to 13′",
            size=11.8,
            low=10.3,
            high=13.3,
            unit="arcmin",
        ),
        Cause(
            cause="tube_flexure",
            verdict="ruled_out",
            probability=0.01,
            evidence="Any sag is below 1.5′.",
            high=1.5,
            unit="arcmin",
        ),
    )


def make_advice(field: float | None, text: str | None = None) -> Advice:
    """The advice to level and zero a base that leans, with a quick way."""
    level = Step(
        action="level",
        text="Level the base: foot 1 raise 4.8 mm.",
        minutes=10.0,
        rms_arcmin=50.0,
        rms_low_arcmin=48.0,
        rms_high_arcmin=53.0,
        chance_in_field=0.2,
    )
    zero = replace(
        level,
        action="zero_on_star",
        text="Zero on a star.",
        minutes=2.0,
        rms_arcmin=13.0,
        rms_low_arcmin=11.7,
        rms_high_arcmin=15.0,
        chance_in_field=0.97,
    )
    realign = replace(zero, action="realign", text="Align again.", minutes=3.0, rms_arcmin=14.0)
    return Advice(
        state="mend",
        headline=_HEADLINE if text is None else f"{_HEADLINE} {text}",
        question=None,
        steps=(level, zero),
        quick=Plan(steps=(realign,)),
        left_out=(LeftOut(action="square_tube", why="would leave 41′"),),
        now_rms_arcmin=83.0,
        now_chance=0.13,
        field_arcmin=field or 40.0,
        field_assumed=field is None,
    )


def make_levelling(feet: Feet | None, field: float | None) -> LevelResult:
    """A verdict to level a base that leans 44.6′ toward azimuth 329°."""
    lean = np.array([38.4, -22.7])
    deviation = 0.4 * np.random.default_rng(5).standard_normal((600, 2))
    return LevelResult(
        inputs=("logs/ridge.csv",),
        warnings=(),
        name="ridge",
        pairs_used=18,
        verdict="level",
        reason="The base leans 45′ (44′ to 45′) toward the north-west (azimuth 329°).",
        lean=Lean(44.6, 43.8, 45.4, 329.4, 328.3, 330.5, True),
        confounded_with=(),
        look_alike=None,
        clock_cleared_by="verified",
        feet=() if feet is None else foot_orders(feet, lean, deviation),
        screw_pitch_mm=None if feet is None else feet.screw_pitch_mm,
        hand_step_mm=None if feet is None else 0.2,
        expected_lean_after_arcmin=0.57,
        gain=(Gain("none", 52.0, 0.13, 0), Gain("level", 13.0, 0.8, 12)),
        field_of_view_arcmin=field or 40.0,
        field_assumed=field is None,
        confirm_at=((329.0, 30.0), (149.0, 31.0), (60.0, 29.0)),
        one_more_star=None,
        cautions=CAUTIONS,
        advice=make_advice(field),
        stand=None
        if feet is None
        else Stand("screws", WAYS, 12.0, False, 329.4, feet.azimuths_deg),
    )


TRIPOD = Feet(430.0, (0.0, 120.0, 240.0), 1.5)


def make_fit(
    *,
    pairs: int = 20,
    aside: int = 2,
    field: float | None = 48.0,
    azimuth_index: float = -31.0,
    text: str | None = None,
) -> FakeFit:
    """A fit of `pairs` pairs; `text`, where given, stands in for every word a user supplied."""
    few = pairs < 6
    targets = tuple(text or NAMES[k % len(NAMES)] for k in range(pairs))
    results = _pair_results(pairs, aside, azimuth_index, targets)
    left_out = tuple(
        SetAside(
            int(results.line[k]), targets[k], "log_typo", 601.2, "altitude reads 10° low", 0.99
        )
        for k in np.flatnonzero(results.set_aside)
    )
    sizes = {
        "none": 52.0 + abs(azimuth_index),
        "zero_on_star": 48.0,
        "realign": 14.0,
        "level": 13.0,
        "square_tube": 41.0,
        "apply_corrections": 31.0 if few else 1.9,
    }
    return FakeFit(
        log=_log(
            text or "ridge",
            text or "logs/ridge.csv",
            text or "Two-arm box",
            field,
            results,
            text,
        ),
        term_estimates=_terms(azimuth_index, few),
        noise=Noise(0.93, 0.71, 1.24, None, None, 36.0),
        set_aside=left_out,
        inseparable=_inseparable(few),
        pair_results=results,
        pairs_read=pairs,
        residual_rms_arcmin=1.24,
        before_rms_arcmin=52.0 + abs(azimuth_index),
        forecasts=tuple(_forecast(r, s, field, k) for k, (r, s) in enumerate(sizes.items())),
        sky_forecast=_sky(few),
        causes=_causes(),
        advice=make_advice(field, text),
        warnings=(Notice("mount_beside_log", f"Used {text or 'mount.toml'} beside the log."),),
        levelling=make_levelling(TRIPOD, field),
        breakdown=_breakdown(results, few),
        landings=_landings(results),
    )
