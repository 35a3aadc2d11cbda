"""The index of a frame that a fit was made from, as plain types and back.

Numbers, texts and moments come back as they were; anything else comes back as its text. pandas is
imported only where there is an index to bring back.
"""

from __future__ import annotations

from typing import Any, Literal

import msgspec

Label = str | int | float | None


class LabelLevel(msgspec.Struct, forbid_unknown_fields=True):
    """One level of an index: its name, a label for each pair; moments in ISO 8601, of `zone`."""

    name: str | None
    kind: Literal["plain", "moment"]
    labels: list[Label]
    zone: str | None = None


def label_levels(index: Any) -> list[dict[str, Any]] | None:
    """The levels of an index as plain types; None for none."""
    if index is None:
        return None
    levels = (index.get_level_values(k) for k in range(index.nlevels))
    return [
        {
            "name": None if level.name is None else str(level.name),
            "kind": "moment" if level.dtype.kind == "M" else "plain",
            "labels": [_plain(label) for label in level.tolist()],
            "zone": str(level.tz) if getattr(level, "tz", None) is not None else None,
        }
        for level in levels
    ]


def _plain(label: Any) -> Label:
    if label is None or label != label:  # nan and its kind
        return None
    if isinstance(label, (str, int, float)):
        return label
    return str(label.isoformat()) if hasattr(label, "isoformat") else str(label)


def index_of_levels(levels: list[LabelLevel] | None) -> Any:
    """The index that `label_levels` took apart. Raises ValueError for no moments or zones."""
    if levels is None:
        return None
    import pandas as pd

    indices = [_index(level) for level in levels]
    return indices[0] if len(indices) == 1 else pd.MultiIndex.from_arrays(indices)


def _index(level: LabelLevel) -> Any:
    import pandas as pd

    if level.kind == "plain":
        return pd.Index(level.labels, name=level.name)
    written = [None if label is None else str(label) for label in level.labels]
    moments = pd.DatetimeIndex(pd.to_datetime(pd.Series(written), utc=level.zone is not None))
    return (moments if level.zone is None else moments.tz_convert(level.zone)).rename(level.name)
