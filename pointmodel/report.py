"""The report: one HTML page that needs nothing beside it, for telephone, paper and the night.

Read `templates/report.html.j2` for what stands where, `plots.py` for the pictures. The page carries
a marker of its maker, and only a page that carries it is ever replaced.
"""

from __future__ import annotations

import base64
import hashlib
import os
import secrets
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from pointmodel import figures, plots
from pointmodel.errors import InputError, Problem
from pointmodel.results import RemedyForecast
from pointmodel.showing import levelwords, words
from pointmodel.showing.feetpicture import feet_picture
from pointmodel.showing.showable import Showable
from pointmodel.showing.turn import logged_misses
from pointmodel.terms import STANDARD
from pointmodel.wording import join

if TYPE_CHECKING:
    from jinja2 import Environment

MARKER = b'<meta name="generator" content="pointmodel '
MARKER_WITHIN_BYTES = 1024


@dataclass(frozen=True)
class PairRow:
    """One line of the page's table of pairs, worded."""

    line: int
    target: str
    cells: tuple[str, ...]
    note: str
    aside: bool


def write_report(fit: Showable, path: Path) -> Path:
    """Write the page of a fit to `path`, whole or not at all, and return the path.

    Missing folders are made. Raises InputError where something stands there that this program did
    not write, or where the system refuses.
    """
    _refuse_what_is_not_ours(path)
    page = report_html(fit).encode("utf-8", "replace")
    beside = path.with_name(f".pointmodel-{secrets.token_hex(4)}")
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        beside.write_bytes(page)
        os.replace(beside, path)
    except (OSError, ValueError) as error:
        raise _refusal(path, _why(error), "a place to write to") from error
    finally:
        if os.path.exists(beside):
            os.unlink(beside)
    return path


def report_html(fit: Showable) -> str:
    """The whole page as text: no outside requests, every word of a user's escaped."""
    from markupsafe import Markup

    environment = _environment()
    assert environment.loader is not None
    script = environment.loader.get_source(environment, "report.js")[0]
    digest = base64.b64encode(hashlib.sha256(script.encode()).digest()).decode()
    return environment.get_template("report.html.j2").render(
        fit=fit,
        version=_version(),
        script=Markup(script),
        script_hash=f"sha256-{digest}",
        words=words,
        levelwords=levelwords,
        figures=figures,
        join=join,
        when=_when(fit),
        now=words.go_to_now(fit),
        few=words.few_pairs_words(words.pairs_used(fit)),
        realign=words.realign_words(fit),
        in_field=_now_and_after(fit),
        ruled_out=[cause for cause in fit.causes if cause.verdict == "ruled_out"],
        typical=_typical_sizes(),
        pictures={name: Markup(svg) for name, svg in _pictures(fit).items()},
        pairs=_pair_rows(fit),
        turn_deg=logged_misses(fit.pair_results).turn_deg,
    )


def _environment() -> Environment:
    from jinja2 import Environment, PackageLoader, StrictUndefined

    return Environment(
        loader=PackageLoader("pointmodel"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        finalize=_cleaned,
    )


def _cleaned(value: Any) -> Any:
    """Plain text without control characters; markup that was made here passes untouched."""
    if hasattr(value, "__html__") or not isinstance(value, str):
        return value
    return figures.clean(value).replace(" %", "\u00a0%")


def _pictures(fit: Showable) -> dict[str, str]:
    feet = levelwords.shown_feet(fit.levelling)
    return {
        "feet": feet_picture(feet, fit.levelling.lean.toward_az_deg or 0.0) if feet else "",
        "before": plots.sky_picture(fit, "before"),
        "after": plots.sky_picture(fit, "after"),
        "sky_forecast": plots.sky_forecast_picture(fit),
        "forecast": plots.forecast_picture(fit),
        "terms": plots.terms_picture(fit),
        "altitude": plots.residual_picture(fit, "altitude"),
        "azimuth": plots.residual_picture(fit, "azimuth"),
    }


def _now_and_after(fit: Showable) -> list[RemedyForecast]:
    """The forecast as things stand and after the remedy advised, where the field is known."""
    known = [f for f in fit.forecasts if f.chance_in_field is not None]
    return [f for f in known if f.remedy == "none"] + [
        f for f in known if f.remedy == fit.first_remedy and f.remedy != "none"
    ]


def _typical_sizes() -> str:
    return ", ".join(
        f"{term.name} {figures.figure(term.sd, 0)}′"
        for term in STANDARD
        if term.acts != "azimuth_axis"
    )


def _when(fit: Showable) -> str:
    times = fit.log.time_s[np.isfinite(fit.log.time_s)]
    if times.size == 0:
        return ""
    start, end = (datetime.fromtimestamp(float(t), UTC) for t in (times.min(), times.max()))
    return f"{start:%Y-%m-%d %H:%M} to {end:%H:%M} UTC"


def _pair_rows(fit: Showable) -> list[PairRow]:
    pairs = fit.pair_results
    logged = logged_misses(pairs)
    sizes = (
        logged.x_arcmin,
        logged.y_arcmin,
        pairs.residual_x_arcmin,
        pairs.residual_y_arcmin,
    )
    rows = []
    for k, line in enumerate(pairs.line):
        places = (figures.figure(pairs.star_az_deg[k], 1), figures.figure(pairs.star_alt_deg[k], 1))
        cause, hint = pairs.cause[k], pairs.hint[k]
        rows.append(
            PairRow(
                int(line),
                pairs.target[k] or "—",
                (*(f"{p}°" for p in places), *(figures.miss_words(size[k]) for size in sizes)),
                "; ".join(filter(None, (cause and words.cause_words(cause), hint))),
                bool(pairs.set_aside[k]),
            )
        )
    return rows


def _version() -> str:
    from importlib.metadata import PackageNotFoundError, version

    try:
        return version("pointmodel")
    except PackageNotFoundError:
        return "(not installed)"


def _refuse_what_is_not_ours(path: Path) -> None:
    wanted = "another name for the report, or what is there moved out of the way"
    if not os.path.exists(path):
        return
    if not os.path.isfile(path):
        raise _refusal(path, "something that is not a file", wanted)
    try:
        with path.open("rb") as page:
            ours = MARKER in page.read(MARKER_WITHIN_BYTES)
    except OSError as error:
        raise _refusal(path, _why(error), wanted) from error
    if not ours:
        raise _refusal(path, "a file that this program did not write", wanted)


def _why(error: Exception) -> str:
    return getattr(error, "strerror", None) or str(error)


def _refusal(path: Path, found: str, wanted: str) -> InputError:
    return InputError([Problem(str(path), None, None, found, wanted)])
