"""The conversation at the telescope, from a list of answers and through a real terminal."""

from __future__ import annotations

import errno
import os
import signal
import sys
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from datetime import datetime
from pathlib import Path
from typing import Any, cast

import numpy as np
import pexpect
import pytest
from bench.record_figures import knocked_log
from bench.record_kills import kill_many

from pointmodel.base.errors import InputError
from pointmodel.reading.mountfile import read_mount
from pointmodel.reading.nightlog import read_log
from pointmodel.recording import logfile, names
from pointmodel.recording.dialogue import Dialogue
from pointmodel.recording.logfile import open_log
from pointmodel.recording.remark import judge
from pointmodel.recording.session import RecordResult, Session
from pointmodel.recording.terminal import Terminal
from pointmodel.recording.words import RECENTRE

SITE = {"latitude": -41.3, "longitude": 146.2, "time_zone": "Australia/Hobart"}
TOLD = {"site": SITE, "alignment": {"stars": [], "presses": "none"}}
NIGHT_S = datetime.fromisoformat("2031-05-17T21:04:30+10:00").timestamp()
NOON_S = datetime.fromisoformat("2031-05-17T12:00:00+10:00").timestamp()
HEADER = "target,time,commanded_az,commanded_alt,centred_az,centred_alt,az_motion,alt_motion"
FULL_HEADER = f"{HEADER},event,note"
AT = "2031-05-17T21:04:30+10:00"


@pytest.fixture(autouse=True)
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    return tmp_path


class Script:
    """A terminal whose answers are listed beforehand; a function in the list is called."""

    def __init__(self, answers: Sequence[str | Callable[[], None]]) -> None:
        self._answers = list(answers)
        self.said: list[str] = []

    def say(self, text: str, alarm: bool = False) -> None:
        self.said.append(f"! {text}" if alarm else text)

    def ask(self, prompt: str, names: Sequence[str] = ()) -> str:
        self.said.append(prompt)
        if not self._answers:
            raise EOFError
        answer = self._answers.pop(0)
        if callable(answer):
            answer()
            return ""
        return answer

    def has(self, text: str) -> bool:
        return any(text in said for said in self.said)


def stopped() -> None:
    raise KeyboardInterrupt


def play(
    *answers: str | Callable[[], None],
    mount: dict[str, Any] | None = None,
    now_s: float = NIGHT_S,
    log: str = "night.csv",
) -> tuple[Script, RecordResult]:
    """Play a conversation to its end."""
    script = Script(answers)
    file = open_log(log)
    try:
        session = Session(file, log, read_mount(TOLD if mount is None else mount), now_s)
        Dialogue(session, cast(Terminal, script), lambda: now_s).run()
        return script, session.result(now_s + 60.0)
    finally:
        file.close()


def lines() -> list[str]:
    return Path("night.csv").read_text().splitlines()[1:]


PAIR = ("canopus", "200 30 60 15", "200 36 60 6")
WRITTEN = f"Canopus,{AT},200 30,60 15,200 36,60 6,,,,"


def test_a_pair_takes_three_answers() -> None:
    script, result = play(*PAIR)
    assert lines() == [WRITTEN]
    assert (result.pairs, result.entered, result.events, result.undone) == (1, 1, 0, 0)
    assert [said for said in script.said if said.endswith("? ")] == [
        "1. Star? ",
        "Commanded az alt? ",
        "Sent to 200°30.0′ 60°15.0′. Centred az alt? ",
        next(said for said in script.said if said.startswith("2. Star")),
    ]
    assert script.has("Line 2. 1 pair; with 3 more a wrong star will show.")


