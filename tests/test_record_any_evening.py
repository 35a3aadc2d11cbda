"""Any evening of a recording, whatever is typed and whatever happens, against a model of the log.

The model is a list of lines: what each holds, and whether it counts. After every step the log must
hold just that. POINTMODEL_EVENINGS in the environment tries more of them.
"""

from __future__ import annotations

import os
import shutil
import tempfile
from collections.abc import Callable
from copy import deepcopy
from dataclasses import dataclass
from pathlib import Path
from typing import Any, cast

import pytest
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, invariant, precondition, rule

from pointmodel.reading.mountfile import read_mount
from pointmodel.reading.nightlog import read_log
from pointmodel.recording import session as sessions
from pointmodel.recording.dialogue import Dialogue
from pointmodel.recording.logfile import LogFile, open_log
from pointmodel.recording.remark import Remark
from pointmodel.recording.session import Session
from pointmodel.recording.terminal import Terminal

MOUNT = read_mount({"alignment": {"stars": [], "presses": "none"}})
NOW_S = 1.9e9
AZ, ALT = st.integers(0, 359), st.integers(5, 85)


@dataclass
class Line:
    """A line of the log: a star or an event, if it is one, and whether it counts."""

    star: str | None = None
    event: str | None = None
    counts: bool = True
    here: bool = True  # kept by this recording, not by one before


class Typed:
    """A terminal at which these answers are typed; then it is closed."""

    def __init__(self, answers: list[str]) -> None:
        self._answers, self.said = answers, ""

    def say(self, text: str, alarm: bool = False) -> None:
        self.said += text + "\n"

    def ask(self, prompt: str, names: Any = ()) -> str:
        if not self._answers:
            raise EOFError
        return self._answers.pop(0)


