"""A night's log as text, and short ways to read one in tests."""

from __future__ import annotations

import io
from typing import Any

import numpy as np
import pytest

from pointmodel.base.errors import InputError
from pointmodel.reading.nightlog import NightLog, read_log

HEADER = "target,time,commanded_az,commanded_alt,centred_az,centred_alt,az_motion,alt_motion,event"
FIGURES = "commanded_az,commanded_alt,centred_az,centred_alt"
NIGHT = f"""\
# clear, no wind
{HEADER},note
Achernar,2031-05-17T21:04:30+10:00,123.75,45.2,124.01,45.31,cw,UP,,first
Canopus,2031-05-17 21:09:00 +10:00,-10 30,60:30,350°15',60.61,CCW,down,Bump,"low, in haze"

,,,,,,,,clutch,
Sirius,,80.9,30,,,,,,not centred
,,,,,,,,power cycle,
"""
HOBART = {"site": {"time_zone": "Australia/Hobart"}}
AT_21_04_30 = 1936782270.0


def log_of(text: str | bytes, mount: Any = None) -> NightLog:
    """A log read from memory."""
    return read_log(io.BytesIO(text if isinstance(text, bytes) else text.encode()), mount)


def problems_of(text: str | bytes) -> list[tuple[int | None, str | None, str, str]]:
    """Line, column, what was read and what was wanted, of each problem of a log."""
    with pytest.raises(InputError, match="wanted") as caught:
        log_of(text)
    return [(at.line, at.column, at.found, at.wanted) for at in caught.value.problems]


def codes(log: NightLog) -> list[str]:
    """Codes of a log's notices."""
    return [notice.code for notice in log.warnings]


def assert_is_the_night(log: NightLog) -> None:
    """Check that a log holds what NIGHT says."""
    assert log.target == ("Achernar", "Canopus", "Sirius")
    np.testing.assert_allclose(log.commanded_az_deg, [123.75, 349.5, 80.9])
    np.testing.assert_allclose(log.commanded_alt_deg, [45.2, 60.5, 30.0])
    np.testing.assert_allclose(log.centred_az_deg, [124.01, 350.25, np.nan])
    np.testing.assert_allclose(log.centred_alt_deg, [45.31, 60.61, np.nan])
    np.testing.assert_array_equal(log.time_s, [AT_21_04_30, AT_21_04_30 + 270, np.nan])
    assert log.az_motion.tolist() == [1, -1, 0]
    assert log.alt_motion.tolist() == [1, -1, 0]
    assert log.note == ("first", "low, in haze", "not centred")
    assert [(event.kind, event.before_pair) for event in log.events] == [
        ("bump", 1),
        ("clutch", 2),
        ("power_cycle", 3),
    ]
    assert log.has_both.tolist() == [True, True, False]
    assert not log.camera
