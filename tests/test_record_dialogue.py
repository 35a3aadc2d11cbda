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


PAIR = ("canopus", "225 0 31 5", "225 6 30 56")
WRITTEN = f"Canopus,{AT},225 0,31 5,225 6,30 56,,,,"


def test_a_pair_takes_three_answers() -> None:
    script, result = play(*PAIR)
    assert lines() == [WRITTEN]
    assert (result.pairs, result.entered, result.events, result.undone) == (1, 1, 0, 0)
    assert [said for said in script.said if said.endswith("? ")] == [
        "1. Star [Arcturus]? ",
        "The controller says (azimuth altitude)? ",
        "The mount reads (azimuth altitude)? ",
        next(said for said in script.said if said.startswith("2. Star")),
    ]
    assert script.has("Sent to 225°00.0′ 31°05.0′.")
    assert script.has("Send the telescope to Canopus and centre it.")
    assert script.has("Line 2. 1 pair. With 3 more a wrong star will show.")


def test_the_first_star_is_proposed_before_there_is_a_pair() -> None:
    script, _ = play("", "28.2 24.7", "28.3 24.6")
    assert script.has("Begin with Arcturus: look north-east, two and a half fists up (25°)")
    assert lines() == [f"Arcturus,{AT},28.2,24.7,28.3,24.6,,,,"]
    unknown, _ = play("quit", mount={"alignment": TOLD["alignment"]}, log="other.csv")
    assert not unknown.has("Begin with")
    assert unknown.has("1. Star? ")


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
    assert script.has("night.csv goes on. It holds 1 pair. The last is line 2, Canopus.")
    assert script.has(f"now {AT}")


def test_the_next_best_star_is_offered_and_taken_by_enter() -> None:
    script, _ = play(*PAIR, "", "10 20", "", "10 21")
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
    play("canopus", "225:00", "31:05", *PAIR[2:])
    assert lines() == [f"Canopus,{AT},225:00,31:05,225 6,30 56,,,,"]


def test_what_cannot_be_read_is_asked_again_and_nothing_is_kept() -> None:
    script, _ = play("canopus", "north, high", "40 40 24", *PAIR[1:])
    assert script.has("! Not understood: azimuth north: type degrees such as")
    assert script.has("! Not understood: this could be 40°00.0′ 40°24.0′")
    assert lines() == [WRITTEN]


def test_an_azimuth_typed_where_both_are_wanted_is_noticed() -> None:
    script, _ = play("canopus", "225 0 31 5", "225 56", "225 6 30 56")
    assert script.has("! That reads as azimuth and altitude 225°00.0′ 56°00.0′.")
    assert lines() == [WRITTEN]


def test_a_pair_may_be_far_off_where_it_is_meant_so() -> None:
    play("canopus", "225 0 31 5", "225 56", "")
    assert lines() == [f"Canopus,{AT},225 0,31 5,225,56,,,,"]


def test_back_goes_to_the_question_before_with_what_was_typed_in_brackets() -> None:
    script, _ = play("spica", "225 0 31 5", "", "back", "back", "canopus", "", "225 6 30 56")
    assert script.has("1. Star [Spica]? ") or script.has("1. Star [Canopus]? ")
    assert script.has("The controller says (azimuth altitude) [225 0, 31 5]? ")
    assert lines() == [WRITTEN]


def test_back_at_the_first_question_says_what_takes_back_a_line() -> None:
    script, _ = play("back", *PAIR)
    assert script.has("This is the first question. To take back the last line, type undo.")
    assert lines() == [WRITTEN]


def test_enter_where_nothing_is_shown_says_what_to_type() -> None:
    script, _ = play("canopus", "", "225 0 31 5", "", "225 6 30 56")
    assert script.said.count("Type two angles, such as 123 45 41 30. Or type back.") == 2
    assert lines() == [WRITTEN]


def test_a_misspelt_star_is_offered_as_it_was_probably_meant() -> None:
    script, _ = play("canopas", "", "", *PAIR[1:])
    assert script.has("Did you mean Canopus? Then press Enter twice.")
    assert script.has("Not a star I know: keep as a free name? [y/N] ")
    assert script.has("1. Star [Canopus]? ")
    assert lines() == [WRITTEN]


def test_a_free_name_is_kept_where_that_is_meant() -> None:
    play("canopas", "y", *PAIR[1:])
    assert lines() == [WRITTEN.replace("Canopus", "canopas")]


