"""Draw a simulated night: mount, sky, noise, faults.

Read `night.py` first for what is drawn from and what comes of it, `mount.py` for the readings. The
order of the draws is fixed and independent of the options, so that one seed keeps its stars and
its noise when a term or a fault is added.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pointmodel.base.arrays import FloatArray
from pointmodel.mount.terms import STANDARD_NAMES, further_terms, terms_of_the_mount
from pointmodel.simulation.faults import Fault, astray_arcmin, draw_slip, draw_wrong_star, rounded
from pointmodel.simulation.mount import SimulatedCircumstances, readings_deg
from pointmodel.simulation.night import FIRST_LINE, MountClass, NightOptions, SimulatedNight
from pointmodel.simulation.sky import Sky, draw_sky

# One standard deviation of each term on a usual portable mount, arcminutes.
USUAL_SPREAD_ARCMIN = {
    "azimuth_index": 60.0,
    "altitude_index": 30.0,
    "collimation": 12.0,
    "non_perpendicularity": 8.0,
    "tilt_north": 25.0,
    "tilt_east": 25.0,
}
USUAL_SIGMA_ARCMIN = 1.0
USUAL_MOUNT_SHARE = 0.6
USUAL_STEP_ARCSEC = 1.0
WORSE = 3.0
VARIED_LOG_SPREAD = 0.7
VARIED_SIGMA_ARCMIN = (0.4, 4.0)
VARIED_MOUNT_SHARE = (0.3, 0.95)
VARIED_STEPS_ARCSEC = (1.0, 60.0, 360.0)


class NoSlipError(ValueError):
    """Too few lines of the night can hold the slip of the pen asked for; `found` of them can."""

    def __init__(self, kind: str | None, found: int) -> None:
        """Tell the kind asked for (None: any) and how many lines can hold it."""
        self.kind, self.found = kind, found
        super().__init__(f"only {found} lines can hold a slip of the pen of kind {kind}")


@dataclass(frozen=True)
class _Noise:
    """Sizes an axis, arcminutes, and the readout step."""

    sigma_arcmin: float
    scatter_arcmin: float
    centring_arcmin: float
    step_arcsec: float


class _Spoiled:
    """The faults of a night as they come about, and per pair why it is bad."""

    def __init__(self, faults: list[Fault], pairs: int) -> None:
        self.faults = faults
        self.cause: list[str | None] = [None] * pairs

    def line(self, kind: str, pair: int, size_arcmin: float, detail: str) -> None:
        self.faults.append(Fault(kind, pair + FIRST_LINE, size_arcmin, "arcmin", detail))
        self.cause[pair] = kind


def draw_terms(rng: np.random.Generator, mount_class: MountClass) -> dict[str, float]:
    """Draw the six standard terms of a mount of this class; all further terms are 0."""
    normals = dict(zip(STANDARD_NAMES, rng.standard_normal(6).tolist(), strict=True))
    factors = dict(zip(STANDARD_NAMES, rng.standard_normal(6).tolist(), strict=True))
    factors["tilt_north"] = factors["tilt_east"]  # one spread: the tripod's
    anywhere = float(rng.uniform(-10800.0, 10800.0))
    terms = dict.fromkeys(terms_of_the_mount(), 0.0)
    if mount_class == "perfect":
        return terms
    for name, spread in USUAL_SPREAD_ARCMIN.items():
        if mount_class == "worse":
            spread *= WORSE
        elif mount_class == "varied":
            spread *= float(np.exp(VARIED_LOG_SPREAD * factors[name]))
        terms[name] = spread * normals[name]
    if mount_class != "usual":
        terms["azimuth_index"] = anywhere
    return terms


def draw_night(
    rng: np.random.Generator, options: NightOptions, seed: int | None = None
) -> SimulatedNight:
    """Draw a night; options are taken as checked, `seed` is only kept for the truth.

    Raises `UnreachableError` where a star stands too near the zenith for the tube, `NoSlipError`
    where too few lines can hold a slip of the pen, `InputError` where the options leave no star.
    """
    terms = draw_terms(rng, options.mount_class) | dict(options.terms)
    noise = _draw_noise_sizes(rng, options)
    time_s = _draw_times(rng, options)
    circumstances = _draw_circumstances(rng, options, time_s)
    offset_x, offset_y = _draw_offsets(rng, options.pairs, noise)
    sky = draw_sky(rng, options, time_s)
    victims = rng.permutation(options.pairs)
    spoiled = _Spoiled(_lasting_faults(terms, options), options.pairs)
    met = _centre_wrong_stars(rng, options, sky, victims, spoiled)
    centred = _figures(readings_deg(*met, terms, circumstances, offset_x, offset_y), noise)
    commanded = _figures((sky.commanded_az_deg, sky.commanded_alt_deg), noise)
    spoilt = centred if options.pen_slip_in == "centred" else commanded
    _let_the_pen_slip(rng, options, spoilt, victims, spoiled)
    return SimulatedNight(
        seed=seed,
        options=options,
        terms=terms,
        sigma_arcmin=noise.sigma_arcmin,
        scatter_arcmin=noise.scatter_arcmin,
        centring_arcmin=noise.centring_arcmin,
        readout_step_arcsec=noise.step_arcsec,
        slip_after_pair=_slip_after(options),
        target=sky.target,
        star_az_deg=sky.star_az_deg,
        star_alt_deg=sky.star_alt_deg,
        commanded_az_deg=commanded[0],
        commanded_alt_deg=commanded[1],
        centred_az_deg=centred[0],
        centred_alt_deg=centred[1],
        circumstances=circumstances,
        time_s=time_s,
        cause=tuple(spoiled.cause),
        faults=tuple(spoiled.faults),
    )


def _draw_noise_sizes(rng: np.random.Generator, options: NightOptions) -> _Noise:
    low, high = np.log(VARIED_SIGMA_ARCMIN)
    sigma, share = float(np.exp(rng.uniform(low, high))), float(rng.uniform(*VARIED_MOUNT_SHARE))
    step = VARIED_STEPS_ARCSEC[int(rng.integers(len(VARIED_STEPS_ARCSEC)))]
    if options.mount_class != "varied":
        sigma, share, step = USUAL_SIGMA_ARCMIN, USUAL_MOUNT_SHARE, USUAL_STEP_ARCSEC
    sigma = sigma if options.sigma_arcmin is None else options.sigma_arcmin
    share = share if options.mount_share is None else options.mount_share
    step = step if options.readout_step_arcsec is None else options.readout_step_arcsec
    return _Noise(sigma, share * sigma, float(np.sqrt(1.0 - share**2)) * sigma, step)


def _draw_offsets(
    rng: np.random.Generator, pairs: int, noise: _Noise
) -> tuple[FloatArray, FloatArray]:
    """How far off the star the axes stand, x and y: the mount's part and the person's."""
    drawn = rng.standard_normal((4, pairs))
    offset = noise.scatter_arcmin * drawn[:2] + noise.centring_arcmin * drawn[2:]
    return offset[0], offset[1]


def _draw_times(rng: np.random.Generator, options: NightOptions) -> FloatArray:
    """Moments of centring, POSIX seconds: a person takes a third more or less from star to star."""
    gaps = options.minutes_between * 60.0 * rng.uniform(2 / 3, 4 / 3, options.pairs)
    gaps[0] = 0.0
    return np.asarray(np.round(options.start_s + np.cumsum(gaps)))


def _slip_after(options: NightOptions) -> int:
    return options.pairs // 2 if options.slip_after_pair is None else options.slip_after_pair


def _draw_circumstances(
    rng: np.random.Generator, options: NightOptions, time_s: FloatArray
) -> SimulatedCircumstances:
    motions = 2.0 * rng.integers(0, 2, (2, options.pairs)) - 1.0
    if options.motions == "same":
        motions = np.ones((2, options.pairs))
    mount = options.mount
    return SimulatedCircumstances(
        az_motion=motions[0],
        alt_motion=motions[1],
        hours=(time_s - time_s[0]) / 3600.0,
        slipped=(np.arange(options.pairs) >= _slip_after(options)).astype(float),
        azimuth_origin_deg=0.0 if mount is None else mount.azimuth_origin_deg,
        pressure_hpa=1010.0 if mount is None else mount.pressure_hpa,
        temperature_c=10.0 if mount is None else mount.temperature_c,
    )


def _figures(place_deg: tuple[FloatArray, FloatArray], noise: _Noise) -> list[FloatArray]:
    """Azimuth in [0, 360) and altitude as the readout shows them; new arrays."""
    az_deg, alt_deg = (rounded(part, noise.step_arcsec) for part in place_deg)
    az_deg[az_deg >= 360.0] -= 360.0
    return [az_deg, alt_deg]


def _lasting_faults(terms: Mapping[str, float], options: NightOptions) -> list[Fault]:
    """Every further term as a fault, named as a cause is; a slip with the line before it."""
    faults = []
    for term in further_terms():
        if terms[term.name]:
            line = FIRST_LINE - 1 + _slip_after(options) if term.cause == "slip" else None
            faults.append(Fault(term.cause, line, terms[term.name], term.unit, term.name))
    return faults


def _centre_wrong_stars(
    rng: np.random.Generator,
    options: NightOptions,
    sky: Sky,
    victims: NDArray[np.int64],
    spoiled: _Spoiled,
) -> tuple[FloatArray, FloatArray]:
    """Places of the stars truly centred: some of them others than those named."""
    az, alt = sky.star_az_deg.copy(), sky.star_alt_deg.copy()
    for k in victims[: options.wrong_stars].tolist():
        named = (float(az[k]), float(alt[k]))
        az[k], alt[k] = met = draw_wrong_star(rng, *named, options.low_alt_deg)
        spoiled.line("wrong_star", k, astray_arcmin(named, met), "another star was centred")
    return az, alt


def _let_the_pen_slip(
    rng: np.random.Generator,
    options: NightOptions,
    figures: list[FloatArray],
    victims: NDArray[np.int64],
    spoiled: _Spoiled,
) -> None:
    """Spoil the figures (azimuths, altitudes; in place) of as many lines as asked."""
    az, alt = figures
    left = options.pen_slips
    for k in victims[options.wrong_stars :].tolist():
        if left == 0:
            return
        right = (float(az[k]), float(alt[k]))
        before = (float(az[k - 1]), float(alt[k - 1])) if k else None
        slip = draw_slip(rng, *right, options.pen_slip_kind, before)
        if slip is not None:
            left -= 1
            kind, (az[k], alt[k]) = slip
            detail = f"{kind} in {options.pen_slip_in}"
            spoiled.line("log_typo", k, astray_arcmin(right, slip[1]), detail)
    if left:
        raise NoSlipError(options.pen_slip_kind, options.pen_slips - left)
