"""From the log of a night with a small alt-az go-to telescope to its pointing terms.

Start with `fit`: give it the path of a log, a pandas frame or a dict of columns. What it returns
prints as text, shows itself in a notebook, and holds frames, pictures and an lmfit result:

>>> import pointmodel as pm
>>> night = pm.simulate(seed=1, terms={"tilt_east": 40.0})
>>> fit = pm.fit(night.log)
>>> round(fit.terms.loc["tilt_east", "value"])
40
>>> fit.terms.columns.tolist()[:4]
['value', 'standard_error', 'low', 'high']

Angles of position are degrees, terms and misses arcminutes. What a user can get wrong is one
`InputError`, which lists every problem with its line.
"""

# What needs the sky or several nights is imported when it is first asked for, as are the heavy
# libraries (pandas, lmfit, matplotlib): someone at an eyepiece waits for the start.

from pointmodel.base.interrupts import end_quietly_where_a_command

end_quietly_where_a_command()  # before the imports, which take most of the time of a short command

from importlib import import_module
from typing import TYPE_CHECKING, Any

from pointmodel.aiming.aim import AimResult, aim
from pointmodel.base.errors import InputError, Notice, Problem
from pointmodel.fitting.fit import fit, level
from pointmodel.fitting.result import Fit
from pointmodel.fitting.saved import load_fit
from pointmodel.fitting.schemas import schema
from pointmodel.levelling.result import LevelResult
from pointmodel.mount.term import Circumstances, Term
from pointmodel.reading.mountfile import MountFile, read_mount
from pointmodel.reading.nightlog import NightLog, read_log
from pointmodel.simulation.simulate import simulate

if TYPE_CHECKING:
    from pointmodel.comparing.compare import CompareResult, compare
    from pointmodel.entries.check import check
    from pointmodel.entries.result import CheckResult
    from pointmodel.fitting.parameters import parameters
    from pointmodel.planning.plan import PlanResult, plan

    __version__: str

_ON_DEMAND = {
    "CheckResult": "entries.result",
    "check": "entries.check",
    "CompareResult": "comparing.compare",
    "compare": "comparing.compare",
    "parameters": "fitting.parameters",
    "PlanResult": "planning.plan",
    "plan": "planning.plan",
}

__all__ = [
    "AimResult",
    "CheckResult",
    "Circumstances",
    "CompareResult",
    "Fit",
    "InputError",
    "LevelResult",
    "MountFile",
    "NightLog",
    "Notice",
    "PlanResult",
    "Problem",
    "Term",
    "aim",
    "check",
    "compare",
    "fit",
    "level",
    "load_fit",
    "parameters",
    "plan",
    "read_log",
    "read_mount",
    "schema",
    "simulate",
]


def __dir__() -> list[str]:
    """The public names and no others; those that are imported on demand are among them."""
    return sorted(__all__)


def __getattr__(name: str) -> Any:
    """Import what needs the sky or several nights when it is first asked for."""
    if name == "__version__":
        from pointmodel.showing.pages import version

        return version()
    if name not in _ON_DEMAND:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    return getattr(import_module(f"{__name__}.{_ON_DEMAND[name]}"), name)
