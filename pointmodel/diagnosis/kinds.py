"""Every kind of cause: those that terms carry, and those that no term stands for.

A cause of the mount is defined with its term (`mount/terms.py`); here stand the rest.
"""

from __future__ import annotations

from dataclasses import dataclass

from pointmodel.base.registry import Registry
from pointmodel.mount.terms import TERMS


@dataclass(frozen=True, kw_only=True)
class CauseKind:
    """A cause that no term stands for: its name, and what it is called in plain words."""

    name: str
    title: str


OTHER_CAUSES: Registry[CauseKind] = Registry((
    CauseKind(name="clock_or_longitude", title="the controller's clock or longitude"),
    CauseKind(name="latitude", title="the controller's latitude"),
    CauseKind(name="mount_file", title="the site in the mount file"),
    CauseKind(name="moved", title="something moved"),
    CauseKind(name="tube_shifted", title="the tube slid in its saddle"),
    CauseKind(name="wrong_star", title="another star was centred"),
    CauseKind(name="log_typo", title="a slip of the pen in the log"),
    CauseKind(name="loose_centring", title="loosely centred"),
    CauseKind(name="alignment", title="the controller's alignment"),
    CauseKind(name="stale_command", title="commanded place noted too early"),
    CauseKind(name="old_equinox", title="places of the old equinox (J2000)"),
    CauseKind(name="healthy", title="nothing wrong found"),
))  # fmt: skip


def cause_titles() -> dict[str, str]:
    """Return the title of every cause by its name, those of terms first."""
    of_terms = {term.cause: term.title for term in (*TERMS.values(), *TERMS.known)}
    return of_terms | {name: kind.title for name, kind in OTHER_CAUSES.items()}
