"""Results as pandas frames; pandas is imported here and only when a frame is asked for."""

from __future__ import annotations

from dataclasses import asdict, fields

import numpy as np
import pandas as pd

from pointmodel.base.rows import with_units
from pointmodel.estimate.results import PairResults, TermEstimate
from pointmodel.forecasting.result import RemedyForecast
from pointmodel.reading.nightlog import NightLog


def terms_frame(terms: tuple[TermEstimate, ...]) -> pd.DataFrame:
    """Return one row a term: value, standard_error, low, high, unit, status, after_line."""
    frame = pd.DataFrame([asdict(term) for term in terms]).set_index("name")
    frame["after_line"] = frame["after_line"].astype("Int64")
    return with_units(frame)


def pairs_frame(pairs: PairResults, log: NightLog) -> pd.DataFrame:
    """Return one row a pair read; the index is that of the frame it came from, else `line`.

    `line` is a column beside the frame's own index.
    """
    columns = {field.name: getattr(pairs, field.name) for field in fields(pairs)}
    columns = {k: v.copy() if isinstance(v, np.ndarray) else list(v) for k, v in columns.items()}
    frame = pd.DataFrame(columns)
    if log.labels is None:
        return with_units(frame.set_index("line"))
    frame.index = log.labels[np.searchsorted(log.line, pairs.line)]
    return with_units(frame)


def forecast_frame(forecasts: tuple[RemedyForecast, ...]) -> pd.DataFrame:
    """Return one row a remedy, columns as in the JSON document."""
    rows = [{k: v for k, v in asdict(f).items() if k != "sample_arcmin"} for f in forecasts]
    frame = pd.DataFrame(rows).set_index("remedy")
    frame["chance_in_field"] = frame["chance_in_field"].astype(float)
    return with_units(frame)
