"""The pictures: well-formed, self-contained, told in words, and drawn for any colour scheme."""

from __future__ import annotations

import re
import subprocess
import sys
from collections.abc import Callable
from dataclasses import replace
from itertools import pairwise
from types import SimpleNamespace
from typing import Any
from xml.etree import ElementTree

import numpy as np
import pytest
from fakes import HOSTILE, TRIPOD, FakeFit, arc_and_bearing, make_fit, make_levelling

from pointmodel.estimate.inturn import Happened
from pointmodel.estimate.results import PairResults, TermEstimate
from pointmodel.fitting.bars import bought_picture, influence_picture, influence_words
from pointmodel.fitting.eyepiece import eyepiece_picture
from pointmodel.fitting.hills import forecast_picture
from pointmodel.fitting.intervals import ridge_picture, terms_picture
from pointmodel.fitting.landings import Landing
from pointmodel.fitting.pictures import motion_sides, residual_picture, slack_picture
from pointmodel.fitting.skymaps import (
    sky_forecast_picture,
    sky_forecast_words,
    sky_panels,
    sky_picture,
)
from pointmodel.fitting.text import fit_text
from pointmodel.fitting.turn import logged_misses
from pointmodel.fitting.unsettled import Influence
from pointmodel.forecasting.result import SkyForecast
from pointmodel.levelling import words as levelwords
from pointmodel.levelling.picture import feet_lines, feet_picture
from pointmodel.levelling.text import level_text
from pointmodel.reading.mountfile import Feet
from pointmodel.showing.drawing import TEXT, WIDTH, labels
from pointmodel.showing.panels import ticks

SVG = "{http://www.w3.org/2000/svg}"


def feet_of(fit: FakeFit) -> str:
    return feet_picture(fit.levelling.feet, *levelwords.shown_way(fit.levelling))


def ridge_of(_: FakeFit) -> str:
    ridge = make_fit(pairs=3, aside=0).breakdown.ridge
    assert ridge is not None
    return ridge_picture(ridge)


PICTURES: dict[str, Callable[[FakeFit], str]] = {
    "eyepiece": lambda fit: eyepiece_picture(fit, fit.landings),
    "sky": lambda fit: sky_picture(fit, sky_panels(fit)[0]),
    "sky forecast": sky_forecast_picture,
    "forecast": forecast_picture,
    "terms": terms_picture,
    "bought": bought_picture,
    "influence": influence_picture,
    "ridge": ridge_of,
    "slack": lambda fit: slack_picture(fit, motion_sides(make_fit())),
    "feet": feet_of,
    "residuals by time": lambda fit: residual_picture(fit, "time"),
    "residuals by altitude": lambda fit: residual_picture(fit, "altitude"),
    "residuals by azimuth": lambda fit: residual_picture(fit, "azimuth"),
}
every_picture = pytest.mark.parametrize("draw", PICTURES.values(), ids=PICTURES.keys())


def texts(svg: str) -> list[str]:
    return [node.text or "" for node in ElementTree.fromstring(svg).iter(f"{SVG}text")]


def drawn_words(svg: str) -> str:
    return " ".join("".join(node.itertext()) for node in ElementTree.fromstring(svg).iter())


def description(svg: str) -> str:
    told = ElementTree.fromstring(svg).find(f"{SVG}desc")
    assert told is not None
    return told.text or ""


@every_picture
@pytest.mark.parametrize("text", [None, HOSTILE, "星\ud800\ufffe"])
def test_every_picture_is_well_formed_whatever_the_targets_are_called(
    draw: Callable[[FakeFit], str], text: str | None
) -> None:
    root = ElementTree.fromstring(draw(make_fit(text=text)))
    assert root.tag == f"{SVG}svg"
    assert not list(root.iter(f"{SVG}script"))


@every_picture
def test_every_picture_tells_itself_in_words_with_figures(draw: Callable[[FakeFit], str]) -> None:
    root = ElementTree.fromstring(draw(make_fit()))
    told = {node.get("id"): node.text for node in root if node.tag in (f"{SVG}title", f"{SVG}desc")}
    assert root.get("role") == "img"
    assert (root.get("aria-labelledby") or "").split() == list(told)
    assert all(told.values())
    assert re.search(r"\d", description(draw(make_fit())))


@every_picture
def test_no_picture_refers_to_anything_outside_itself(draw: Callable[[FakeFit], str]) -> None:
    svg = draw(make_fit())
    assert "http" not in svg.replace('xmlns="http://www.w3.org/2000/svg"', "")
    assert not re.search(r"@import|<style|<image|<metadata|url\(", svg)


