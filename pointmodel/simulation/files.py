"""A simulated night as files, as a log in memory, as the truth's document and as text.

Read `night.py` first. Figures are written as a readout of that step shows them.
"""

from __future__ import annotations

import csv
import io
import json
from datetime import datetime, timedelta, timezone
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from pointmodel.base.errors import InputError, Problem
from pointmodel.base.ownfiles import create_bytes
from pointmodel.mount.terms import STANDARD_NAMES, terms_of_the_mount
from pointmodel.reading.freetext import safe_cell

if TYPE_CHECKING:
    from pointmodel.reading.mountfile import MountFile
    from pointmodel.reading.nightlog import NightLog
    from pointmodel.simulation.night import SimulatedNight

COLUMNS = (
    "target",
    "time",
    "commanded_az",
    "commanded_alt",
    "centred_az",
    "centred_alt",
    "az_motion",
    "alt_motion",
)


def figure_text(value_deg: float, step_arcsec: float) -> str:
    """An angle as a readout of this step shows it: decimals, or degrees and minutes (seconds)."""
    places = _decimals(step_arcsec / 3600.0, 4)
    if step_arcsec == 0.0 or places is not None:
        return f"{value_deg:.{9 if places is None else places}f}"
    seconds_places = _decimals(step_arcsec, 3)
    if seconds_places is None:
        return f"{value_deg:.9f}"
    sign = "-" if value_deg < 0 else ""
    seconds = round(abs(value_deg) * 3600.0, seconds_places)
    minutes, seconds = divmod(seconds, 60.0)
    degrees, minutes = divmod(int(minutes), 60)
    if step_arcsec % 60.0 == 0.0:
        return f"{sign}{degrees} {minutes:02d}"
    width = 2 if seconds_places == 0 else 3 + seconds_places
    return f"{sign}{degrees} {minutes:02d} {seconds:0{width}.{seconds_places}f}"


def _decimals(step: float, most: int) -> int | None:
    """How many decimals show every multiple of the step; None if more than `most` or step 0."""
    for places in range(most + 1):
        scaled = step * 10.0**places
        if scaled > 0.5 and abs(scaled - round(scaled)) < 1e-9:
            return places
    return None


def csv_text(night: SimulatedNight) -> str:
    """The log as CSV text, header first, lines ending in a line feed.

    What a mount file does not say of the controller is said in remarks at the end: a simulated one
    was switched on and nothing was pressed.
    """
    zone = timezone(timedelta(seconds=night.options.utc_offset_s))
    written = io.StringIO()
    writer = csv.writer(written, lineterminator="\n")
    writer.writerow(COLUMNS)
    step = night.readout_step_arcsec
    logged = night.options.motions != "unlogged"
    for k, target in enumerate(night.target):
        az_motion = "cw" if night.circumstances.az_motion[k] > 0 else "ccw"
        alt_motion = "up" if night.circumstances.alt_motion[k] > 0 else "down"
        writer.writerow(
            (
                safe_cell("target", target),
                datetime.fromtimestamp(night.time_s[k], zone).isoformat(timespec="seconds"),
                figure_text(night.commanded_az_deg[k], step),
                figure_text(night.commanded_alt_deg[k], step),
                figure_text(night.centred_az_deg[k], step),
                figure_text(night.centred_alt_deg[k], step),
                az_motion if logged else "",
                alt_motion if logged else "",
            )
        )
    alignment = None if night.options.mount is None else night.options.mount.alignment
    if alignment is None or alignment.stars is None:
        written.write("# [alignment] stars = []\n")
    if alignment is None or alignment.presses is None:
        written.write('# [alignment] presses = "none"\n')
    return written.getvalue()


def _told(mount: MountFile | None) -> MountFile:
    """The mount file, with what is known of a simulated controller: nothing was pressed."""
    from msgspec.structs import replace

    from pointmodel.reading.mountfile import read_mount

    held = read_mount(mount)
    alignment = held.alignment
    known = replace(
        alignment,
        stars=() if alignment.stars is None else alignment.stars,
        presses=alignment.presses or "none",
    )
    return replace(held, alignment=known)


def night_log(night: SimulatedNight) -> NightLog:
    """The night as a log in memory, without the way over a file."""
    from pointmodel.reading.nightlog import NightLog

    n = night.time_s.size
    logged = 0.0 if night.options.motions == "unlogged" else 1.0
    return NightLog(
        source="<simulated>",
        name="simulated",
        line=night.line,
        target=night.target,
        commanded_az_deg=night.commanded_az_deg,
        commanded_alt_deg=night.commanded_alt_deg,
        centred_az_deg=night.centred_az_deg,
        centred_alt_deg=night.centred_alt_deg,
        camera=False,
        time_s=night.time_s,
        commanded_time_s=np.full(n, np.nan),
        az_motion=logged * night.circumstances.az_motion,
        alt_motion=logged * night.circumstances.alt_motion,
        events=(),
        note=(None,) * n,
        mount=_told(night.options.mount),
        warnings=(),
    )


