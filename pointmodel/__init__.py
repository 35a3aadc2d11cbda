"""From the log of a night with a small alt-az go-to telescope to its pointing terms.

Start with `fit`; `results.py` tells what it gives. What needs the sky or several nights is imported
when it is first asked for, as are the heavy libraries (pandas, lmfit, matplotlib): someone at an
eyepiece waits for the start.
"""

from importlib import import_module
from typing import TYPE_CHECKING, Any

from pointmodel.aiming.aim import AimResult, aim
from pointmodel.base.errors import InputError, Notice, Problem
from pointmodel.fitting.fit import fit, level
from pointmodel.fitting.result import Fit
from pointmodel.fitting.saved import load_fit
from pointmodel.fitting.schemas import schema
from pointmodel.levelling.result import LevelResult
from pointmodel.reading.mountfile import MountFile, read_mount
from pointmodel.reading.nightlog import NightLog, read_log
from pointmodel.simulation.simulate import simulate

if TYPE_CHECKING:
    from pointmodel.comparing.compare import CompareResult, compare
    from pointmodel.entries.check import check
    from pointmodel.entries.result import CheckResult
    from pointmodel.planning.plan import PlanResult, plan

_ON_DEMAND = {
    "CheckResult": "entries.result",
    "check": "entries.check",
    "CompareResult": "comparing.compare",
    "compare": "comparing.compare",
    "PlanResult": "planning.plan",
    "plan": "planning.plan",
}

__all__ = [
    "AimResult",
    "CheckResult",
    "CompareResult",
    "Fit",
    "InputError",
    "LevelResult",
    "MountFile",
    "NightLog",
    "Notice",
    "PlanResult",
    "Problem",
    "aim",
    "check",
    "compare",
    "fit",
    "level",
    "load_fit",
    "plan",
    "read_log",
    "read_mount",
    "schema",
    "simulate",
]


def __getattr__(name: str) -> Any:
    """Import what needs the sky or several nights when it is first asked for."""
    if name not in _ON_DEMAND:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    return getattr(import_module(f"{__name__}.{_ON_DEMAND[name]}"), name)
