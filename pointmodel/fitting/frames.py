"""Results as pandas frames; pandas is imported here and only when a frame is asked for."""

from __future__ import annotations

from dataclasses import asdict, fields

import numpy as np
import pandas as pd

from pointmodel.estimate.results import PairResults, TermEstimate
from pointmodel.forecasting.result import RemedyForecast


def terms_frame(terms: tuple[TermEstimate, ...]) -> pd.DataFrame:
    """Return one row a term: value, standard_error, low, high, unit, status, after_line."""
    frame = pd.DataFrame([asdict(term) for term in terms]).set_index("name")
    frame["after_line"] = frame["after_line"].astype("Int64")
    return frame


def pairs_frame(pairs: PairResults) -> pd.DataFrame:
    """Return one row a pair read, index `line`."""
    columns = {field.name: getattr(pairs, field.name) for field in fields(pairs)}
    columns = {k: v.copy() if isinstance(v, np.ndarray) else list(v) for k, v in columns.items()}
    return pd.DataFrame(columns).set_index("line")


def forecast_frame(forecasts: tuple[RemedyForecast, ...]) -> pd.DataFrame:
    """Return one row a remedy, columns as in the JSON document."""
    rows = [{k: v for k, v in asdict(f).items() if k != "sample_arcmin"} for f in forecasts]
    frame = pd.DataFrame(rows).set_index("remedy")
    frame["chance_in_field"] = frame["chance_in_field"].astype(float)
    return frame