@every_picture
def test_every_picture_takes_its_colours_from_the_page(draw: Callable[[FakeFit], str]) -> None:
    colours = r"var\(--(ink|faint|before|after|aside|paper), #[0-9a-f]{6}\)"
    svg = re.sub(colours, "", draw(make_fit()))
    assert not re.search(r'(fill|stroke)="(?!"|none")', svg)
    assert not re.search(r"#[0-9a-f]{3}|rgb", svg)


@every_picture
def test_letters_are_twelve_pixels_high_on_the_narrowest_phone(
    draw: Callable[[FakeFit], str],
) -> None:
    root = ElementTree.fromstring(draw(make_fit()))
    across = float((root.get("viewBox") or "").split()[2])
    sizes = [float(node.get("font-size") or "inf") for node in root.iter()]
    # 320 px less the page's margins of 16 px each side
    assert across == WIDTH
    assert min(sizes) * (320 - 32) / across >= 12


@every_picture
def test_no_word_leaves_its_picture(draw: Callable[[FakeFit], str]) -> None:
    for fit in (make_fit(), make_fit(text="Rigil Kentaurus the very far companion")):
        for node in ElementTree.fromstring(draw(fit)).iter(f"{SVG}text"):
            x, told = float(node.get("x") or "nan"), node.text or ""
            width = 0.5 * TEXT * len(told)  # half an em a letter: the usual mean of a sans serif
            start = {"end": x - width, "middle": x - width / 2}.get(
                node.get("text-anchor") or "", x
            )
            assert start >= -4, told
            assert start + width <= WIDTH + 6, told


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
def test_drawing_leaves_the_fit_alone(draw: Callable[[FakeFit], str]) -> None:
    fit, untouched = make_fit(), make_fit()
    draw(fit)
    for name in PairResults.__dataclass_fields__:
        left, right = getattr(fit.pair_results, name), getattr(untouched.pair_results, name)
        np.testing.assert_array_equal(left, right)


def test_a_page_needs_no_drawing_library() -> None:
    check = (
        "import sys\nfrom fakes import make_fit\nfrom pointmodel.fitting.page import report_html\n"
        "report_html(make_fit())\n"
        "heavy = {'matplotlib', 'scipy', 'pandas'} & set(sys.modules)\n"
        "sys.exit(str(heavy) if heavy else 0)"
    )
    done = subprocess.run(
        [sys.executable, "-c", check],
        capture_output=True,
        text=True,
        check=False,
        cwd=str(__file__).rpartition("/")[0],
    )
    assert done.returncode == 0, done.stderr


def one_star(x: float, y: float, az: float = 90.0) -> FakeFit:
    fit = make_fit(pairs=1, aside=0, azimuth_index=0.0)
    one = replace(
        fit.pair_results,
        star_az_deg=np.array([az]),
        star_alt_deg=np.array([30.0]),
        residual_x_arcmin=np.array([x]),
        residual_y_arcmin=np.array([y]),
    )
    return replace(fit, pair_results=one)


def lines_of(svg: str) -> list[list[tuple[float, float]]]:
    """The corners of every path of the picture."""
    return [
        [(float(x), float(y)) for x, y in re.findall(r"[ML](-?[\d.]+) (-?[\d.]+)", d)]
        for d in re.findall(r' d="([^"]*)"', svg)
    ]


def test_the_dome_says_that_east_is_left_and_draws_it_so() -> None:
    svg = sky_picture(make_fit(), sky_panels(make_fit())[0][:1])
    assert "east is left" in svg
    place = {
        node.text: float(node.get("x") or "nan")
        for node in ElementTree.fromstring(svg).iter(f"{SVG}text")
    }
    assert place["E"] < place["N"] < place["W"]


def test_a_star_due_east_stands_left_and_a_miss_upward_points_to_the_zenith() -> None:
    left_over = sky_panels(one_star(0.0, 5.0))[0][-1]
    assert left_over.title == "left over"
    svg = sky_picture(one_star(0.0, 5.0), [left_over])
    start, tip = next(path for path in lines_of(svg) if len(path) == 5)[:2]
    assert start[0] < tip[0] < WIDTH / 2
    assert start[1] == pytest.approx(tip[1], abs=0.1)
    # to the right of a star in the east is south: down on the dome
    svg = sky_picture(one_star(5.0, 0.0), [sky_panels(one_star(5.0, 0.0))[0][-1]])
    start, tip = next(path for path in lines_of(svg) if len(path) == 5)[:2]
    assert tip[1] > start[1] + 5