def test_figures_typed_too_early_never_become_a_name() -> None:
    script, _ = play("lamp", "225 0 31 5", "canopus", *PAIR[1:])
    assert script.has("First the name: type y to keep lamp, or n.")
    script, _ = play("al", "296 40", "3", "296.4 38.8", "296.5 38.7", log="other.csv")
    assert script.has("First choose the star: type 1 to 4.")
    assert lines() == [WRITTEN]


def test_another_name_in_place_of_yes_or_no_is_the_stars() -> None:
    play("lamp", "canopus", *PAIR[1:])
    assert lines() == [WRITTEN]


@pytest.mark.parametrize("slip", ["udno", "bakc", "quti", "puase", "hepl"])
def test_a_slip_in_a_word_never_becomes_a_name(slip: str) -> None:
    script, result = play(slip, "n", "n", "", "quit")
    assert script.has("Did you mean the word ")
    assert (result.pairs, lines()) == (0, [])


def test_a_slip_in_a_word_is_obeyed_once_it_is_said_to_be_meant() -> None:
    play(*PAIR, "udno", "", "drop")
    assert lines() == [f"# undone: {WRITTEN}"]


@pytest.mark.parametrize("word", ["Undo", "UNDO!", "undo.", "Back", "Help", "?", "Redo 9"])
def test_words_are_words_however_they_are_written(word: str) -> None:
    _, result = play(word, "quit")
    assert (result.pairs, lines()) == (0, [])


def test_a_short_name_that_fits_several_stars_lists_them_with_where_they_stand() -> None:
    script, _ = play("al", "3", "296.4 38.8", "296.5 38.7")
    assert script.has("Several stars begin with al:")
    assert script.has("3: Alphard, 39° up in the west (azimuth 296°)") or script.has(
        "3: Alphard, 39° up in the north-west (azimuth 296°)"
    )
    assert lines()[0].startswith("Alphard,")


def test_more_letters_choose_as_well() -> None:
    play("al", "alphar", "296.4 38.8", "296.5 38.7")
    assert lines()[0].startswith("Alphard,")


def test_a_star_that_stands_nowhere_near_the_commanded_place_is_asked_about() -> None:
    script, _ = play("spica", "225 0 31 5", "", "225 6 30 56")
    assert script.has("! Spica stands 57° up in the north")
    assert script.has("from the place you typed. Canopus stands close to that place.")
    assert script.has("Which star is it (or type the place again) [Canopus]? ")
    assert lines() == [WRITTEN]


def test_the_place_may_be_the_wrong_one() -> None:
    play("canopus", "325 0 31 5", "225 0 31 5", "225 6 30 56")
    assert lines() == [WRITTEN]


def test_who_keeps_a_star_twice_is_not_asked_a_third_time() -> None:
    far = ("canopus", "325 0 31 5", "", "325 6 30 56")
    script, _ = play(*far, *far, *far[:2], far[3])
    assert sum("Which star is it" in said for said in script.said) == 2
    assert len(lines()) == 3


def test_a_star_below_the_horizon_is_asked_about() -> None:
    script, _ = play("capella", "225 0 31 5", "capella", "225 6 30 56")
    assert script.has("Capella is below the horizon by this computer's clock. Is it another star?")
    assert lines()[0].startswith("Capella,")


def test_undo_strikes_the_pair_and_offers_its_figures() -> None:
    script, result = play(*PAIR, "undo", "", "", "225 6 30 59")
    assert lines() == [f"# undone: {WRITTEN}", WRITTEN.replace("30 56", "30 59")]
    assert script.has("Undone: Canopus, line 2. It stays in the log as a remark.")
    assert script.has("Its figures are offered again: Enter takes each.")
    assert script.has("The mount reads (azimuth altitude) [225 6, 30 56]? ")
    assert (result.pairs, result.entered, result.undone) == (1, 2, 1)


def test_figures_offered_and_taken_again_keep_their_time() -> None:
    play("canopus", "226 0 31 5", PAIR[2])
    play("undo", "", "225 0 31 5", "", now_s=NIGHT_S + 600.0)
    assert lines()[1] == WRITTEN


SECOND = ("spica", "27 57.5", "27.1 57.4")
SECOND_WRITTEN = f"Spica,{AT},27,57.5,27.1,57.4,,,,"


