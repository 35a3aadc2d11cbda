"""Pictures of a fit on a user's own matplotlib axes.

Each function draws on `ax`, or on new axes, passes keyword arguments on to what it draws, and
returns the axes. Settings, current figure and current axes stay as they are. The numbers come from
`prepared.py`, which the page's pictures share. matplotlib is imported only where something is
drawn.
"""

from __future__ import annotations

from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any, Literal, get_args

import numpy as np

from pointmodel.base.arrays import FloatArray
from pointmodel.base.errors import InputError, Problem
from pointmodel.base.figures import chance_words, degrees_minutes, miss_words
from pointmodel.base.times import fixed_zone
from pointmodel.base.wording import one_of, quoted
from pointmodel.fitting import prepared, words
from pointmodel.fitting.domeaxes import FAINT, Dome
from pointmodel.mount.remedies import USUAL_FIELD_ARCMIN
from pointmodel.showing.axes import axes_to_draw_on, entitled, line_style, own_style

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from pointmodel.fitting.result import Fit

When = Literal["logged", "left", "expected"]
Against = Literal["time", "altitude", "azimuth", "line"]

TITLES: dict[str, str] = {
    "logged": "Misses as logged",
    "left": "What the fit leaves",
    "expected": "Miss to expect, corrections applied",
}
LANDING_STYLES = (("o", "C1"), ("^", "C2"), ("x", "C0"))
HILL_HEIGHT = 0.6  # of a row: its words stand above it
VIEW_OF_FIELD = (1.25, 2.2)  # an eyepiece's view reaches so many half fields, at least and at most


class FitPlots:
    """The pictures of a `Fit`; the base of that class."""

    def plot_sky(self: Any, ax: Axes | None = None, when: When = "logged", **kwargs: Any) -> Axes:
        """Draw the dome: north up, east left, zenith in the middle; return the axes.

        `when` "logged": an arrow a pair, the way the telescope had to move to centre the star (a
        large turn of the circle is left out and told); "left": what the fit leaves of it;
        "expected": the miss to expect everywhere with corrections applied. Axes may be polar.
        Keyword arguments go to `quiver`, for "expected" to `scatter`.

        >>> import pointmodel as pm
        >>> from matplotlib.figure import Figure
        >>> axes = Figure().subplots(1, 2)
        >>> fit = pm.fit(pm.simulate(seed=1).log)
        >>> fit.plot_sky(axes[0], color="tab:orange") is axes[0]
        True
        >>> fit.plot_sky(axes[1], when="left").get_title()
        'What the fit leaves'
        """
        return plot_sky(self, ax, when, **kwargs)

    def plot_residuals(
        self: Any, ax: Axes | None = None, against: Against = "time", **kwargs: Any
    ) -> Axes:
        """Draw what the fit leaves of each pair, across and in height, arcminutes; return the axes.

        `against` "time" (the log's order where not every pair has its time), "altitude", "azimuth"
        or "line". The grey band holds 19 of 20 pairs; lines set aside are crosses, at the edge
        where they lie beyond it. Keyword arguments go to `plot`.
        """
        return plot_residuals(self, ax, against, **kwargs)

    def plot_eyepiece(self: Any, ax: Axes | None = None, **kwargs: Any) -> Axes:
        """Draw where the log's stars land in the eyepiece, as logged and once advised; return axes.

        What is advised is the quick way, where there is one, and the thorough one. The circle is
        the field; stars beyond the picture are counted in the legend. Keyword arguments go to
        `plot`.
        """
        return plot_eyepiece(self, ax, **kwargs)

    def plot_forecast(self: Any, ax: Axes | None = None, **kwargs: Any) -> Axes:
        """Draw how far go-tos will miss after each remedy, a hill each; return the axes.

        The dashed line is the eyepiece's edge, the stroke on each foot the median. Keyword
        arguments go to `fill_between`.
        """
        return plot_forecast(self, ax, **kwargs)


def plot_sky(fit: Fit, ax: Axes | None, when: When, **kwargs: Any) -> Axes:
    """Draw the dome; see `FitPlots.plot_sky`."""
    _refuse_other("when", when, get_args(When))
    ax = axes_to_draw_on(ax)
    dome = Dome(ax)
    dome.draw(np.array(fit.log.mount.horizon, dtype=float).reshape(-1, 2))
    if when == "expected":
        _expected(fit, dome, kwargs)
    else:
        _arrows(fit, dome, prepared.sky_misses(fit.pair_results, when), kwargs)
    entitled(ax, TITLES[when])
    return ax