class Evening(RuleBasedStateMachine):
    def __init__(self) -> None:
        super().__init__()
        self.patch = pytest.MonkeyPatch()
        # the log is tried here, not what is said of it
        self.patch.setattr(sessions, "fit", lambda *_, **__: None)
        self.patch.setattr(sessions, "judge", lambda *_: (None, Remark("Kept.")))
        self.folder = tempfile.mkdtemp()
        self.path = Path(self.folder, "night.csv")
        self.lines: list[Line] = []
        self.older: tuple[bytes, list[Line]] | None = None
        self.names = 0
        self.file: LogFile | None = None
        self.begin()

    def teardown(self) -> None:
        self.end()
        assert os.listdir(self.folder) == ["night.csv"]
        self.patch.undo()
        shutil.rmtree(self.folder)

    def begin(self) -> None:
        self.file = open_log(self.path)
        self.session = Session(self.file, str(self.path), MOUNT, NOW_S)
        for line in self.lines:
            line.here = False

    def end(self) -> None:
        assert self.file is not None
        self.session.result(NOW_S)
        self.file.close()

    def type(self, *answers: str) -> str:
        typed = Typed(list(answers))
        Dialogue(self.session, cast(Terminal, typed), lambda: NOW_S).run()
        return typed.said

    def new_name(self) -> str:
        self.names += 1
        return f"lamp {self.names}"

    def number(self, place: int) -> int:
        """The number of a line of the model in the file, below the header."""
        return place + 2

    def keep(self, *places: str) -> None:
        """A pair typed; a log that was saved in another way is told of once, and Enter goes on."""
        name = self.new_name()
        said = self.type(name, "y", *places)
        if "Line" not in said:
            assert "NOT SAVED: another program has saved this log" in said
            said = self.type(name, "y", *places)
        assert f"Line {self.number(len(self.lines))}." in said
        self.lines.append(Line(star=name))

    @rule(az=AZ, alt=ALT)
    def a_pair(self, az: int, alt: int) -> None:
        self.keep(f"{az} {alt}", f"{az}.1 {alt}.05")

    @rule(az=AZ, alt=ALT)
    def a_pair_with_a_slip_gone_back_to(self, az: int, alt: int) -> None:
        self.keep("1 2", "back", f"{az} {alt} cw", f"{az}.2 {alt}.1")

    @rule()
    def a_pair_given_up_half_way(self) -> None:
        self.type(self.new_name(), "y", "10 20", "drop", "quit")

    @rule(event=st.sampled_from(["bump", "relevelled"]))
    def an_event(self, event: str) -> None:
        said = self.type(event)
        if "NOT SAVED" in said:
            said = self.type(event)
        assert f"Line {self.number(len(self.lines))}." in said
        self.lines.append(Line(event=event))

    @rule(text=st.text(alphabet="wind, ;\"'#=é′\t", min_size=1).filter(str.strip))
    def a_note(self, text: str) -> None:
        self.type(f"note {text}")
        self.lines.append(Line())

    @rule()
    def the_last_is_undone(self) -> None:
        counting = [line for line in self.lines if self.is_entry(line)]
        said = self.type("undo")
        assert ("Nothing to undo" in said) == (not counting)
        if counting:
            counting[-1].counts = False

    @rule(choice=st.integers(0, 50))
    @precondition(lambda self: self.lines)
    def a_line_is_undone_or_brought_back(self, choice: int) -> None:
        place = choice % len(self.lines)
        line = self.lines[place]
        entry = line.star is not None or line.event is not None
        said = self.type(f"{'undo' if line.counts else 'redo'} {self.number(place)}")
        assert ("NOT " in said or "Nothing to undo" in said) != entry, said
        if entry:
            line.counts = not line.counts

    def is_entry(self, line: Line) -> bool:
        return line.counts and (line.star is not None or line.event is not None)

    @rule()
    def it_is_ended_and_begun_again(self) -> None:
        self.end()
        self.begin()

    @rule(part=st.integers(0, 30))
    def it_is_killed(self, part: int) -> None:
        """With a line on its way, of which a part is written, and no word of it said."""
        assert self.file is not None
        line = self.file.layout.encoded(self.file.layout.line({"target": "x", "note": "y" * 20}))
        if part and self.path.read_bytes()[-1:] in b"\r\n":
            self.file._lock.announce(line)
            with self.path.open("ab") as log:
                log.write(line[:part])
            self.lines.append(Line())
        os.close(self.file._lock.fd)
        self.begin()

    @rule()
    def another_program_reads_it(self) -> None:
        self.older = self.path.read_bytes(), deepcopy(self.lines)

    @rule(az=AZ)
    @precondition(lambda self: self.older is not None)
    def another_program_saves_what_it_read(self, az: int) -> None:
        """What was kept here since is written again before the next pair."""
        assert self.older is not None
        data, lines = self.older
        gone = [line for line in self.lines[len(lines) :] if line.here and self.is_entry(line)]
        if [line.here for line in lines] != [line.here for line in self.lines[: len(lines)]]:
            return  # it was read in another recording's time
        self.path.write_bytes(data)
        self.lines = [*lines, *gone]
        self.keep(f"{az} 30", f"{az} 31")
        self.older = None

    def save(self, change: Callable[[str], str]) -> None:
        self.path.write_bytes(change(self.path.read_bytes().decode()).encode())
        self.older = None

    @rule(end=st.sampled_from(["\n", "\r\n", "\r"]))
    def another_program_saves_with_other_line_ends(self, end: str) -> None:
        self.save(lambda text: end.join(text.splitlines()) + end)

    @rule()
    def an_editor_leaves_the_last_line_open(self) -> None:
        self.save(lambda text: text.rstrip("\r\n"))

    @rule()
    def another_program_parts_the_columns_otherwise(self) -> None:
        if '"' not in (text := self.path.read_text()) and "# " not in text:
            old, new = (";", ",") if ";" in text else (",", ";")
            self.save(lambda text: text.replace(old, new))

    @rule()
    def another_program_turns_the_columns_round(self) -> None:
        if '"' not in (text := self.path.read_text()) and "#" not in text:
            mark = ";" if ";" in text else ","
            self.save(
                lambda text: (
                    "\n".join(mark.join(reversed(line.split(mark))) for line in text.splitlines())
                    + "\n"
                )
            )

    @invariant()
    def the_log_holds_just_that(self) -> None:
        log = read_log(self.path)
        counting = [line for line in self.lines if line.counts]
        assert list(log.target) == [line.star for line in counting if line.star]
        assert [one.kind for one in log.events] == [line.event for line in counting if line.event]
        assert len(self.path.read_bytes().splitlines()) == len(self.lines) + 1


TestEvening = Evening.TestCase
TestEvening.settings = settings(
    max_examples=int(os.environ.get("POINTMODEL_EVENINGS", "12")),
    stateful_step_count=15,
    deadline=None,
    derandomize=True,
    suppress_health_check=list(HealthCheck),
)