def test_arrows_are_shown_as_logged_and_by_each_family_that_matters() -> None:
    panels, small = sky_panels(make_fit())
    assert [one.title for one in panels] == ["as logged", "lean alone", "zeros alone", "left over"]
    assert small == ["tube"]
    assert [one.own_scale for one in panels] == [False, False, False, True]


def test_zeros_and_tube_that_cannot_be_parted_are_drawn_together() -> None:
    panels, _ = sky_panels(make_fit(pairs=3, aside=0))
    assert "zeros and tube" in [one.title for one in panels]


def test_of_many_pairs_one_arrow_a_patch_of_sky_is_drawn() -> None:
    fit = make_fit(pairs=2000)
    svg = sky_picture(fit, sky_panels(fit)[0])
    assert len(svg) < 60_000


def test_a_large_turn_of_the_azimuth_circle_is_left_out_and_said_so() -> None:
    fit = make_fit(azimuth_index=-6263.4)
    turned = sky_picture(fit, sky_panels(fit)[0])
    assert re.search(r"turn of −10[34]°\d\d′ in azimuth is left out", turned)
    usual = make_fit(azimuth_index=-31.0)
    assert "left out" not in sky_picture(usual, sky_panels(usual)[0])


@pytest.mark.parametrize("azimuth_index", [10795.0, -10795.0])
def test_a_turn_near_half_a_circle_leaves_short_arrows(azimuth_index: float) -> None:
    fit = make_fit(azimuth_index=azimuth_index)
    told = re.search(r"as logged: (\d+)′ typically", sky_picture(fit, sky_panels(fit)[0]))
    assert told
    assert int(told[1]) < 110


def test_lines_set_aside_are_marked_by_number() -> None:
    svg = residual_picture(make_fit(), "altitude")
    assert "line 9: 10°" in drawn_words(svg)
    assert "set aside" in " ".join(texts(svg))
    assert "set aside" not in " ".join(texts(residual_picture(make_fit(aside=0), "altitude")))


def test_the_worst_stars_are_named() -> None:
    fit = make_fit(aside=0)
    pairs = fit.pair_results
    misfit = np.maximum(
        np.abs(pairs.residual_x_arcmin) / pairs.band_x_arcmin,
        np.abs(pairs.residual_y_arcmin) / pairs.band_y_arcmin,
    )
    worst = pairs.target[int(misfit.argmax())]
    assert worst in texts(residual_picture(fit, "time"))
    farthest = pairs.target[int(fit.landings[2].miss_arcmin.argmax())]
    assert farthest in texts(eyepiece_picture(fit, fit.landings[2:]))


def test_time_runs_by_the_log_s_clock_and_by_lines_where_there_is_none() -> None:
    fit = make_fit()
    assert {"06:00", "06:30"} <= set(texts(residual_picture(fit, "time")))
    log = SimpleNamespace(**{**vars(fit.log), "time_s": np.full(20, np.nan)})
    words = texts(residual_picture(replace(fit, log=log), "time"))
    assert "pairs in the log's order" in words
    assert "10" in words


def with_event(fit: FakeFit) -> FakeFit:
    event = SimpleNamespace(kind="power_cycle", before_pair=8)
    part = np.repeat([0, 1], [8, 12])
    return replace(
        fit,
        log=SimpleNamespace(**{**vars(fit.log), "events": (event,)}),
        breakdown=replace(fit.breakdown, part=part),
    )


def test_events_are_marked_in_time_and_the_parts_of_a_log_in_every_picture_of_pairs() -> None:
    fit = with_event(make_fit())
    assert "power cycle" in texts(residual_picture(fit, "time"))
    for draw in ("eyepiece", "sky", "residuals by time", "residuals by altitude"):
        assert "from line 10" in texts(PICTURES[draw](fit)), draw
        assert "from line 10" not in texts(PICTURES[draw](make_fit())), draw


def test_what_was_found_that_nobody_logged_is_marked_too() -> None:
    moved = Happened("moved", 12, 0.97, True, {"tilt_north": 20.0}, 8)
    svg = residual_picture(replace(make_fit(), happened=(moved,)), "time")
    assert "moved" in texts(svg)
    assert "Between pairs: moved." in description(svg)


