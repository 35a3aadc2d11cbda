"""The pictures: well-formed, self-contained, told in words, and drawn for any colour scheme."""

from __future__ import annotations

import re
import subprocess
import sys
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from xml.etree import ElementTree

import numpy as np
import pytest
from fakes import HOSTILE, FakeFit, arc_and_bearing, make_fit

from pointmodel.estimate.results import PairResults, TermEstimate
from pointmodel.fitting.pictures import (
    forecast_picture,
    residual_picture,
    sky_forecast_picture,
    sky_picture,
    terms_picture,
)
from pointmodel.fitting.turn import logged_misses
from pointmodel.forecasting.result import SkyForecast

SVG = "{http://www.w3.org/2000/svg}"
PICTURES: dict[str, Callable[[FakeFit], str]] = {
    "sky before": lambda fit: sky_picture(fit, "before"),
    "sky after": lambda fit: sky_picture(fit, "after"),
    "sky forecast": sky_forecast_picture,
    "forecast": forecast_picture,
    "terms": terms_picture,
    "residuals by altitude": lambda fit: residual_picture(fit, "altitude"),
    "residuals by azimuth": lambda fit: residual_picture(fit, "azimuth"),
}
every_picture = pytest.mark.parametrize("draw", PICTURES.values(), ids=PICTURES.keys())


def drawn_words(svg: str) -> str:
    return " ".join("".join(node.itertext()) for node in ElementTree.fromstring(svg).iter())


@every_picture
@pytest.mark.parametrize("text", [None, HOSTILE, "星\ud800\ufffe"])
def test_every_picture_is_well_formed_whatever_the_targets_are_called(
    draw: Callable[[FakeFit], str], text: str | None
) -> None:
    root = ElementTree.fromstring(draw(make_fit(text=text)))
    assert root.tag == f"{SVG}svg"
    assert not list(root.iter(f"{SVG}script"))


@every_picture
def test_every_picture_tells_itself_in_words(draw: Callable[[FakeFit], str]) -> None:
    root = ElementTree.fromstring(draw(make_fit()))
    told = {node.get("id"): node.text for node in root if node.tag in (f"{SVG}title", f"{SVG}desc")}
    assert root.get("role") == "img"
    assert (root.get("aria-labelledby") or "").split() == list(told)
    assert all(told.values())


@every_picture
def test_no_picture_refers_to_anything_outside_itself(draw: Callable[[FakeFit], str]) -> None:
    svg = draw(make_fit())
    assert "http" not in svg.replace('xmlns="http://www.w3.org/2000/svg"', "")
    assert not re.search(r"@import|<style|<image|<metadata", svg)
    ids = set(re.findall(r' id="([^"]+)"', svg))
    assert set(re.findall(r'(?:url\(|href=")#([^)"]+)', svg)) <= ids


@every_picture
def test_every_picture_takes_its_colours_from_the_page(draw: Callable[[FakeFit], str]) -> None:
    svg = re.sub(r"var\(--(ink|faint|before|after|aside), #[0-9a-f]{6}\)", "", draw(make_fit()))
    assert not re.search(r"(fill|stroke): ?(#|rgb)", svg)


@every_picture
def test_the_same_fit_gives_the_same_picture(draw: Callable[[FakeFit], str]) -> None:
    assert draw(make_fit()) == draw(make_fit())


def test_pictures_in_one_page_share_no_id() -> None:
    ids = [i for draw in PICTURES.values() for i in re.findall(r' id="([^"]+)"', draw(make_fit()))]
    assert len(ids) == len(set(ids))


@every_picture
@pytest.mark.parametrize("pairs", [1, 2, 3])
def test_short_logs_are_drawn_too(draw: Callable[[FakeFit], str], pairs: int) -> None:
    svg = draw(make_fit(pairs=pairs, aside=0, field=None))
    assert not re.search(r"\b(nan|inf)\b", svg, re.IGNORECASE)


