"""What is asked of the controller once, at the start of a recording, and what an answer means.

Where an answer is kept: `mountlines.py`.
"""

from __future__ import annotations

import re

from pointmodel.base.wording import join
from pointmodel.reading.mountfile import Alignment
from pointmodel.recording.mountlines import toml_text

ASK_STARS = "Since you switched the controller on, did you align it, or zero it on a star?"
STARS_PROMPT = "Names of the stars, or no (Enter: I do not know)"
NAMES_WANTED = "Type the names of the stars with commas between them: Achernar, Canopus."
ASK_PRESSES = "When you have centred a star, do you tell the controller “this is the star”?"
PRESSES_PROMPT = "no, each time, or sometimes (Enter: I do not know)"
PRESSES_WANTED = "Not understood. Type no, each time or sometimes; or press Enter."
BEFORE_THE_PRESS = (
    "Then type here what the mount reads before you tell it so. Figures read afterwards say "
    "nothing of the mount."
)
SAY_WHEN = "Then type zero_on_star here each time, after the pair. " + BEFORE_THE_PRESS
_NO = ("no", "n", "none", "never", "nothing", "0", "-")
_YES = ("yes", "y")
_NOT_KNOWN = ("?", "unknown", "unsure", "not sure", "dunno", "no idea")
_PRESSES = {
    "each_star": ("each", "each time", "each star", "every", "every time", "always", *_YES),
    "logged": ("sometimes", "some", "now and then"),
    "none": _NO,
}
_BETWEEN = re.compile(r"\s*(?:[,;+&/]|\band\b|\bthen\b)\s*", re.IGNORECASE)


def stars_meant(text: str) -> tuple[str, ...] | None:
    """Return the names in an answer, none for a no; None where no name is in it (a mere yes)."""
    if text.strip().lower() in _NO:
        return ()
    names = tuple(name for name in _BETWEEN.split(" ".join(text.split())) if name)
    return None if not names or text.strip().lower() in _YES else names


def is_not_known(text: str) -> bool:
    """Whether an answer says that the person does not know."""
    said = text.strip(" .!").lower().replace("’", "'")
    return said in _NOT_KNOWN or bool(re.search(r"\b(don't|do not|dont) know\b", said))


def presses_meant(text: str) -> str | None:
    """Return what an answer says of presses, as the mount file has it; None: not understood."""
    said = text.strip().lower()
    return next((key for key, words in _PRESSES.items() if said in words), None)


def state_words(alignment: Alignment) -> str | None:
    """Return what is known of the alignment already, to be put right if it is not so tonight."""
    if alignment.stars is None:
        return None
    done = {
        "none": "was not aligned on any star",
        "one_star": f"was zeroed on {join(alignment.stars)}",
    }.get(alignment.state, f"was aligned on {join(alignment.stars)}")
    return f"Before this log, the controller {done}. If that is not so, change it first"


def stars_value(names: tuple[str, ...]) -> str:
    """Return names as TOML has them."""
    return f"[{', '.join(map(toml_text, names))}]"