def test_a_jump_is_put_back_and_drawn_in() -> None:
    fit = make_fit(aside=0)
    steps = np.zeros((20, 2))
    steps[10:, 1] = 30.0
    jumped = replace(fit, breakdown=replace(fit.breakdown, steps=steps))
    assert "20" in texts(residual_picture(jumped, "time"))
    assert "20" not in texts(residual_picture(fit, "time"))
    assert residual_picture(jumped, "altitude") == residual_picture(fit, "altitude")


def test_stars_in_the_eyepiece_are_counted_and_those_far_out_stay_at_the_rim() -> None:
    fit = make_fit(pairs=4, aside=0)
    x = np.array([0.0, 20.0, 30.0, 500.0])
    landing = Landing("as logged", x, np.zeros(4))
    svg = eyepiece_picture(fit, [landing])
    assert "2 of 4 inside" in texts(svg)
    assert "the eyepiece: 48′ across" in texts(svg)
    dots = next(path for path in re.findall(r' d="((?:M[\d.]+ [\d.]+h0)+)"', svg))
    assert dots.count("M") == 3
    places = [float(one) for one in re.findall(r"M([\d.]+) ", dots)]
    assert places[1] - places[0] == pytest.approx(2 * (places[2] - places[1]), abs=0.2)


def test_a_field_that_is_not_stated_is_said_to_be_assumed() -> None:
    fit = make_fit(field=None)
    assert "the eyepiece: 40′ across, assumed" in texts(eyepiece_picture(fit, fit.landings))


def test_a_term_that_dwarfs_the_others_is_told_off_the_scale() -> None:
    assert "−104°23′ (off this scale)" in terms_picture(make_fit(azimuth_index=-6263.4))
    assert "off this scale" not in terms_picture(make_fit())


def test_unknown_terms_are_drawn_without_a_value() -> None:
    assert "Collimation: not known" in drawn_words(terms_picture(make_fit(pairs=3, aside=0)))


def test_terms_are_bought_in_turn_down_to_what_is_left() -> None:
    words = texts(bought_picture(make_fit(azimuth_index=0.0)))
    assert (
        words.index("as logged") < words.index("without lean") < words.index("without azimuth zero")
    )
    assert {"13′", "1.4′"} <= set(words)


def test_the_star_that_carries_the_lean_is_named() -> None:
    fit = make_fit(aside=0)
    line = fit.pair_results.line
    told = Influence(line, np.where(line == 5, 7.0, 0.2), np.zeros(line.size))
    fit = replace(fit, breakdown=replace(fit.breakdown, influence=told))
    assert influence_words(fit).startswith("The lean hangs most on line 5 (Fomalhaut)")
    assert texts(influence_picture(fit))[0] == "line 5 (Fomalhaut)"
    small = Influence(line, np.full(line.size, 0.3), np.zeros(line.size))
    fit = replace(fit, breakdown=replace(fit.breakdown, influence=small))
    assert influence_words(fit).startswith("No single star carries the lean")


def test_slack_is_told_by_the_means_of_both_last_motions() -> None:
    fit = make_fit(aside=0)
    slack = np.column_stack([6.0 * fit.log.az_motion, np.zeros(20)])
    sides = motion_sides(replace(fit, breakdown=replace(fit.breakdown, slack=slack)))
    assert [side.title for side in sides] == ["azimuth axis"]  # only up was logged in altitude
    assert abs(sides[0].gap_arcmin) == pytest.approx(12.0, abs=3 * sides[0].error_arcmin)


def test_the_forecast_draws_the_eyepiece_where_its_field_is_known() -> None:
    assert "eyepiece&#x27;s edge, 24′ out" in forecast_picture(make_fit())
    without = forecast_picture(make_fit(field=None))
    assert "edge" not in without
    assert "half within" in without


def test_the_filled_part_of_a_forecast_lies_inside_the_eyepiece_s_field() -> None:
    svg = forecast_picture(make_fit())
    edge = re.search(r'<path d="M([\d.]+) [^"]*"[^>]*stroke-dasharray', svg)
    filled = re.findall(r'<g opacity=".75"><path d="([^"]*)"', svg)
    assert edge
    assert len(filled) == len(make_fit().forecasts)
    for hill in filled:
        assert max(float(x) for x in re.findall(r"[ML]([\d.]+) ", hill)) == pytest.approx(
            float(edge[1]), abs=0.2
        )


def test_places_where_the_eyepiece_is_too_small_are_told_apart_by_shape() -> None:
    assert "wider than the eyepiece" in sky_forecast_picture(make_fit(field=4.0))
    assert "wider than the eyepiece" not in sky_forecast_picture(make_fit(field=48.0))