def test_undo_with_a_number_takes_back_that_line_and_redo_brings_it_back() -> None:
    script, result = play(*PAIR, *SECOND, "undo 2", "quit")
    assert lines() == [f"# undone: {WRITTEN}", SECOND_WRITTEN]
    assert script.has("Undone: Canopus, line 2. It stays in the log as a remark. 1 pair left.")
    assert (result.pairs, result.undone) == (1, 1)
    script, result = play("antares", "redo 2", "quit")
    assert lines() == [WRITTEN, SECOND_WRITTEN]
    assert script.has("Canopus, line 2, counts again: 2 pairs.")
    assert result.pairs == 2


def test_undo_of_an_earlier_line_leaves_the_pair_in_hand_alone() -> None:
    play(*PAIR, *SECOND, "antares", "93.3 38.7", "undo line 2", "93.4 38.6")
    assert lines()[-1] == f"Antares,{AT},93.3,38.7,93.4,38.6,,,,"


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ("undo 1", "! NOT UNDONE: line 1 holds no pair and no event."),
        ("undo 9", "! NOT UNDONE: line 9 holds no pair and no event."),
        ("undo it", "Type the number of the line: undo 7."),
        ("redo 2", "! NOT BROUGHT BACK: line 2 was not taken back."),
        ("redo", "Type the number of the line that is to come back: redo 7."),
    ],
)
def test_a_line_that_cannot_be_taken_back_is_said_and_nothing_changes(
    typed: str, said: str
) -> None:
    script, _ = play(*PAIR, typed, "quit")
    assert script.has(said)
    assert lines() == [WRITTEN]


def test_undo_in_the_middle_of_a_pair_asks_and_loses_neither() -> None:
    script, _ = play(*PAIR, "spica", "27 57.5", "undo", "", SECOND[2])
    assert script.has("Take back line 2, Canopus, which is on the disk already? [y/N] ")
    assert script.has("To go to the question before, type back.")
    assert lines() == [WRITTEN, SECOND_WRITTEN]


def test_a_pair_in_hand_is_gone_on_with_after_the_one_before_is_put_right() -> None:
    script, _ = play(*PAIR, *SECOND[:2], "undo", "y", "", "", "225 6 30 59", "", "", SECOND[2])
    assert script.has("Now go on with Spica as before.")
    assert lines()[1:] == [WRITTEN.replace("30 56", "30 59"), SECOND_WRITTEN]


def test_drop_forgets_the_pair_in_hand_and_no_line() -> None:
    script, _ = play(*PAIR, "spica", "27 57.5", "drop", "drop", *SECOND)
    assert script.has("Spica: forgotten.")
    assert script.has("There is nothing to forget.")
    assert lines() == [WRITTEN, SECOND_WRITTEN]


def test_undo_strikes_an_event_too_and_knows_when_nothing_is_left() -> None:
    script, result = play(*PAIR, "bump", "undo", "undo", "drop", "undo")
    assert lines() == [f"# undone: {WRITTEN}", f"# undone: ,{AT},,,,,,,bump,"]
    assert script.has("Undone: bump, line 3. It stays in the log as a remark.")
    assert script.has("Nothing to undo: the log holds no entry.")
    assert (result.pairs, result.fit) == (0, None)
    assert result.to_dict()["fit_reason"] == "no complete pair: commanded and centred"


def test_a_zeroing_on_the_star_in_hand_is_noted_after_its_pair() -> None:
    script, _ = play("canopus", PAIR[1], "zero_on_star", "", PAIR[2])
    assert script.has("Did you zero it on Canopus, this pair? [Y/n] ")
    assert script.has("zero_on_star: on Canopus. What it changed is known")
    assert lines() == [WRITTEN, f",{AT},,,,,,,zero_on_star,"]


def test_a_zeroing_on_a_star_that_is_dropped_is_noted_with_that_stars_name() -> None:
    script, _ = play(*PAIR, *SECOND[:2], "zero_on_star", "", "drop", "quit")
    assert lines()[1] == f",{AT},,,,,,,zero_on_star,on Spica"
    assert script.has("zero_on_star: azimuth zero and altitude zero are taken as new")