def test_a_first_misfit_is_centred_again_and_a_second_in_a_row_asks_what_moved() -> None:
    log = knocked_log(9, after=7)
    places = np.stack(
        [log.commanded_az_deg, log.commanded_alt_deg, log.centred_az_deg, log.centred_alt_deg]
    )
    typed = [(f"{a:.4f} {b:.4f}", f"{c:.4f} {d:.4f}") for a, b, c, d in places.T.tolist()]
    script, _ = play(*(figures for pair in typed for figures in pair), "bump")
    said = [text for text in script.said if "DOES NOT FIT" in text]
    assert len(said) == 2
    assert "Check the centring, and that it is the right star." in said[0]
    assert "Did something move? Type bump, or go back to an earlier star: it tells." in said[1]
    assert script.said.count(RECENTRE) == 1
    assert script.has("bump: azimuth zero, altitude zero and lean are taken as new from here on.")


def test_a_zeroing_on_the_star_above_is_said_to_lose_nothing() -> None:
    script, _ = play(*PAIR, "zero_on_star")
    assert script.has("zero_on_star: on Canopus. What it changed is known; all stars so far still")
    script, _ = play("bump", "zero_on_star", log="other.csv")
    assert script.has("zero_on_star: azimuth zero and altitude zero are taken as new from here on.")


def test_it_opens_with_the_caution_and_what_there_is() -> None:
    play(*PAIR)
    script, _ = play("quit")
    assert script.said[0].startswith("CAUTION: Never point at or near the Sun")
    assert script.has("night.csv: goes on; 1 pair, last line 2, Canopus.")
    assert script.has(f"now {AT}")


def test_the_next_best_star_is_offered_and_taken_by_enter() -> None:
    script, _ = play(*PAIR, "", "10 20", "10 21")
    offered = next(s for s in script.said if s.startswith("Next: ")).split(": ")[1].split(";")[0]
    assert script.has(f"2. Star [{offered}]? ")
    assert lines()[1].startswith(f"{offered},")


def test_figures_typed_for_the_star_are_taken_as_the_commanded_place() -> None:
    play("200.5 60.25", "200.6 60.1")
    assert lines() == [f",{AT},200.5,60.25,200.6,60.1,,,,"]


def test_last_motions_and_notes_go_with_the_pair() -> None:
    play(PAIR[0], PAIR[1], 'note in cloud, "thin"', f"{PAIR[2]} cw up")
    assert lines() == [WRITTEN.replace(",,,,", ',cw,up,,"in cloud, ""thin"""')]
    assert read_log("night.csv").note == ('in cloud, "thin"',)


def test_a_note_between_pairs_is_a_remark_at_once() -> None:
    play("note # wind rises")
    assert lines() == [f"# {AT} # wind rises"]


def test_an_azimuth_alone_is_asked_for_its_altitude() -> None:
    play("canopus", "200:30", "60:15", *PAIR[2:])
    assert lines() == [f"Canopus,{AT},200:30,60:15,200 36,60 6,,,,"]


def test_what_cannot_be_read_is_asked_again_and_nothing_is_kept() -> None:
    script, _ = play("canopus", "north, high", "40 40 24", *PAIR[1:])
    assert script.has("! Not understood: azimuth north: degrees such as")
    assert script.has("! Not understood: azimuth and altitude parted by a comma")
    assert lines() == [WRITTEN]


def test_an_azimuth_typed_where_both_are_wanted_is_noticed() -> None:
    script, _ = play("canopus", "200 30 60 15", "200 36", "200 36 60 6")
    assert script.has("! That reads as azimuth and altitude 200°00.0′ 36°00.0′.")
    assert lines() == [WRITTEN]


def test_a_pair_may_be_far_off_where_it_is_meant_so() -> None:
    play("canopus", "200 30 60 15", "200 36", "")
    assert lines() == [f"Canopus,{AT},200 30,60 15,200,36,,,,"]


def test_nothing_centred_offers_the_same_pair_again() -> None:
    script, _ = play("canopus", "200 30 60 15", "", "", "", "200 36 60 6")
    assert script.has("1. Star [Canopus]? ")
    assert script.has("Commanded az alt [200 30, 60 15]? ")
    assert lines() == [WRITTEN]


