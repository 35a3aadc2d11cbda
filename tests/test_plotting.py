"""Pictures on a user's own axes: matplotlib's conventions, and the numbers that the fit holds."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import matplotlib as mpl
import numpy as np
import pytest
from fakes import make_fit
from matplotlib import colors
from matplotlib import pyplot as plt
from matplotlib.axes import Axes
from matplotlib.figure import Figure

import pointmodel as pm
from pointmodel.fitting import prepared

DATA = Path(__file__).parents[1] / "data"

mpl.use("Agg")

PLOTS: dict[str, Callable[..., Axes]] = {
    "sky": lambda results, *a, **k: results[0].plot_sky(*a, **k),
    "sky left": lambda results, *a, **k: results[0].plot_sky(*a, when="left", **k),
    "sky expected": lambda results, *a, **k: results[0].plot_sky(*a, when="expected", **k),
    "residuals": lambda results, *a, **k: results[0].plot_residuals(*a, **k),
    "by altitude": lambda results, *a, **k: results[0].plot_residuals(*a, against="altitude", **k),
    "by azimuth": lambda results, *a, **k: results[0].plot_residuals(*a, against="azimuth", **k),
    "by line": lambda results, *a, **k: results[0].plot_residuals(*a, against="line", **k),
    "eyepiece": lambda results, *a, **k: results[0].plot_eyepiece(*a, **k),
    "forecast": lambda results, *a, **k: results[0].plot_forecast(*a, **k),
    "terms": lambda results, *a, **k: results[1].plot_terms(*a, **k),
}
every_plot = pytest.mark.parametrize("plot", PLOTS.values(), ids=PLOTS.keys())

Results = tuple[pm.Fit, Any]


@pytest.fixture(scope="module")
def results() -> Results:
    return pm.fit(DATA / "leaning.csv"), pm.compare(DATA / "season")


@every_plot
def test_a_plot_stands_on_the_axes_given_and_returns_them(
    results: Results, plot: Callable[..., Axes]
) -> None:
    figure = Figure()
    axes = figure.subplots(2, 2)
    assert plot(results, axes[0, 1]) is axes[0, 1]
    assert plot(results, ax=axes[0, 1]) is axes[0, 1]
    for other in (axes[0, 0], axes[1, 0], axes[1, 1]):
        assert not other.has_data()
    figure.canvas.draw()


@every_plot
def test_a_plot_leaves_settings_and_current_axes_alone(
    results: Results, plot: Callable[..., Axes]
) -> None:
    figure, (own, current) = plt.subplots(1, 2)
    try:
        plt.sca(current)
        settings, open_figures = dict(mpl.rcParams), plt.get_fignums()
        plot(results, own)
        assert plt.gca() is current
        assert not current.has_data()
        assert dict(mpl.rcParams) == settings
        assert plt.get_fignums() == open_figures
    finally:
        plt.close(figure)


@every_plot
def test_without_axes_a_plot_makes_its_own(results: Results, plot: Callable[..., Axes]) -> None:
    ax = plot(results)
    try:
        assert isinstance(ax, Axes)
        assert ax.has_data()
        assert ax.get_title()
    finally:
        plt.close(ax.figure)  # type: ignore[arg-type]


def test_a_program_without_pyplot_gets_no_pyplot_by_plotting() -> None:
    code = (
        "import sys, pointmodel as pm\n"
        "ax = pm.fit(pm.simulate(seed=1).log).plot_forecast()\n"
        "assert ax.has_data()\n"
        "assert 'matplotlib.pyplot' not in sys.modules\n"
    )
    subprocess.run([sys.executable, "-c", code], check=True)


@pytest.mark.parametrize("name", ["sky", "residuals", "eyepiece", "forecast", "terms"])
def test_a_user_s_style_is_passed_on(results: Results, name: str) -> None:
    ax = PLOTS[name](results, Figure().subplots(), color="#12ab34", alpha=0.5)
    drawn = [*ax.lines, *ax.collections]
    found = set()
    for artist in drawn:
        colour: Any = artist.get_color() if hasattr(artist, "get_color") else artist.get_facecolor()
        found |= {colors.to_hex(one) for one in np.atleast_2d(colors.to_rgba_array(colour))}
    assert "#12ab34" in found


def test_short_names_of_styles_work_too(results: Results) -> None:
    ax = results[0].plot_residuals(Figure().subplots(), c="k", ms=2, ls=":")
    assert any(line.get_markersize() == 2 and line.get_color() == "k" for line in ax.lines)


def test_a_title_of_the_user_s_own_stays(results: Results) -> None:
    ax = Figure().subplots()
    ax.set_title("mine")
    assert results[0].plot_sky(ax).get_title() == "mine"


@pytest.mark.parametrize(
    ("plot", "message"),
    [
        (lambda fit: fit.plot_sky(when="later"), r'<when>: read "later"; wanted logged, left or'),
        (lambda fit: fit.plot_residuals(against="mass"), r'<against>: read "mass"; wanted time'),
        (lambda fit: fit.plot_sky("here"), r'<ax>: read "here"; wanted matplotlib axes'),
        (lambda fit: fit.plot_sky(Figure().subplots(2)), r"wanted matplotlib axes.*axes\[0, 0\]"),
    ],
)
def test_what_cannot_be_drawn_is_said(
    results: Results, plot: Callable[[pm.Fit], Axes], message: str
) -> None:
    with pytest.raises(pm.InputError, match=message):
        plot(results[0])


def test_a_term_that_is_none_is_said(results: Results) -> None:
    with pytest.raises(pm.InputError, match='<terms>: read "lean"; wanted azimuth_index'):
        results[1].plot_terms(terms=["lean"])


def test_arrows_are_the_misses_that_the_fit_holds(results: Results) -> None:
    fit = results[0]
    ax = fit.plot_sky(Figure().subplots(), when="left")
    (quiver,) = [one for one in ax.collections if type(one).__name__ == "Quiver"]
    used = ~fit.pairs["set_aside"].to_numpy()
    size = np.hypot(fit.pairs["residual_x_arcmin"], fit.pairs["residual_y_arcmin"])[used]
    length = np.hypot(quiver.U, quiver.V)
    np.testing.assert_allclose(length / length.max(), size / size.max(), atol=1e-9)
    assert length.max() == pytest.approx(prepared.LONGEST_ARROW_DEG)


def test_the_dome_has_east_on_the_left_and_an_arrow_points_where_the_tube_went() -> None:
    x, y = prepared.on_dome(np.array([0.0, 90.0]), np.array([30.0, 30.0]))
    np.testing.assert_allclose([x, y], [[0.0, -60.0], [60.0, 0.0]], atol=1e-9)
    # a small step right or up in the sky, by places before and after (common practice, no source)
    for az, alt in ((20.0, 40.0), (200.0, 10.0), (300.0, 70.0)):
        here = np.array(prepared.on_dome(np.array([az]), np.array([alt])))
        upward = np.array(prepared.on_dome(np.array([az]), np.array([alt + 0.01])))
        to = np.array(prepared.moved_on_dome(np.array([az]), np.array([0.0]), np.array([0.01])))
        np.testing.assert_allclose(upward - here, to, atol=1e-9)
        clockwise = np.array(prepared.on_dome(np.array([az + 0.01]), np.array([alt]))) - here
        to = np.array(prepared.moved_on_dome(np.array([az]), np.array([0.01]), np.array([0.0])))
        cosine = (clockwise * to).sum() / np.linalg.norm(clockwise) / np.linalg.norm(to)
        assert cosine > 0.999


def test_polar_axes_hold_the_same_sky(results: Results) -> None:
    figure = Figure()
    ax = results[0].plot_sky(figure.add_subplot(projection="polar"))
    figure.canvas.draw()
    flat = results[0].plot_sky(Figure().subplots())
    (polar,) = [one for one in ax.collections if type(one).__name__ == "Quiver"]
    (plain,) = [one for one in flat.collections if type(one).__name__ == "Quiver"]
    theta, radius = np.array(polar.XY).T
    places = np.stack([-radius * np.sin(theta), radius * np.cos(theta)])
    np.testing.assert_allclose(places, np.array(plain.XY).T, atol=1e-9)


def test_residuals_are_those_of_the_pairs(results: Results) -> None:
    fit = results[0]
    ax = fit.plot_residuals(Figure().subplots(), against="altitude")
    across = next(line for line in ax.lines if line.get_label() == "across")
    used = ~fit.pairs["set_aside"]
    np.testing.assert_allclose(across.get_xdata(), fit.pairs.loc[used, "star_alt_deg"])
    np.testing.assert_allclose(across.get_ydata(), fit.pairs.loc[used, "residual_x_arcmin"])


def test_times_stand_in_the_zone_of_the_log(results: Results) -> None:
    figure = Figure()
    ax = results[0].plot_residuals(figure.subplots())
    figure.canvas.draw()
    labels = [tick.get_text() for tick in ax.get_xticklabels()]
    assert "20:30" in labels  # the log begins at 20:05 by its own clock, 10:05 UTC


def test_a_log_without_times_is_drawn_in_its_order() -> None:
    frame = pm.simulate(seed=2).frame.drop(columns="time")
    ax = pm.fit(frame).plot_residuals(Figure().subplots())
    assert ax.get_xlabel() == "line of the log"


def test_stars_beyond_the_eyepiece_s_view_are_counted() -> None:
    fit = pm.fit(pm.simulate(seed=1, terms={"azimuth_index": 300.0}).log)
    ax = fit.plot_eyepiece(Figure().subplots())
    labels = [text.get_text() for text in ax.get_legend().get_texts()]  # type: ignore[union-attr]
    assert any("beyond" in label for label in labels)
    assert any("assumed" in label for label in labels)


def test_a_hill_s_weight_lies_where_the_sample_does() -> None:
    sample = np.random.default_rng(1).rayleigh(10.0, 4000)
    miss, height = prepared.hill(np.append(sample, np.nan), (0.1, 100.0))
    assert height.max() == 1.0
    mode = miss[np.argmax(height)]
    # of a Rayleigh distribution the mode in ln x is √2 times sigma
    assert mode == pytest.approx(10.0 * np.sqrt(2.0), rel=0.2)


@pytest.mark.parametrize(
    ("longest", "largest"), [(7.0, 5.0), (5.0, 5.0), (0.04, 0.1), (9000.0, 6000.0)]
)
def test_the_largest_size_of_a_key_is_the_last_round_one(longest: float, largest: float) -> None:
    assert prepared.key_sizes_arcmin(longest)[-1] == largest


def test_a_scale_of_misses_holds_all_but_the_rarest_of_every_remedy() -> None:
    forecasts = make_fit().forecasts
    low, high = prepared.miss_limits(forecasts)
    for one in forecasts:
        assert np.mean(one.sample_arcmin > high) < 0.01
        assert np.mean(one.sample_arcmin < low) < 0.02
    assert high < 2.0 * max(one.sample_arcmin.max() for one in forecasts)


def test_what_lies_beyond_the_ends_of_a_hill_counts_at_them() -> None:
    _, height = prepared.hill(np.array([0.01, 0.01, 3.0, 500.0]), (0.1, 100.0))
    assert height.argmax() == 0
    assert height[-1] == pytest.approx(0.5)


@pytest.mark.parametrize("pairs", [1, 2, 4])
def test_short_logs_are_drawn_too(pairs: int) -> None:
    fit = pm.fit(pm.simulate(seed=5, pairs=pairs).log)
    for when in ("logged", "left", "expected"):
        figure = Figure()
        fit.plot_sky(figure.subplots(), when=when)
        figure.canvas.draw()
    for plot in (fit.plot_residuals, fit.plot_eyepiece, fit.plot_forecast):
        figure = Figure()
        plot(figure.subplots())
        figure.canvas.draw()
