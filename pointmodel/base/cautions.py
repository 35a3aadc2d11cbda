"""The usual cautions of the trade, said the same everywhere."""

from __future__ import annotations

CAUTIONS = (
    "Never point at or near the Sun without a certified filter over the front of the telescope: "
    "it blinds at once.",
    "A heavy tube swings and pinches when a clutch is loosened: hold it first.",
    "Raise or lower a foot only with the load held by a second person or a support.",
    "The maker's manual, local rules and qualified people come before anything said here.",
)


CAUTION_LINE = (
    "never near the Sun without a certified front filter; hold a heavy tube before loosening a "
    "clutch; turn feet only with the load held; the maker's manual comes first."
)
