"""Matplotlib axes of a user's own: which to draw on, and how a user's style overrules ours.

Nothing here touches settings, the current figure or the current axes. matplotlib is imported only
where something is drawn.
"""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING, Any, Literal

from pointmodel.base.errors import InputError, Problem
from pointmodel.base.wording import quoted

if TYPE_CHECKING:
    from matplotlib.axes import Axes


def axes_to_draw_on(ax: Any) -> Axes:
    """Return the axes as they are, or new ones for None. Raises InputError for anything else.

    New axes are of a figure that pyplot shows where the user works with pyplot (or in a notebook,
    which shows pyplot's figures by itself); else of a figure that nothing else knows.
    """
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    if ax is None:
        if _has_pyplot():
            from matplotlib import pyplot

            made: Axes = pyplot.figure().add_subplot()
            return made
        return Figure().add_subplot()
    if not isinstance(ax, Axes):
        wanted = "matplotlib axes, such as plt.subplots() gives; of several, one: axes[0, 0]"
        raise InputError([Problem("<ax>", None, None, quoted(ax), wanted)])
    return ax


def _has_pyplot() -> bool:
    return "matplotlib.pyplot" in sys.modules or ipython_shell() is not None


def ipython_shell() -> Any:
    """The IPython shell that runs this, None without one; IPython is not imported."""
    shell = getattr(sys.modules.get("IPython"), "get_ipython", None)
    return None if shell is None else shell()


def entitled(ax: Axes, title: str) -> None:
    """Give the axes a title unless they have one."""
    if not ax.get_title():
        ax.set_title(title)


def line_style(kwargs: dict[str, Any], **usual: Any) -> dict[str, Any]:
    """The usual style of a line, overruled by the user's, short names included."""
    return usual | own_style(kwargs, "line")


def own_style(kwargs: dict[str, Any], artist: Literal["line", "patch"]) -> dict[str, Any]:
    """The user's style with long names: `c` and `lw` are color and linewidth."""
    from matplotlib.cbook import normalize_kwargs
    from matplotlib.collections import PolyCollection
    from matplotlib.lines import Line2D

    known = Line2D if artist == "line" else PolyCollection
    named: dict[str, Any] = normalize_kwargs(kwargs, known)
    return named