def test_an_earlier_zeroing_is_noted_at_once() -> None:
    script, _ = play(*PAIR, *SECOND[:2], "zero_on_star", "n", "", *SECOND[1:])
    assert script.has("zero_on_star: on Canopus.")
    assert lines() == [WRITTEN, f",{AT},,,,,,,zero_on_star,", SECOND_WRITTEN]


def test_an_event_is_kept_at_once_and_the_pair_in_hand_begun_anew() -> None:
    script, result = play(*PAIR, *SECOND[:2], "event re-levelled", "", *SECOND[1:])
    assert lines()[1] == f",{AT},,,,,,,relevelled,"
    assert lines()[2] == SECOND_WRITTEN
    assert script.has("azimuth zero, altitude zero and lean are taken as new")
    assert result.events == 1


def test_an_event_that_is_not_understood_is_asked_for_again() -> None:
    script, _ = play("event rain", "nothing", "clutch", "quit")
    assert script.has("Type zero_on_star, bump, clutch, relevelled or power_cycle (Enter: none)? ")
    assert lines() == [f",{AT},,,,,,,clutch,"]


def test_another_time_holds_for_one_pair() -> None:
    play("canopus", "time 20:59", *PAIR[1:], *SECOND)
    assert [line.split(",")[1][11:16] for line in lines()] == ["20:59", "21:04"]


def test_pause_waits_and_help_tells_the_words() -> None:
    script, _ = play("pause", "", "help", "?", *PAIR)
    assert script.has("undo: takes back the last line; its figures are offered again.")
    assert lines() == [WRITTEN]


def test_the_first_stop_only_says_how_to_leave_and_the_second_leaves() -> None:
    script, _ = play(stopped, *PAIR, stopped, stopped, "never asked")
    assert script.has("Nothing is lost. Type quit (or Ctrl-C again) to end.")
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
    assert script.has("Line 2. 1 pair. With 3 more")
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
    script, result = play(
        "sun", "canopus", "1 28", "225 0 31 5", "canopus", "225 6 30 56", now_s=NOON_S
    )
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
    script, _ = play("canopus", PAIR[1], fill, PAIR[2], "", free)
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
    assert script.has("The camera sees (azimuth altitude)? ")
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


def test_a_nudge_takes_the_place_of_the_second_place_from_the_first_pair_on() -> None:
    script, _ = play("canopus", "225 0 31 5", "12r 5d", "spica", "27 57.5", "-3 0.5'")
    assert script.has("If the mount has no display, type how far you moved the tube")
    assert script.has("You moved the tube (12r 5u: right and up)? ")
    written = Path("night.csv").read_text().splitlines()
    assert written[0] == FULL_HEADER.replace("centred_az,centred_alt", "nudge_right,nudge_up")
    assert written[1:] == [f"Canopus,{AT},225 0,31 5,12,-5,,,,", f"Spica,{AT},27,57.5,-3,0.5',,,,"]
    assert read_log("night.csv", TOLD).nudged


def test_two_small_figures_far_from_the_star_are_taken_for_a_nudge_once_that_is_said() -> None:
    script, _ = play("canopus", "225 0 31 5", "12 -5", "")
    assert script.has("If it is how far you moved the tube, 12′ right, 5′ down, press Enter.")
    assert lines() == [f"Canopus,{AT},225 0,31 5,12,-5,,,,"]


def test_a_log_of_readings_takes_no_nudge_and_says_why() -> None:
    script, _ = play(*PAIR, "spica", "27 57.5", "12r 5u", SECOND[2])
    assert script.has("! This log holds what the mount reads with the star centred.")
    assert lines() == [WRITTEN, SECOND_WRITTEN]


def test_where_the_controller_shows_no_place_name_and_nudge_are_enough() -> None:
    script, _ = play("canopus", "none", "12r 5u", "spica", "3l 2u", "quit")
    assert Path("night.csv").read_text().splitlines() == [
        "target,time,nudge_right,nudge_up,az_motion,alt_motion,event,note",
        f"Canopus,{AT},12,5,,,,",
        f"Spica,{AT},-3,2,,,,",
    ]
    assert not script.has("NOT SAVED")
    assert read_log("night.csv", {"site": SITE}).mount.log.commanded_from == "almanac"


def test_the_first_pair_chooses_the_columns_after_an_event_too() -> None:
    play("bump", "canopus", "none", "12r 5d", "spica", "3l 2u", "undo 3", "quit")
    log = read_log("night.csv", TOLD)
    assert (log.target, log.nudged, [e.kind for e in log.events]) == (("Spica",), True, ["bump"])