@every_picture
def test_a_fit_that_knows_nothing_is_drawn_too(draw: Callable[[FakeFit], str]) -> None:
    nothing = np.array([])
    lost = TermEstimate("collimation", np.nan, np.inf, -np.inf, np.inf, "arcmin", "not_determined")
    fit = replace(
        make_fit(pairs=2, aside=0),
        forecasts=(),
        term_estimates=(lost,),
        sky_forecast=SkyForecast(nothing, nothing, nothing),
    )
    assert not re.search(r"\b(nan|inf)\b", draw(fit), re.IGNORECASE)


@every_picture
def test_a_log_that_is_set_aside_whole_is_drawn_too(draw: Callable[[FakeFit], str]) -> None:
    fit = make_fit()
    all_bad = np.ones(20, dtype=bool)
    ElementTree.fromstring(
        draw(replace(fit, pair_results=replace(fit.pair_results, set_aside=all_bad)))
    )


@every_picture
def test_drawing_changes_neither_the_fit_nor_the_user_s_settings(
    draw: Callable[[FakeFit], str],
) -> None:
    import matplotlib

    settings = dict(matplotlib.rcParams)
    fit, untouched = make_fit(), make_fit()
    draw(fit)
    assert dict(matplotlib.rcParams) == settings
    for name in PairResults.__dataclass_fields__:
        left, right = getattr(fit.pair_results, name), getattr(untouched.pair_results, name)
        np.testing.assert_array_equal(left, right)


def test_a_user_s_own_drawing_settings_do_not_reach_the_pictures() -> None:
    import matplotlib

    usual = terms_picture(make_fit())
    with matplotlib.rc_context({"font.size": 30, "svg.fonttype": "path", "axes.grid": True}):
        assert terms_picture(make_fit()) == usual


def test_pictures_come_out_the_same_from_several_threads() -> None:
    with ThreadPoolExecutor(4) as pool:
        pictures = set(pool.map(terms_picture, [make_fit()] * 6))
    assert len(pictures) == 1


def test_the_dome_says_that_east_is_left_and_draws_it_so() -> None:
    svg = sky_picture(make_fit(), "before")
    assert "east is left" in svg
    place = {
        node.text: float(node.get("x") or "nan")
        for node in ElementTree.fromstring(svg).iter(f"{SVG}text")
    }
    assert place["E"] < place["N"] < place["W"]


def test_a_star_due_east_stands_left_and_a_miss_upward_points_to_the_zenith() -> None:
    fit = make_fit(pairs=1, aside=0, azimuth_index=0.0)
    one = replace(
        fit.pair_results,
        star_az_deg=np.array([90.0]),
        star_alt_deg=np.array([30.0]),
        residual_x_arcmin=np.array([0.0]),
        residual_y_arcmin=np.array([5.0]),
    )
    svg = sky_picture(replace(fit, pair_results=one), "after")
    arrow = re.search(r'<path d="(M[^"]*)"[^>]*style="fill: var\(--after', svg)
    assert arrow
    across = [float(x) for x in re.findall(r"[ML] ([\d.]+) ", arrow[1])]
    zenith, star = 180.0, 180.0 - 60.0 * 360.0 / 204.0
    assert min(across) == pytest.approx(star, abs=1.0)
    assert star + 30.0 < max(across) < zenith


def test_a_large_turn_of_the_azimuth_circle_is_left_out_and_said_so() -> None:
    turned = sky_picture(make_fit(azimuth_index=-6263.4), "before")
    assert re.search(r"turn of −10[34]°\d\d′ is left out", turned)
    assert "left out" not in sky_picture(make_fit(azimuth_index=-31.0), "before")


@pytest.mark.parametrize("azimuth_index", [10795.0, -10795.0])
def test_a_turn_near_half_a_circle_leaves_short_arrows(azimuth_index: float) -> None:
    told = re.search(
        r"longest arrow is (\d+)′", sky_picture(make_fit(azimuth_index=azimuth_index), "before")
    )
    assert told
    assert int(told[1]) < 110


