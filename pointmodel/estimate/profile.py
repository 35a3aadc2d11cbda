"""A mount's profile: what one more night of it will look like, from the nights it was seen.

`compare` makes one (`CompareResult.profile`), a file keeps it, and `fit(log, prior=profile)` starts
from it. How far a fit trusts it stands in `estimate/carried.py`.
"""

from __future__ import annotations

import os
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, TypeAlias

import msgspec
import numpy as np

from pointmodel.base.arrays import FloatArray
from pointmodel.base.errors import InputError, Problem
from pointmodel.base.wording import join, quoted
from pointmodel.mount.terms import STANDARD_NAMES
from pointmodel.reading.files import decode_text, read_bytes

PROFILE_SCHEMA = "pointmodel.profile/1"
ProfileSource: TypeAlias = "Profile | Mapping[str, Any] | str | Path | None"
_WANTED = "a profile as `pointmodel compare --profile-out FILE` writes it"
LARGEST_ARCMIN = 1e6


@dataclass(frozen=True, eq=False)
class Profile:
    """What is expected of the six standard terms on one more night, and of its noise.

    `terms` (6,) are the names of `mean` (6,) and `covariance` (6, 6), arcminutes; ln of the noise
    an axis in arcminutes is normal. `nights` is how many it was made from.
    """

    terms: tuple[str, ...]
    mean: FloatArray
    covariance: FloatArray
    log_sigma_mean: float
    log_sigma_sd: float
    nights: int

    def to_dict(self) -> dict[str, Any]:
        """Return the profile as plain types, as it stands in the compare document."""
        return {
            "terms": list(self.terms),
            "mean": self.mean.tolist(),
            "covariance": self.covariance.tolist(),
            "log_sigma": {"mean": self.log_sigma_mean, "sd": self.log_sigma_sd},
            "nights": self.nights,
        }


def read_profile(source: ProfileSource) -> Profile | None:
    """Read and check a profile: a file of `compare --profile-out`, its tables, or a Profile.

    None stays None. Raises InputError for anything else, and for a covariance that none can be.
    """
    if source is None or isinstance(source, Profile):
        return source
    if isinstance(source, Mapping):
        return _checked(source, "<profile>")
    if not isinstance(source, (str, os.PathLike)):
        raise _refusal("<profile>", quoted(source))
    path = Path(source)
    text, _ = decode_text(read_bytes(path, _WANTED), str(path))
    try:
        tables = msgspec.json.decode(text)
    except (msgspec.MsgspecError, UnicodeError, RecursionError):
        raise _refusal(str(path), "a file that is not JSON") from None
    if not isinstance(tables, dict) or tables.get("schema") != PROFILE_SCHEMA:
        raise _refusal(str(path), "JSON that is not a profile")
    return _checked(tables, str(path))


def profile_text(profile: Profile) -> str:
    """Return the profile as the text of its file."""
    from pointmodel.base.documents import json_text

    return json_text({"schema": PROFILE_SCHEMA, **profile.to_dict()})


class _LogSigma(msgspec.Struct):
    mean: float
    sd: float


class _Tables(msgspec.Struct):
    terms: list[str]
    mean: list[float]
    covariance: list[list[float]]
    log_sigma: _LogSigma
    nights: int


def _checked(tables: Mapping[str, Any], file: str) -> Profile:
    try:
        held = msgspec.convert(dict(tables), _Tables)
    except (msgspec.ValidationError, UnicodeError) as error:  # half a letter has no UTF-8
        raise _refusal(file, f"a profile with a part missing or misshapen ({error})") from None
    if sorted(held.terms) != sorted(STANDARD_NAMES):
        raise _refusal(
            file,
            f"the terms {join([quoted(name) for name in held.terms[:20]])}",
            f"the terms {join(STANDARD_NAMES)}",
        )
    order = [held.terms.index(name) for name in STANDARD_NAMES]
    rows = [len(row) for row in held.covariance]
    if len(held.mean) != len(order) or rows != [len(order)] * len(order):
        raise _refusal(file, "a mean or covariance of another length than terms")
    mean = np.array(held.mean)[order]
    covariance = np.array(held.covariance)[np.ix_(order, order)]
    figures = [*mean, *covariance.ravel(), held.log_sigma.mean, held.log_sigma.sd]
    too_large = np.abs(mean).max() > LARGEST_ARCMIN or np.abs(covariance).max() > LARGEST_ARCMIN**2
    if not np.isfinite(figures).all() or too_large:
        raise _refusal(file, "figures that no mount can have")
    uneven = np.abs(covariance - covariance.T).max() > 1e-6 * np.abs(covariance).max()
    if uneven or np.linalg.eigvalsh(covariance).min() <= 0.0:
        raise _refusal(file, "a covariance that none can be (not symmetric, or not positive)")
    if not 0.0 < held.log_sigma.sd < 10.0 or abs(held.log_sigma.mean) > 10.0 or held.nights < 1:
        raise _refusal(file, "a noise or a number of nights that none can be")
    return Profile(
        terms=STANDARD_NAMES,
        mean=mean,
        covariance=covariance,
        log_sigma_mean=held.log_sigma.mean,
        log_sigma_sd=held.log_sigma.sd,
        nights=held.nights,
    )


def _refusal(file: str, found: str, wanted: str = _WANTED) -> InputError:
    return InputError([Problem(file, None, None, found, wanted)])