def _arrows(fit: Fit, dome: Dome, misses: prepared.SkyMisses, kwargs: dict[str, Any]) -> None:
    ax, aside = dome.ax, fit.pair_results.set_aside
    x, y = prepared.on_dome(misses.az_deg, misses.alt_deg)
    used = ~aside & np.isfinite(misses.size_arcmin)
    longest = max(float(misses.size_arcmin[used].max(initial=0.0)), 1e-6)
    scale = prepared.LONGEST_ARROW_DEG / longest
    dx, dy = prepared.moved_on_dome(misses.az_deg, scale * misses.x_arcmin, scale * misses.y_arcmin)
    style: dict[str, Any] = {"color": "C0"} | own_style(kwargs, "patch")
    drawn = dome.arrows((x[used], y[used]), (dx[used], dy[used]), **style)
    ax.plot(*dome.at(x[used], y[used]), ".", color=FAINT, ms=4)
    ax.plot(*dome.at(x[aside], y[aside]), "x", color=FAINT)
    size = prepared.key_sizes_arcmin(longest)[-1]
    told = f"a miss of {miss_words(size)}"
    if misses.turn_deg is not None:
        told += f"; a turn of {degrees_minutes(misses.turn_deg)} is left out"
    ax.quiverkey(
        drawn,
        0.5,
        -0.14 if dome.is_polar else -0.06,
        scale * size,
        told,
        labelpos="E",
        coordinates="axes",
    )


def _expected(fit: Fit, dome: Dome, kwargs: dict[str, Any]) -> None:
    sky = fit.sky_forecast
    places = dome.at(*prepared.on_dome(sky.az_deg, sky.alt_deg))
    usual: dict[str, Any] = {"c": sky.miss_rms_arcmin, "s": 12.0}
    drawn = dome.ax.scatter(*places, **(usual | kwargs))
    dome.ax.figure.colorbar(drawn, ax=dome.ax, shrink=0.7, label="typical miss, arcminutes")


def plot_residuals(fit: Fit, ax: Axes | None, against: Against, **kwargs: Any) -> Axes:
    """Draw what the fit leaves; see `FitPlots.plot_residuals`."""
    _refuse_other("against", against, get_args(Against))
    ax = axes_to_draw_on(ax)
    pairs = fit.pair_results
    place = _along(fit, ax, against)
    steps = fit.breakdown.steps if against == "time" else np.zeros((len(pairs.line), 2))
    sides = (
        ("across", "o", pairs.residual_x_arcmin + steps[:, 0]),
        ("in height", "s", pairs.residual_y_arcmin + steps[:, 1]),
    )
    band = np.concatenate([pairs.band_x_arcmin, pairs.band_y_arcmin])
    half = float(np.median(band[np.isfinite(band)])) if np.isfinite(band).any() else 0.0
    ax.axhspan(-half, half, color=FAINT, alpha=0.25, lw=0, label="19 of 20 pairs")
    ax.axhline(0.0, color=FAINT, lw=0.8)
    used = ~pairs.set_aside
    reach = np.concatenate([np.abs(shown[used]) for _, _, shown in sides])
    limit = 1.12 * float(np.max(reach, where=np.isfinite(reach), initial=max(half, 0.1)))
    for (name, marker, shown), colour in zip(sides, ("C0", "C1"), strict=True):
        style = line_style(kwargs, marker=marker, linestyle="none", color=colour, label=name)
        ax.plot(place[used], shown[used], **style)
    _crosses(ax, place[~used], np.clip(np.stack([s[2] for s in sides])[:, ~used], -limit, limit))
    if np.any(steps):
        ax.plot(place, steps[:, 0], "--", color="C0", lw=1, label="found in between")
        ax.plot(place, steps[:, 1], "--", color="C1", lw=1)
    ax.set_ylim(-1.05 * limit, 1.05 * limit)
    ax.set_ylabel("left over, arcminutes")
    ax.legend(fontsize="small")
    entitled(ax, TITLES["left"])
    return ax


def _crosses(ax: Axes, place: Any, shown: FloatArray) -> None:
    for row, label in zip(shown, ("set aside", None), strict=True):
        if row.size:
            ax.plot(place, row, "x", color=FAINT, label=label)