def test_a_first_nudge_taken_back_leaves_the_choice_open() -> None:
    play("canopus", "225 0 31 5", "12r 5d", "undo", "", "", "225 6 30 56")
    assert lines() == [f"# undone: Canopus,{AT},225 0,31 5,12,-5,,,,", WRITTEN]
    assert not read_log("night.csv", TOLD).nudged


def test_where_the_controller_shows_nothing_plain_figures_are_a_nudge() -> None:
    play("canopus", "none", "12 -5", "quit")
    assert lines() == [f"Canopus,{AT},12,-5,,,,"]
    play("canopus", "none", "225 6 30 56", "quit", log="readings.csv")
    written = Path("readings.csv").read_text().splitlines()
    assert written == [
        "target,time,centred_az,centred_alt,az_motion,alt_motion,event,note",
        f"Canopus,{AT},225 6,30 56,,,,",
    ]


@pytest.mark.parametrize(
    ("star", "mount", "why"),
    [
        (("lamp", "y"), TOLD, "! Then the star must be one that I know."),
        (("canopus",), {"alignment": TOLD["alignment"]}, "! Then the site must be known"),
    ],
)
def test_without_site_or_star_the_controllers_place_is_needed(
    star: tuple[str, ...], mount: dict[str, Any], why: str
) -> None:
    script, _ = play(*star, "none", *PAIR[1:], mount=mount)
    assert script.has(why)
    assert len(lines()) == 1


def simulated_pairs(pairs: int) -> list[str]:
    """What one types for a usual night: figures alone."""
    log = knocked_log(pairs, after=pairs)
    places = np.stack(
        [log.commanded_az_deg, log.commanded_alt_deg, log.centred_az_deg, log.centred_alt_deg]
    )
    return [text for a, b, c, d in places.T for text in (f"{a:.4f} {b:.4f}", f"{c:.4f} {d:.4f}")]


def test_the_advice_of_the_fit_is_shown_as_it_changes_and_its_steps_once_one_may_stop() -> None:
    script, result = play(*simulated_pairs(7), mount={"alignment": TOLD["alignment"]})
    assert result.fit is not None
    advice = result.fit.advice
    shown = script.said
    assert shown.count(advice.headline) == 1
    assert any(said.startswith("You can stop: ") for said in shown)
    assert all(any(step.text in said for said in shown) for step in advice.steps)
    assert advice.headline in str(result).splitlines()
    assert all(step.text in str(result) for step in advice.steps)


class Moving:
    """A clock that goes on by so many seconds whenever it is told to."""

    def __init__(self) -> None:
        self.now_s = NIGHT_S

    def wait(self, seconds: float) -> None:
        self.now_s += seconds


def play_slowly(*answers: str | float, mount: dict[str, Any]) -> Script:
    """Play a conversation; a number among the answers is how many seconds go by."""
    clock, typed = Moving(), list(answers)

    class Slow(Script):
        def ask(self, prompt: str, names: Sequence[str] = ()) -> str:
            while typed and isinstance(typed[0], float):
                clock.wait(cast(float, typed.pop(0)))
            self._answers = [cast(str, typed.pop(0))] if typed else []
            return super().ask(prompt, names)

    script, file = Slow([]), open_log("night.csv")
    try:
        session = Session(file, "night.csv", read_mount(mount), NIGHT_S)
        Dialogue(session, cast(Terminal, script), lambda: clock.now_s).run()
    finally:
        file.close()
    return script


def test_a_commanded_place_given_before_the_centring_is_stamped_with_its_own_time() -> None:
    play_slowly(PAIR[0], PAIR[1], 180.0, PAIR[2], mount=TOLD)
    header, line = Path("night.csv").read_text().splitlines()
    assert header == f"{FULL_HEADER},commanded_time"
    assert line == f"Canopus,{AT.replace('04:30', '07:30')},225 0,31 5,225 6,30 56,,,,,{AT}"
    assert read_log("night.csv", {"site": SITE}).noted is not None


def test_a_commanded_place_given_with_the_centred_one_has_no_time_of_its_own() -> None:
    play_slowly(PAIR[0], 200.0, PAIR[1], 12.0, PAIR[2], mount=TOLD)
    assert lines() == [WRITTEN.replace("04:30", "08:02")]


