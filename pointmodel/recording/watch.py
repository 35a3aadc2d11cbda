"""A log that another program writes: fitted again whenever it grows, with the same remark.

Only whole lines are read: what has no line feed yet is still being written, unless nobody has gone
on with it for two seconds. Then an editor left it so.
"""

from __future__ import annotations

import os
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from pointmodel.base.errors import InputError, Problem
from pointmodel.base.trace import trace
from pointmodel.estimate.profile import Profile
from pointmodel.fitting.fit import fit
from pointmodel.fitting.result import Fit
from pointmodel.reading.mountfile import MountFile
from pointmodel.reading.nightlog import NightLog
from pointmodel.recording.layout import refuse_sheets
from pointmodel.recording.remark import complete_pairs, judge, pairs_words
from pointmodel.recording.session import log_of_bytes

POLL_S = 0.5
LOOKS_UNTIL_LEFT = 4  # at the same file: so long no program pauses within a line

Stamp = tuple[int, int, int]


@dataclass
class Watch:
    """A log looked at now and again: `say(text, alarm)` tells what is new in it."""

    path: str
    mount: MountFile
    say: Callable[[str, bool], None]
    prior: Profile | None = None
    fit: Fit | None = None
    _stamp: Stamp | None = None
    _seen: bytes | None = None
    _pairs: int = 0
    _headline: str = ""
    _looks: int = 0
    _is_open: bool = False

    def look(self) -> None:
        """Say what is new, if anything is."""
        stamp = _stamp_of(self.path)
        self._looks = self._looks + 1 if stamp == self._stamp else 0
        is_left = self._is_open and self._looks == LOOKS_UNTIL_LEFT
        if stamp == self._stamp and self._seen is not None and not is_left:
            return
        try:
            data = Path(self.path).read_bytes()
        except OSError as error:
            self._told_once(b"", f"{self.path}: {error.strerror}; waiting for it.")
            return
        self._stamp = stamp
        ended = data[: max(data.rfind(b"\n"), data.rfind(b"\r")) + 1]
        self._is_open = ended != data
        whole = data if is_left else ended
        if whole == self._seen:
            return
        try:
            log = log_of_bytes(whole, self.path, self.mount)
        except InputError as error:
            self._told_once(whole, f"{error}")
            return
        self._seen = whole
        self._tell(log)

    def _tell(self, log: NightLog) -> None:
        """The remark on the newest pair, or that pairs are gone."""
        pairs, before = complete_pairs(log), self._pairs
        self._pairs = pairs
        ends_in_pair = pairs > 0 and bool(log.has_both[-1])
        if pairs > before and ends_in_pair:
            self.fit, remark = judge(log, self.fit, time.time(), self.prior)
            star = f", {log.target[-1]}" if log.target[-1] else ""
            self.say(f"Line {int(log.line[-1])}{star}. {remark.told}", remark.alarm)
            if remark.advice is not None and remark.advice.headline != self._headline:
                self._headline = remark.advice.headline
                self.say(self._headline, False)
            if remark.next.text:
                self.say(remark.next.text, False)
        elif pairs != before or before == 0:
            self.fit = fit(log, prior=self.prior) if pairs else None
            self.say(f"{self.path}: {pairs_words(pairs)}.", False)
        elif pairs:
            self.fit = fit(log, prior=self.prior)

    def _told_once(self, seen: bytes, text: str) -> None:
        if self._seen != seen or self._stamp is None:
            self._seen = seen
            self.say(text, True)


def watch(
    path: str, mount: MountFile, say: Callable[[str, bool], None], prior: Profile | None = None
) -> None:
    """Look at a log twice a second until Ctrl-C. Raises InputError for what cannot be watched."""
    if path == "-":
        wanted = "the path of a log that another program writes"
        raise InputError([Problem("-", None, None, "standard input", wanted)])
    refuse_sheets(b"", path)
    watched = Watch(path, mount, say, prior)
    try:
        while True:
            watched.look()
            time.sleep(POLL_S)
    except KeyboardInterrupt:
        return


def _stamp_of(path: str) -> Stamp | None:
    try:
        status = os.stat(path)
    except OSError:
        trace()
        return None
    return status.st_ino, status.st_size, status.st_mtime_ns
