"""Solved images: FITS files whose headers say where on the sky each pixel looks, and when.

Read first: `sights_in`, then `sight_of`. The headers are read by astropy (the extra `images`),
imported only here.

Headers: FITS Standard 4.0, sections 8 (celestial coordinates) and 9 (time); Calabretta and Greisen,
A&A 395 (2002) 1077 (papers I and II of world coordinates in FITS).
"""

from __future__ import annotations

import math
import warnings
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from pointmodel.base.errors import InputError, Problem
from pointmodel.base.times import TimeTextError, parse_moment
from pointmodel.base.trace import trace
from pointmodel.base.wording import join, printable, quoted

ENDINGS = (".fits", ".fit", ".fts", ".fits.gz", ".fit.gz", ".fts.gz", ".fits.fz")
_TT_MINUS_TAI_S = 32.184
_TAI_MINUS_GPS_S = 19.0
# Seconds to take off for TAI; UTC and its kin are left as they are. TDB differs from TT by 2 ms at
# most, TCG and TCB by a minute at most, which no header of a small telescope's camera has.
_BEFORE_TAI_S = {
    "TAI": 0.0, "IAT": 0.0, "TT": _TT_MINUS_TAI_S, "TDT": _TT_MINUS_TAI_S, "ET": _TT_MINUS_TAI_S,
    "TDB": _TT_MINUS_TAI_S, "GPS": -_TAI_MINUS_GPS_S,
}  # fmt: skip
_AS_UTC = ("UTC", "GMT", "UT1", "UT")
_FOLDER_WANTED = f"a folder with solved images in it ({join(ENDINGS[:3], 'or')})"


@dataclass(frozen=True)
class Sight:
    """Where one image's middle looked (ICRS, degrees), and the middle of its exposure (POSIX s)."""

    file: str
    ra_deg: float
    dec_deg: float
    time_s: float


class _NoSightError(ValueError):
    """An image's header does not tell; the message says what is missing."""


def sights_in(folder: str | Path) -> tuple[list[Sight], list[str]]:
    """Return the sights of all solved images in a folder, and why further ones tell nothing.

    Raises InputError where the folder holds no image, or astropy is not installed.
    """
    path = Path(folder)
    files = sorted(p for p in path.iterdir() if _is_image(p)) if _is_folder(path) else []
    if not files:
        found = "no image in it" if _is_folder(path) else "no folder of that name"
        raise InputError([Problem(printable(str(folder)), None, None, found, _FOLDER_WANTED)])
    read = _reader()
    sights, silent = [], []
    for file in files:
        name = printable(file.name)
        try:
            sights.append(read(file))
        except _NoSightError as error:
            silent.append(f"{name}: {error}")
    return sights, silent


def _is_folder(path: Path) -> bool:
    try:
        return path.is_dir()
    except (OSError, ValueError):
        trace()
        return False


def _is_image(path: Path) -> bool:
    return path.name.lower().endswith(ENDINGS) and not path.name.startswith(".") and path.is_file()


def _reader() -> Callable[[Path], Sight]:
    try:
        import astropy.io.fits
        import astropy.wcs  # noqa: F401
    except ImportError:
        wanted = 'pip install "pointmodel[images]"'
        found = "images, which need a further package"
        raise InputError([Problem("--images", None, None, found, wanted)]) from None
    return sight_of


def sight_of(file: Path) -> Sight:
    """Read the first solved image of a FITS file. Raises _NoSightError."""
    from astropy.io.fits import VerifyError

    unreadable = (OSError, ValueError, TypeError, KeyError, EOFError, ImportError, VerifyError)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # of headers that bend the standard and can be read
        try:
            return _first_sight(file)
        except _NoSightError:
            raise
        except unreadable as error:
            raise _NoSightError(f"cannot be read as FITS ({_first_line(error)})") from None


