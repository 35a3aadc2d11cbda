"""From the log of a night with a small alt-az go-to telescope to its pointing terms.

Start with `fit`; `results.py` tells what it gives. What needs the sky or several nights is imported
when it is first asked for, as are the heavy libraries (pandas, lmfit, matplotlib): someone at an
eyepiece waits for the start.
"""

from importlib import import_module
from typing import TYPE_CHECKING, Any

from pointmodel.aiming import AimResult, aim
from pointmodel.documents import schema
from pointmodel.errors import InputError, Notice, Problem
from pointmodel.levelling import LevelResult, level
from pointmodel.mountfile import MountFile, read_mount
from pointmodel.nightfit import Fit, fit
from pointmodel.nightlog import NightLog, read_log
from pointmodel.savedfit import load_fit
from pointmodel.simulate import simulate

if TYPE_CHECKING:
    from pointmodel.entrycheck import CheckResult, check
    from pointmodel.nightcompare import CompareResult, compare
    from pointmodel.starplan import PlanResult, plan

_ON_DEMAND = {
    "CheckResult": "entrycheck",
    "check": "entrycheck",
    "CompareResult": "nightcompare",
    "compare": "nightcompare",
    "PlanResult": "starplan",
    "plan": "starplan",
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