def _along(fit: Fit, ax: Axes, against: Against) -> Any:
    """What runs along the foot (n,), with its label; moments in the zone of the log."""
    pairs, log = fit.pair_results, fit.log
    if against == "altitude":
        ax.set_xlabel("altitude of the star, degrees")
        return pairs.star_alt_deg
    if against == "azimuth":
        ax.set_xlabel("azimuth of the star, degrees")
        return np.mod(pairs.star_az_deg, 360.0)
    if against == "line" or not np.isfinite(log.time_s).all():
        ax.set_xlabel("line of the log")
        return pairs.line
    from matplotlib import dates

    of_dates: Any = dates

    zone = log.mount.zone or fixed_zone(log.time_offset_s or 0.0)
    locator = of_dates.AutoDateLocator(tz=zone)
    ax.xaxis.set_major_locator(locator)
    ax.xaxis.set_major_formatter(of_dates.ConciseDateFormatter(locator, tz=zone))
    ax.set_xlabel("time by the log's clock")
    return np.array([datetime.fromtimestamp(float(t), UTC) for t in log.time_s])


def plot_eyepiece(fit: Fit, ax: Axes | None, **kwargs: Any) -> Axes:
    """Draw the eyepiece's view; see `FitPlots.plot_eyepiece`."""
    ax = axes_to_draw_on(ax)
    stated = fit.log.mount.optics.field_of_view_arcmin
    field = stated or USUAL_FIELD_ARCMIN
    used = ~fit.pair_results.set_aside
    landings = fit.landings[:1] if fit.readings.stops else fit.landings
    farthest = max((float(one.miss_arcmin[used].max(initial=0.0)) for one in landings), default=0.0)
    view = 0.5 * field * float(np.clip(2.12 * farthest / field, *VIEW_OF_FIELD))
    turn = np.linspace(0.0, 2.0 * np.pi, 181)
    across = f"field, {miss_words(field)}{'' if stated else ' assumed'}"
    ax.plot(0.5 * field * np.cos(turn), 0.5 * field * np.sin(turn), color=FAINT, label=across)
    ax.plot(0.0, 0.0, "+", color=FAINT)
    for landing, (marker, colour) in zip(landings, LANDING_STYLES, strict=False):
        shown = used & (landing.miss_arcmin <= view)
        beyond = int(np.count_nonzero(used & ~shown))
        label = landing.title + (f", {beyond} beyond" if beyond else "")
        style = line_style(kwargs, marker=marker, linestyle="none", color=colour, label=label)
        ax.plot(landing.x_arcmin[shown], landing.y_arcmin[shown], **style)
    ax.set(xlim=(-view, view), ylim=(-view, view), aspect="equal")
    ax.set(xlabel="right, arcminutes", ylabel="up, arcminutes")
    ax.legend(fontsize="small")
    entitled(ax, "Where the log's stars land")
    return ax


def plot_forecast(fit: Fit, ax: Axes | None, **kwargs: Any) -> Axes:
    """Draw the forecasts; see `FitPlots.plot_forecast`."""
    ax = axes_to_draw_on(ax)
    shown = prepared.drawn_forecasts(() if fit.readings.stops else fit.forecasts)
    limits = prepared.miss_limits(shown)
    field = fit.log.mount.optics.field_of_view_arcmin
    for row, forecast in enumerate(shown):
        miss, height = prepared.hill(forecast.sample_arcmin, limits)
        usual: dict[str, Any] = {"alpha": 0.6, "linewidth": 0.0, "color": f"C{row % 10}"}
        style = usual | own_style(kwargs, "patch")
        ax.fill_between(miss, -row, HILL_HEIGHT * height - row, **style)
        ax.plot([forecast.median_arcmin] * 2, [-row, 0.2 - row], color=FAINT, lw=2)
        # inside the axes: beside them it would stand in the next one of a small figure
        where = ax.get_yaxis_transform()
        ax.text(0.01, HILL_HEIGHT - row, _told(forecast), transform=where, fontsize="small")
    if field is not None:
        ax.axvline(field / 2, color=FAINT, ls="--", lw=1)
    ax.set_xscale("log")
    ax.set_xlim(*limits)
    ax.set_yticks([])
    ax.set_ylim(-len(shown) + 0.9, 1.0)
    ax.set_xlabel("miss of a go-to, arcminutes")
    entitled(ax, "How far go-tos will miss")
    return ax


def _told(forecast: Any) -> str:
    name = words.remedy_words(forecast.remedy)
    if forecast.chance_in_field is None:
        return f"{name}: half within {miss_words(forecast.median_arcmin)}"
    return f"{name}: {chance_words(forecast.chance_in_field)} in view"


def _refuse_other(name: str, word: object, known: tuple[str, ...]) -> None:
    if word not in known:
        raise InputError([Problem(f"<{name}>", None, None, quoted(word), one_of(known))])
