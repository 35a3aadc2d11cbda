"""The aim document: where each target stands and what to command for it."""

from __future__ import annotations

from dataclasses import asdict
from typing import TYPE_CHECKING, Any

from pointmodel.base.documents import as_dict, head

if TYPE_CHECKING:
    from pointmodel.aiming.aim import AimedTarget, AimResult

AIM_SCHEMA = "pointmodel.aim/2"
NOT_SENT = "nothing is to be commanded"
NO_SKY = "the moment (--at), or latitude and longitude in the mount file, are not told"


def aim_document(result: AimResult) -> dict[str, Any]:
    """Return the document of `pointmodel aim`: plain types only, units in the keys.

    `command_ra` is in hours (h:m:s) and `command_dec` in degrees, as a log may hold them.
    """
    return as_dict(
        {
            **head(AIM_SCHEMA, result.inputs, result.warnings),
            "targets": [_aimed(target) for target in result.targets],
        }
    )


def _aimed(target: AimedTarget) -> dict[str, Any]:
    return {
        "target": target.target,
        "what": target.what,
        "at": target.at,
        "asked_az_deg": target.asked_az_deg,
        "asked_alt_deg": target.asked_alt_deg,
        "command_az_deg": target.command_az_deg,
        "command_alt_deg": target.command_alt_deg,
        **_equatorial(target),
        "nudge": None if target.nudge is None else asdict(target.nudge),
        "miss_rms_arcmin": target.miss_rms_arcmin,
        "p95_arcmin": target.p95_arcmin,
        "chance_in_field": target.chance_in_field,
        "approach": {"az": target.approach_az, "alt": target.approach_alt},
        "status": target.status,
        "reason": target.reason,
    }


def _equatorial(target: AimedTarget) -> dict[str, Any]:
    ra_deg, dec_deg = target.command_ra_deg, target.command_dec_deg
    if ra_deg is None or dec_deg is None:
        why = NOT_SENT if target.command_az_deg is None else NO_SKY
        return {"command_ra": None, "command_dec": None, "command_ra_dec_reason": why}
    return {
        "command_ra": hours_text(ra_deg),
        "command_dec": degrees_text(dec_deg),
        "command_ra_deg": ra_deg,
        "command_dec_deg": dec_deg,
        "equinox": target.equinox,
    }


def hours_text(ra_deg: float) -> str:
    """A right ascension as hours `05:34:31.9`, to a tenth of a second."""
    tenths = round(ra_deg / 15.0 * 36000.0) % 864000
    return f"{tenths // 36000:02d}:{tenths // 600 % 60:02d}:{tenths % 600 / 10:04.1f}"


def degrees_text(dec_deg: float) -> str:
    """A declination as degrees `-05:23:28`, to a second."""
    seconds = round(abs(dec_deg) * 3600.0)
    sign = "-" if dec_deg < 0.0 and seconds else "+"
    return f"{sign}{seconds // 3600:02d}:{seconds // 60 % 60:02d}:{seconds % 60:02d}"