def test_lines_set_aside_are_marked_by_number() -> None:
    svg = drawn_words(sky_picture(make_fit(), "after"))
    assert "line 9" in svg
    assert "set aside" in svg
    assert "line 9: 10°" in drawn_words(residual_picture(make_fit(), "altitude"))
    assert "set aside" not in drawn_words(sky_picture(make_fit(aside=0), "after"))


def test_a_term_that_dwarfs_the_others_is_told_off_the_scale() -> None:
    assert "(−104°23′, off this scale)" in terms_picture(make_fit(azimuth_index=-6263.4))
    assert "off this scale" not in terms_picture(make_fit())


def test_unknown_terms_are_drawn_without_a_value() -> None:
    assert "collimation: not known" in terms_picture(make_fit(pairs=3, aside=0))


def test_the_forecast_draws_the_eyepiece_where_its_field_is_known() -> None:
    assert "field, 24′ out" in forecast_picture(make_fit())
    without = forecast_picture(make_fit(field=None))
    assert "field" not in without
    assert "half within" in without


def test_the_filled_part_of_a_forecast_lies_inside_the_eyepiece_s_field() -> None:
    svg = forecast_picture(make_fit())
    edge = re.search(r'<path d="M ([\d.]+) [^"]*"[^>]*stroke-dasharray: 4', svg)
    filled = re.findall(r'<path d="(M[^"]*)"[^>]*style="fill: var\(--after[^"]*opacity: 0.75', svg)
    assert edge
    assert len(filled) == len(make_fit().forecasts)
    for hill in filled:
        assert max(float(x) for x in re.findall(r"[ML] ([\d.]+) ", hill)) == pytest.approx(
            float(edge[1]), abs=0.1
        )


def test_places_where_the_eyepiece_is_too_small_are_told_apart_by_shape() -> None:
    assert "wider than the eyepiece" in sky_forecast_picture(make_fit(field=4.0))
    assert "wider than the eyepiece" not in sky_forecast_picture(make_fit(field=48.0))


def test_the_drawing_library_is_imported_only_when_a_picture_is_asked_for() -> None:
    heavy = {"matplotlib", "jinja2", "rich", "scipy", "pandas"}
    check = (
        "import sys\nfrom pointmodel.fitting import page, pictures, text\n"
        f"sys.exit(str({heavy} & set(sys.modules)) if {heavy} & set(sys.modules) else 0)"
    )
    done = subprocess.run(
        [sys.executable, "-c", check], capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr


@pytest.mark.parametrize("turn", [3.0, -104.4, 179.95])
def test_behind_a_turn_the_misses_are_those_of_the_mount(turn: float) -> None:
    rng = np.random.default_rng(2)
    az, alt = rng.uniform(0, 360, 15), rng.uniform(15, 80, 15)
    across, up = rng.normal(0, 0.5, (2, 15))
    across -= np.median(across)
    x, y = arc_and_bearing(az, alt, az + turn + across, alt + up)
    pairs = replace(
        make_fit(pairs=15, aside=0).pair_results,
        star_az_deg=az,
        star_alt_deg=alt,
        before_x_arcmin=x,
        before_y_arcmin=y,
    )
    shown = logged_misses(pairs)
    assert shown.turn_deg == pytest.approx(turn)
    np.testing.assert_allclose(shown.x_arcmin, 60 * across * np.cos(np.radians(alt)), atol=1e-6)
    np.testing.assert_allclose(shown.y_arcmin, 60 * up, atol=1e-6)


def test_small_misses_are_shown_as_logged() -> None:
    pairs = make_fit(azimuth_index=-31.0).pair_results
    shown = logged_misses(pairs)
    assert shown.turn_deg is None
    np.testing.assert_array_equal(shown.x_arcmin, pairs.before_x_arcmin)