def test_without_a_site_an_old_commanded_place_is_asked_anew() -> None:
    bare = {"alignment": TOLD["alignment"]}
    script = play_slowly(PAIR[0], PAIR[1], 180.0, PAIR[2], "225 30 31 2", mount=bare)
    assert script.has("The sky has turned since you typed the controller's place.")
    assert script.has("Now it says (azimuth altitude) [225 0, 31 5]? ")
    assert lines()[0].split(",")[2:6] == ["225 30", "31 2", "225 6", "30 56"]


def test_a_star_centred_again_after_undo_keeps_the_moment_of_its_commanded_place() -> None:
    play_slowly(*PAIR, 240.0, "undo", "", "", "225 50 30 40", mount=TOLD)
    assert lines()[1].split(",")[1] == AT.replace("04:30", "08:30")
    assert lines()[1].split(",")[-1] == AT


def hour_ahead(name: str) -> str:
    """Where a controller that still counts summer time has a star, as one would type it."""
    there = names.overhead(name, read_mount(TOLD), NIGHT_S, names.BelievedSky(60.1643, 0.0))
    assert there is not None
    return f"{there.az_deg:.3f} {there.alt_deg:.3f}"


def test_the_controllers_clock_is_doubted_as_soon_as_two_stars_tell() -> None:
    first, second, third = (hour_ahead(name) for name in ("canopus", "antares", "hadar"))
    script, _ = play(
        "canopus", first, "canopus", first, "antares", second, "antares", second,
        "hadar", third, third,
    )  # fmt: skip
    told = [k for k, said in enumerate(script.said) if "CHECK THE CONTROLLER FIRST" in said]
    assert len(told) == 1
    assert "summer time" in script.said[told[0]]
    assert "Put that right in its menu. Then begin a new log" in script.said[told[0]]
    assert sum("Which star is it" in said for said in script.said) == 2
    assert len(lines()) == 3


def test_figures_typed_a_few_seconds_late_do_not_cast_doubt_on_the_clock() -> None:
    late = names.BelievedSky(0.4, 0.0)
    answers = []
    for name in ("canopus", "antares", "hadar", "alphard"):
        there = names.overhead(name, read_mount(TOLD), NIGHT_S, late)
        assert there is not None
        places = [f"{there.az_deg + off:.3f} {there.alt_deg:.3f}" for off in (0.0, 0.1)]
        answers += [name, *places]
    script, _ = play(*answers)
    assert not script.has("CHECK THE CONTROLLER FIRST")


def test_a_pair_with_a_proposed_star_and_a_nudge_takes_few_keys() -> None:
    """Stated: 25 keystrokes a pair, Enter counted, with a known star and a nudge."""
    answers = ["canopus", "225 0 31 5", "12r 5u", "spic", "27 0 57 30", "12l 15d"]
    play(*answers)
    assert len(lines()) == 2
    assert sum(len(answer) + 1 for answer in answers[3:]) <= 25


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
    answer(terminal, "The controller says (azimuth altitude)? ", "225 o 31 5")
    said = answer(terminal, "The controller says (azimuth altitude)? ", "225 0 31 5")
    assert b"Not understood" in said
    answer(
        terminal, "reads (azimuth altitude)? ", "225 6 31 56\x7f\x7f\x7f\x7f\x7f30 56"
    )  # rubbed out
    assert b"Line 2" in answer(terminal, "Star? ", "undo")
    answer(terminal, "Star [Canopus]? ", "")
    answer(terminal, "The controller says (azimuth altitude) [225 0, 31 5]? ", "")
    answer(terminal, "[225 6, 30 56]? ", "225 6 30 59")
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
    assert b"It holds 1 pair. The last is line 3" in b" ".join(opening.split())
    assert b"\x1b[2;31m" not in opening
    terminal.expect(pexpect.EOF)
    terminal.close()
    assert terminal.exitstatus == 0
    assert read_log("night.csv").target == ("Canopus",)


def test_kills_at_any_moment_lose_nothing_that_was_accepted(tmp_path: Path) -> None:
    """More of them: tests/bench/record_kills.py."""
    tally = kill_many(4, 3, tmp_path)
    assert tally.accepted > 0
    assert (tally.lost, tally.cut_off, tally.unreadable) == (0, 0, 0)