def truth_document(night: SimulatedNight, files: tuple[str, ...]) -> dict[str, Any]:
    """Everything that went into the night, as plain types."""
    source = None if night.options.mount is None else night.options.mount.source
    return {
        "schema": "pointmodel.simulate/1",
        "inputs": [] if source is None else [source],
        "warnings": [],
        "seed": night.seed,
        "files": list(files),
        "mount_class": night.options.mount_class,
        "terms": _terms(night),
        "faults": [
            {
                "kind": fault.kind,
                "line": fault.line,
                "size": round(float(fault.size), 6),
                "unit": fault.unit,
                "detail": fault.detail,
            }
            for fault in night.faults
        ],
        "entries": _entries(night),
        "sigma_arcmin": night.sigma_arcmin,
        "scatter_arcmin": night.scatter_arcmin,
        "centring_arcmin": night.centring_arcmin,
        "readout_step_arcsec": night.readout_step_arcsec,
        "pairs": [
            {
                "line": int(line),
                "target": night.target[k],
                "true_az_deg": round(float(night.star_az_deg[k]), 9),
                "true_alt_deg": round(float(night.star_alt_deg[k]), 9),
                "bad": night.cause[k] is not None,
                "cause": night.cause[k],
            }
            for k, line in enumerate(night.line)
        ],
    }


def _terms(night: SimulatedNight) -> list[dict[str, Any]]:
    """The standard terms and every further one that is not zero; slips with their line."""
    listed: list[dict[str, Any]] = []
    for name, term in terms_of_the_mount().items():
        value = float(night.terms[name])
        if name in STANDARD_NAMES or value:
            entry: dict[str, Any] = {"name": name, "value": value, "unit": term.unit}
            if term.cause == "slip":
                entry["after_line"] = int(night.line[night.slip_after_pair - 1])
            listed.append(entry)
    return listed


def _entries(night: SimulatedNight) -> dict[str, Any]:
    """What the controller should have held of site and time, and what it did."""
    mount = night.options.mount
    if mount is None or mount.place_deg is None:
        return {"true": None, "typed": None, "reason": "the night has no site"}
    latitude = mount.place_deg[0]
    return {
        "true": {"latitude_deg": latitude, "sidereal_offset_min": 0.0},
        "typed": {
            "latitude_deg": latitude + night.options.latitude_error_deg,
            "sidereal_offset_min": night.options.sidereal_error_min,
        },
    }


def truth_path(path: str | Path) -> Path:
    """Where the truth of a log at `path` stands: `<stem>.truth.json` beside it."""
    return Path(path).with_name(f"{Path(path).stem}.truth.json")


def write_night(night: SimulatedNight, path: str | Path) -> tuple[str, str]:
    """Write log and truth, replacing nothing; see `SimulatedNight.write`."""
    log = Path(path)
    if not log.name:
        raise InputError([Problem(str(path), None, None, "no file name", "a file to write")])
    truth = truth_path(path)
    for file in (log, truth):
        if file.exists():
            raise InputError([_exists(file)])
    written = (str(log), str(truth))
    document = json.dumps(night.to_dict(written), indent=1, ensure_ascii=False, allow_nan=False)
    _write_new(log, night.to_csv_text())
    try:
        _write_new(truth, document + "\n")
    except InputError:
        log.unlink(missing_ok=True)  # the one just made: a log without its truth is of no use
        raise
    return written


def _write_new(file: Path, text: str) -> None:
    try:
        create_bytes(file, text.encode("utf-8", "replace"))
    except FileExistsError:
        raise InputError([_exists(file)]) from None
    except OSError as error:
        wanted = "a file that can be made there (does the folder exist?)"
        reason = error.strerror or type(error).__name__
        raise InputError([Problem(str(file), None, None, reason, wanted)]) from None


def _exists(file: Path) -> Problem:
    return Problem(
        str(file), None, None, "a file that exists already", "a new name; nothing is replaced"
    )


def night_text(night: SimulatedNight) -> str:
    """The night in words, one line a thing: what `print` and the command show."""
    sized = [f"{entry['name']} {entry['value']:+.2f} {entry['unit']}" for entry in _terms(night)]
    lines = [
        f"{night.time_s.size} pairs, {night.options.mount_class} mount, seed {night.seed}",
        f"one pair is off by {night.sigma_arcmin:.2f}′ in each direction: the mount by "
        f"{night.scatter_arcmin:.2f}′, the hand by {night.centring_arcmin:.2f}′",
        f"readouts in steps of {night.readout_step_arcsec:g}″",
        "terms: " + ", ".join(sized),
    ]
    for fault in night.faults:
        if fault.line is not None:
            lines.append(
                f"line {fault.line}: {fault.kind}, {fault.size:.1f} {fault.unit} ({fault.detail})"
            )
    return "\n".join(lines)