def test_a_sky_that_is_alike_everywhere_is_told_in_a_sentence() -> None:
    fit = make_fit()
    even = replace(fit.sky_forecast, miss_rms_arcmin=np.linspace(1.0, 1.3, 220))
    assert "alike over the whole open sky" in sky_forecast_words(replace(fit, sky_forecast=even))
    assert "most near azimuth" in sky_forecast_words(fit)


def test_the_feet_are_the_same_on_page_and_terminal() -> None:
    result = make_levelling(TRIPOD, 48.0)
    toward, way, by_screws = levelwords.shown_way(result)
    on_page = texts(feet_picture(result.feet, toward, way, by_screws))
    in_terminal = "\n".join(feet_lines(result.feet, toward, way, by_screws))
    for told in on_page:
        assert told in in_terminal, told
    assert {"N", "E", "S", "W", "1", "2", "3"} <= set(on_page)


@pytest.mark.parametrize(
    "azimuths", [(0.0, 120.0, 240.0), (90.0, 210.0, 330.0), (45.0, 165.0, 285.0)]
)
def test_orders_at_the_feet_do_not_cover_one_another(azimuths: tuple[float, ...]) -> None:
    fit = make_levelling(Feet(430.0, azimuths, 1.5), 48.0)
    svg = feet_picture(fit.feet, 329.0)
    boxes = []
    for node in ElementTree.fromstring(svg).iter(f"{SVG}text"):
        x, y, width = (
            float(node.get("x") or 0),
            float(node.get("y") or 0),
            0.5 * TEXT * len(node.text or ""),
        )
        left = {"end": x - width, "middle": x - width / 2}.get(node.get("text-anchor") or "", x)
        boxes.append((left, y - 0.75 * TEXT, left + width, y))
    for k, one in enumerate(boxes):
        for other in boxes[k + 1 :]:
            apart = (
                one[2] <= other[0]
                or other[2] <= one[0]
                or one[3] <= other[1]
                or (other[3] <= one[1])
            )
            assert apart, (one, other)


def test_names_keep_clear_of_one_another_and_stay_inside() -> None:
    rng = np.random.default_rng(11)
    places = [(float(x), float(y)) for x, y in rng.uniform(10, 190, (12, 2))]
    svg = f"<svg>{labels(places, ['Achernar'] * 12, (0, 0, 200, 200))}</svg>"
    width, found = 0.56 * TEXT * 8, []
    for node in ElementTree.fromstring(svg).iter("text"):
        x, y = float(node.get("x") or 0), float(node.get("y") or 0)
        left = {"end": x - width, "middle": x - width / 2}.get(node.get("text-anchor") or "", x)
        found.append((left, y))
        assert -0.1 <= left <= 200.1 - width
    assert len(found) >= 6
    for k, (x, y) in enumerate(found):
        for other_x, other_y in found[k + 1 :]:
            assert abs(x - other_x) >= width - 0.2 or abs(y - other_y) >= TEXT - 0.2


@pytest.mark.parametrize(
    ("ends", "told"),
    [
        ((0.0, 10.0), [0, 2, 4, 6, 8, 10]),
        ((-1.9, 1.9), [-1, 0, 1]),
        ((0.0, 46.0), [0, 10, 20, 30, 40]),
        ((3.0, 3.0), []),
        ((0.0, float("nan")), []),
    ],
)
def test_ticks_stand_at_round_figures(ends: tuple[float, float], told: list[float]) -> None:
    found = ticks(*ends, 5)
    assert found == pytest.approx(told)
    assert all(b > a for a, b in pairwise(found))


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
    shown: Any = logged_misses(pairs)
    assert shown.turn_deg == pytest.approx(turn)
    np.testing.assert_allclose(shown.x_arcmin, 60 * across * np.cos(np.radians(alt)), atol=1e-6)
    np.testing.assert_allclose(shown.y_arcmin, 60 * up, atol=1e-6)


def test_small_misses_are_shown_as_logged() -> None:
    pairs = make_fit(azimuth_index=-31.0).pair_results
    shown = logged_misses(pairs)
    assert shown.turn_deg is None
    np.testing.assert_array_equal(shown.x_arcmin, pairs.before_x_arcmin)


def test_fit_and_level_show_the_same_feet_in_a_terminal() -> None:
    fit = make_fit()
    shown = feet_lines(fit.levelling.feet, *levelwords.shown_way(fit.levelling))
    picture = "\n".join(shown)
    assert picture in fit_text(fit, whole=True)
    assert picture in level_text(fit.levelling)