def test_a_misspelt_star_is_offered_as_it_was_probably_meant() -> None:
    script, _ = play("canopas", "", *PAIR[1:])
    assert script.has("canopas: Canopus? Again the same keeps it as it is.")
    assert lines() == [WRITTEN]


def test_a_free_name_is_kept_when_it_is_typed_twice() -> None:
    play("canopas", "canopas", *PAIR[1:])
    assert lines() == [WRITTEN.replace("Canopus", "canopas")]


def test_a_star_below_the_horizon_is_asked_about() -> None:
    script, _ = play("capella", "200 30 60 15", "200 36 60 6")
    assert script.has("Capella is below the horizon by this clock: is it another star?")
    assert lines()[0].startswith("Capella,")


def test_undo_strikes_the_pair_and_offers_its_figures() -> None:
    script, result = play(*PAIR, "undo", "", "", "200 36 60 9")
    assert lines() == [f"# undone: {WRITTEN}", WRITTEN.replace("60 6", "60 9")]
    assert script.has("Undone: Canopus (line 2 stays as a remark). Its figures are offered again.")
    assert script.has("Centred az alt [200 36, 60 6]? ")
    assert (result.pairs, result.entered, result.undone) == (1, 2, 1)


def test_figures_offered_and_taken_again_keep_their_time() -> None:
    play(*PAIR)
    play("undo", "achernar", "", "", now_s=NIGHT_S + 600.0)
    assert lines()[1] == WRITTEN.replace("Canopus", "Achernar")


def test_undo_strikes_an_event_too_and_knows_when_nothing_is_left() -> None:
    script, result = play(*PAIR, "bump", "undo", "undo", "undo")
    assert lines() == [f"# undone: {WRITTEN}", f"# undone: ,{AT},,,,,,,bump,"]
    assert script.has("Undone: bump (line 3 stays as a remark).")
    assert script.has("Nothing to undo: the log holds no entry.")
    assert (result.pairs, result.fit) == (0, None)
    assert result.to_dict()["fit_reason"] == "no complete pair: commanded and centred"


def test_an_event_is_kept_at_once_and_the_pair_in_hand_begun_anew() -> None:
    script, result = play(*PAIR, "achernar", "100 20 40", "event re-levelled", "", *PAIR[1:])
    assert lines()[1] == f",{AT},,,,,,,relevelled,"
    assert lines()[2].startswith("Achernar,")
    assert script.has("azimuth zero, altitude zero and lean are taken as new")
    assert result.events == 1


def test_an_event_that_is_not_understood_is_asked_for_again() -> None:
    script, _ = play("event rain", "nothing", "clutch", "quit")
    assert script.has("Which: zero_on_star, bump, clutch, relevelled or power_cycle")
    assert lines() == [f",{AT},,,,,,,clutch,"]


def test_another_time_holds_for_one_pair() -> None:
    play("canopus", "time 20:59", *PAIR[1:], "achernar", *PAIR[1:])
    assert [line.split(",")[1][11:16] for line in lines()] == ["20:59", "21:04"]


def test_pause_waits_and_help_tells_the_words() -> None:
    script, _ = play("pause", "", "help", "?", *PAIR)
    assert script.has("undo: strikes the last entry")
    assert lines() == [WRITTEN]


def test_the_first_stop_only_says_how_to_leave_and_the_second_leaves() -> None:
    script, _ = play(stopped, *PAIR, stopped, stopped, "never asked")
    assert script.has("Nothing is lost. quit (or Ctrl-C again) ends")
    assert lines() == [WRITTEN]
    assert not script.has("never asked")


