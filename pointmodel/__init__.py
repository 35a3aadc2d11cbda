"""From the log of a night with a small alt-az go-to telescope to its pointing terms.

Start with `fit`; `results.py` tells what it gives. The heavy libraries (pandas, lmfit, matplotlib)
are imported only by what needs them.
"""

from pointmodel.aiming import AimResult, aim
from pointmodel.documents import schema
from pointmodel.errors import InputError, Notice, Problem
from pointmodel.levelling import LevelResult, level
from pointmodel.mountfile import MountFile, read_mount
from pointmodel.nightfit import Fit, fit
from pointmodel.nightlog import NightLog, read_log
from pointmodel.savedfit import load_fit
from pointmodel.simulate import simulate

__all__ = [
    "AimResult",
    "Fit",
    "InputError",
    "LevelResult",
    "MountFile",
    "NightLog",
    "Notice",
    "Problem",
    "aim",
    "fit",
    "level",
    "load_fit",
    "read_log",
    "read_mount",
    "schema",
    "simulate",
]
