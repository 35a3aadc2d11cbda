"""The usual cautions of the trade, said the same everywhere."""

from __future__ import annotations

FILTERED = "without a certified filter over the front of the telescope and of its finder"
SUN = f"Never point at or near the Sun {FILTERED}: it blinds at once."
HOLD_THE_TUBE = "Hold a heavy tube before you loosen a clutch: it swings and pinches."
MAKERS_MANUAL = (
    "The maker's manual, local rules and qualified people come before anything said here."
)
CAUTIONS = (
    SUN,
    HOLD_THE_TUBE,
    "Raise or lower a foot only with the load held by a second person or a support.",
    MAKERS_MANUAL,
)

CAUTION_LINE = (
    "Never point near the Sun without a certified front filter. Hold a heavy tube before you "
    "loosen a clutch. Turn feet only with the load held. The maker's manual comes first."
)