def test_ctrl_c_between_the_last_key_and_the_answer_loses_nothing(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    def interrupted(*given: Any) -> Any:
        os.kill(os.getpid(), signal.SIGINT)
        return judge(*given)

    monkeypatch.setattr("pointmodel.recording.session.judge", interrupted)
    script, result = play(*PAIR, "quit")
    assert script.has("Line 2. 1 pair; with 3 more")
    assert result.pairs == 1


def test_ctrl_c_between_two_questions_does_not_end_the_night(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    times = []

    def interrupted(*given: Any) -> Any:
        times.append(given)
        if len(times) == 1:
            raise KeyboardInterrupt
        return complete(*given)

    complete = names.complete
    monkeypatch.setattr(names, "complete", interrupted)
    script, _ = play("canopus", *PAIR)
    assert script.has("Nothing is lost.")
    assert lines() == [WRITTEN]


def test_a_place_near_the_sun_is_refused_by_day() -> None:
    script, result = play("sun", "canopus", "1 28", "200 30 60 15", "200 36 60 6", now_s=NOON_S)
    assert script.has("! CAUTION: the Sun is up")
    assert script.has("! REFUSED: Sun stands only 0° from the Sun")
    assert script.has("! REFUSED: that is only ")
    assert (result.pairs, len(lines())) == (1, 1)


def test_by_night_the_same_place_is_taken_without_a_word() -> None:
    script, _ = play("canopus", "1 28", "1.1 28.1")
    assert not script.has("REFUSED")
    assert not script.has("! CAUTION")


def test_where_the_sun_is_not_known_that_is_said_once() -> None:
    script, _ = play(*PAIR, *PAIR, mount={"alignment": TOLD["alignment"]}, now_s=NOON_S)
    assert sum("where the Sun stands is not known" in said for said in script.said) == 1
    assert len(lines()) == 2


@contextmanager
def full_disk() -> Iterator[None]:
    def failing(fd: int, data: bytes) -> int:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(logfile.os, "write", failing)
        yield


def test_on_a_full_disk_the_pair_waits_until_there_is_room() -> None:
    disk = full_disk()
    fill = lambda: disk.__enter__()  # noqa: E731 (called where an answer is due)
    free = lambda: disk.__exit__(None, None, None)  # noqa: E731
    script, _ = play("canopus", PAIR[1], fill, "", PAIR[1], PAIR[2], "", free)
    assert script.has("! NOT SAVED: No space left on device. The log is as it was.")
    assert lines() == [WRITTEN]


def test_an_entry_that_cannot_be_saved_may_be_dropped() -> None:
    disk = full_disk()
    script, _ = play(lambda: disk.__enter__(), "bump", "drop", "note a", "undo", "quit")
    disk.__exit__(None, None, None)
    assert script.has("! NOT SAVED: No space left on device.")
    assert lines() == []


def test_on_a_full_disk_one_may_leave() -> None:
    disk = full_disk()
    script, _ = play(lambda: disk.__enter__(), "bump", "quit", "never asked")
    disk.__exit__(None, None, None)
    assert not script.has("never asked")
    assert lines() == []


def test_a_camera_log_is_asked_for_where_the_telescope_looked() -> None:
    Path("night.csv").write_text("commanded_az,commanded_alt,seen_az,seen_alt\n")
    script, _ = play("200.5 60.25", "200.6 60.1", "quit")
    assert script.has("Seen az alt? ")
    assert Path("night.csv").read_text().splitlines() == [
        "commanded_az,commanded_alt,seen_az,seen_alt,time",
        f"200.5,60.25,200.6,60.1,{AT}",
    ]


def test_what_is_odd_about_the_whole_log_is_said_once() -> None:
    script, _ = play(*PAIR, *PAIR, *PAIR)
    assert sum("he same four figures stand on" in said for said in script.said) == 1


def test_a_log_in_right_ascension_is_for_programs() -> None:
    Path("night.csv").write_text("time,commanded_ra,commanded_dec,centred_ra,centred_dec\n")
    with pytest.raises(InputError, match="columns commanded_az and commanded_alt"):
        play("quit")


def test_a_log_that_another_spoilt_is_told_of_and_still_written() -> None:
    def spoil() -> None:
        with Path("night.csv").open("a") as file:
            file.write("who,was,here\n")

    script, _ = play("canopus", spoil, "", *PAIR[1:])
    assert script.has("! Line 3. The log cannot be read just now: night.csv, line 2")
    assert lines()[1] == WRITTEN


def test_a_mistake_of_the_program_does_not_end_the_night(monkeypatch: pytest.MonkeyPatch) -> None:
    def failing(*_: object) -> None:
        raise ZeroDivisionError("division by zero")

    monkeypatch.setattr("pointmodel.recording.session.judge", failing)
    script, result = play(*PAIR, *PAIR)
    assert script.has("! Line 2. Kept, but not judged (internal error: ZeroDivisionError")
    assert result.pairs == 2


def started(*more: str) -> pexpect.spawn:
    """The command on a terminal of 60 columns."""
    environment = {**os.environ, "TERM": "xterm-256color", "OPENBLAS_NUM_THREADS": "1"}
    environment.pop("NO_COLOR", None)
    environment.pop("COLUMNS", None)
    command = ["-m", "pointmodel", "record", "night.csv", *more]
    terminal = pexpect.spawn(
        sys.executable, command, env=cast(Any, environment), dimensions=(40, 60), timeout=20
    )
    terminal.delaybeforesend = None
    return terminal


def answer(terminal: pexpect.spawn, question: str, answered: str) -> bytes:
    """Wait for a question, answer it, and return what was said before it."""
    terminal.expect_exact(question)
    said = terminal.before
    terminal.sendline(answered)
    assert isinstance(said, bytes)
    return said


def test_on_a_real_terminal_with_mistakes_an_undo_a_bump_a_kill_and_a_resumption() -> None:
    Path("mount.toml").write_text("[mount]\nname = 'x'\n")
    terminal = started()
    opening = answer(terminal, "Enter: I do not know)? ", "no")
    answer(terminal, "Enter: I do not know)? ", "never")
    answer(terminal, "Star? ", "canop")
    assert b"\x1b[2;31mCAUTION" in opening  # dim red
    assert max(map(len, opening.decode().splitlines())) <= 60 + len("\x1b[2;31m\x1b[0m")
    answer(terminal, "Commanded az alt? ", "200 3o 60 15")
    assert b"Not understood" in answer(terminal, "Commanded az alt? ", "200 30 60 15")
    answer(terminal, "Centred az alt? ", "200 36 61 6\x7f\x7f\x7f\x7f60 6")  # rubbed out
    assert b"Line 2" in answer(terminal, "Star? ", "undo")
    answer(terminal, "Star [Canopus]? ", "")
    answer(terminal, "Commanded az alt [200 30, 60 15]? ", "")
    answer(terminal, "[200 36, 60 6]? ", "200 36 60 9")
    answer(terminal, "Star? ", "bump")
    terminal.expect_exact("Star? ")
    terminal.sendintr()
    answer(terminal, "Star? ", "achernar")
    terminal.kill(9)
    terminal.wait()
    assert [line.split(",")[0] for line in lines()] == ["# undone: Canopus", "Canopus", ""]
    told = read_mount("mount.toml")
    assert (told.name, told.alignment.state, told.alignment.presses) == ("x", "none", "none")
    terminal = started("--plain")
    opening = answer(terminal, "Star? ", "quit")
    assert b"1 pair, last line 3" in b" ".join(opening.split())
    assert b"\x1b[2;31m" not in opening
    terminal.expect(pexpect.EOF)
    terminal.close()
    assert terminal.exitstatus == 0
    assert read_log("night.csv").target == ("Canopus",)


def test_kills_at_any_moment_lose_nothing_that_was_accepted(tmp_path: Path) -> None:
    """More of them: tests/bench/record_kills.py."""
    tally = kill_many(6, 3, tmp_path)
    assert tally.accepted > 0
    assert (tally.lost, tally.cut_off, tally.unreadable) == (0, 0, 0)