def _first_sight(file: Path) -> Sight:
    from astropy.io import fits

    with (
        file.open("rb") as stream,  # astropy leaves open what it fails to read
        fits.open(stream, memmap=False, lazy_load_hdus=True) as units,
    ):
        headers = [unit.header for unit in units]
    for header in headers:
        place = _middle_icrs_deg(header)
        if place is not None:
            told = {**_keywords(headers[0]), **_keywords(header)}
            return Sight(printable(file.name), *place, mid_exposure_s(told))
    raise _NoSightError("its header holds no place on the sky (it was not solved)")


def _first_line(error: Exception) -> str:
    return (str(error).splitlines() or [type(error).__name__])[0]


def _keywords(header: Any) -> dict[str, Any]:
    names = ("DATE-AVG", "DATE-OBS", "EXPTIME", "EXPOSURE", "TIMESYS")
    return {name: header[name] for name in names if name in header}


def _middle_icrs_deg(header: Any) -> tuple[float, float] | None:
    """ICRS right ascension and declination, degrees, of pixel (NAXIS + 1)/2; None without any.

    Pixels count from 1 in the middle of the first (FITS Standard, section 8.1).
    """
    from astropy.coordinates import SkyCoord
    from astropy.wcs import WCS, WcsError
    from astropy.wcs.utils import wcs_to_celestial_frame

    size = [header.get(f"ZNAXIS{k}", header.get(f"NAXIS{k}", 0)) for k in (1, 2)]
    if not all(isinstance(n, int) and n > 0 for n in size):
        return None
    try:
        sky = WCS(header, naxis=2) if header.get("NAXIS") == 2 else WCS(header).celestial
        if not sky.has_celestial:
            return None
        lon, lat = sky.all_pix2world(*[[(n + 1) / 2.0] for n in size], 1)
        frame = wcs_to_celestial_frame(sky)
        found = SkyCoord(lon, lat, unit="deg", frame=frame).icrs
    except (WcsError, ValueError, TypeError, KeyError, AttributeError, MemoryError):
        trace()
        return None
    ra_deg, dec_deg = float(found.ra.deg[0]), float(found.dec.deg[0])
    return (ra_deg, dec_deg) if math.isfinite(ra_deg) and math.isfinite(dec_deg) else None


def mid_exposure_s(header: Mapping[str, Any]) -> float:
    """Middle of the exposure, POSIX seconds: DATE-AVG, else DATE-OBS and half of EXPTIME.

    TIMESYS says the scale, UTC where it is silent (FITS Standard, section 9). Raises _NoSightError.
    """
    scale = str(header.get("TIMESYS", "UTC")).strip().upper().split("(")[0]
    if scale not in _AS_UTC and scale not in _BEFORE_TAI_S:
        raise _NoSightError(f"its times are in a scale that is not known here ({quoted(scale)})")
    if "DATE-AVG" in header:
        told_s = _moment_s(header["DATE-AVG"])
    elif "DATE-OBS" in header:
        told_s = _moment_s(header["DATE-OBS"]) + 0.5 * _exposure_s(header)
    else:
        raise _NoSightError("its header holds no time (DATE-OBS)")
    if scale in _AS_UTC:
        return told_s
    from pointmodel.sky.clock import utc_of_tai_s

    return float(utc_of_tai_s(told_s - _BEFORE_TAI_S[scale]))


def _exposure_s(header: Mapping[str, Any]) -> float:
    exposure = header.get("EXPTIME", header.get("EXPOSURE"))
    if isinstance(exposure, bool) or not isinstance(exposure, (int, float)) or not exposure >= 0.0:
        raise _NoSightError("its header does not say how long the exposure was (EXPTIME)")
    return float(exposure)


def _moment_s(text: object) -> float:
    """POSIX seconds of an ISO 8601 moment without a zone, counted as if in UTC."""
    try:
        return parse_moment(str(text).removesuffix("Z")).posix_s
    except TimeTextError:
        raise _NoSightError(f"its time {quoted(text)} is no date and time") from None
