"""What the phone sends is kept once, refused or taken back, in the words of the terminal."""

from __future__ import annotations

import errno
import json
import threading
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from phonefakes import (
    NIGHT_S,
    NOON_S,
    TOLD,
    Clock,
    Phone,
    entry,
    lines_of,
    new_id,
    phone_beside,
    taps_of_a_mount,
)

from pointmodel.phone.door import PhoneDoor
from pointmodel.phone.messages import NoMessageError
from pointmodel.phone.words import BEFORE_THE_PRESS, LOOK_AGAIN, OTHER_LOG, TAKE_IT_BACK
from pointmodel.reading.nightlog import read_log
from pointmodel.recording import logfile, session
from pointmodel.recording.askplaces import HOLDS_CENTRED, HOLDS_COMMANDED
from pointmodel.recording.controller import (
    ASK_PRESSES,
    ASK_STARS,
    NAMES_WANTED,
    PRESSES_WANTED,
)
from pointmodel.recording.dialogue import COLUMNS_CHOSEN, Dialogue
from pointmodel.recording.logfile import CUT_OFF
from pointmodel.recording.remark import DID_IT_MOVE
from pointmodel.recording.text import record_text
from pointmodel.recording.words import BELOW_HORIZON
from pointmodel.sky.sunguard import KEEP_OUT_DEG, sun_at, sun_separation_deg

PLACES_HEADER = "target,time,commanded_az,commanded_alt,centred_az,centred_alt,event,note"


@pytest.fixture(autouse=True)
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    return tmp_path


# ---- a pair is a line of the log ----


def test_a_tap_is_a_nudge_of_the_field_and_a_line_of_an_ordinary_log() -> None:
    with phone_beside() as phone:
        answer = phone.tap("Acrux", x=0.25, y=-0.5, id="a000000000000001", note="low")
    assert (answer["kept"], answer["refused"], answer["alarm"]) == (3, None, False)
    header, eyepiece, line = Path("night.csv").read_text().splitlines()
    assert header.startswith("target,time,nudge_right,nudge_up,")
    assert "[eyepiece]" in eyepiece
    assert line.startswith("Acrux,2031-05-17T21:04:30+10:00,6.0,-12.0,")
    assert line.endswith("low,a000000000000001") or "a000000000000001" in line
    log = read_log("night.csv", TOLD)
    assert log.target == ("Acrux",)
    assert log.nudged


def test_what_is_told_is_what_the_terminal_says_and_the_terminal_hears_it() -> None:
    with phone_beside() as phone:
        told = [phone.send(one)[0]["told"] for one in taps_of_a_mount(phone, 5)]
        last = phone.session.last
    assert last is not None
    assert told[-1] == last.told
    assert told[0] == "Line 3. 1 pair. With 3 more a wrong star will show."
    assert phone.heard == [f"From the phone: {text}" for text in told]


def test_centred_already_is_a_nudge_of_nothing_and_a_typed_one_is_read_as_at_the_terminal() -> None:
    with phone_beside() as phone:
        phone.send(entry("centred", target="acrux"))
        phone.send(entry("nudge", target="Canopus", text="12r 5d ccw"))
        phone.send(entry("nudge", target="Antares", text="0.5 fl, 3 u"))
    found = [line.split(",")[:4] for line in lines_of()]
    assert [row[2:] for row in found] == [["0", "0"], ["12", "-5"], ["-0.5 f", "3"]]
    assert [row[0] for row in found] == ["Acrux", "Canopus", "Antares"]
    assert "ccw" in lines_of()[1]


def test_both_places_are_typed_where_a_controller_shows_them() -> None:
    with phone_beside() as phone:
        sent = entry("places", target="Acrux", commanded="182 30, 66 12", centred="183.1 66.0 up")
        assert phone.send(sent)[0]["kept"] == 2
        refused = phone.tap("Canopus")["refused"]
        assert phone.state["second"] == "centred"
        assert phone.state["commanded"] is True
    assert refused == f"REFUSED: {HOLDS_CENTRED}"
    (line,) = lines_of()
    assert "182 30,66 12,183.1,66.0" in line


def test_a_log_of_nudges_and_commanded_places_wants_both() -> None:
    Path("night.csv").write_text(
        "target,time,commanded_az,commanded_alt,nudge_right,nudge_up\n"
        "Acrux,2031-05-17T21:00:00+10:00,182.5,66.2,3,4\n"
    )
    with phone_beside() as phone:
        assert phone.tap("Canopus")["refused"] == f"REFUSED: {HOLDS_COMMANDED}"
        assert phone.tap("Canopus", commanded="237 36 46 12")["kept"] == 4
    assert read_log("night.csv", TOLD).target == ("Acrux", "Canopus")


def test_a_pair_has_the_laptops_time_less_its_age() -> None:
    with phone_beside() as phone:
        phone.tap("Acrux", age_s=90.0)
    assert "2031-05-17T21:03:00+10:00" in lines_of()[0]


def test_what_a_phone_kept_over_an_event_stands_before_it_when_it_comes() -> None:
    """Taps out of reach of the laptop; meanwhile somebody types `bump` there, and goes on."""
    with phone_beside() as phone:
        for target in ("Acrux", "Canopus"):
            phone.tap(target)
        phone.clock.now_s += 60.0
        bump = {"event": "bump", "time": "2031-05-17T21:05:30+10:00"}
        phone.session.keep(bump, phone.clock())
        phone.clock.now_s += 60.0
        phone.tap("Sirius")
        late = entry("tap", target="Achernar", x=0.1, y=0.1, age_s=90.0)
        first, again = phone.send(late)[0], phone.send(late)[0]
        assert first["told"] == (
            "Line 5. It is older than bump, so it stands before it. Lines after that have new "
            "numbers."
        )
        assert again["kept"] == first["kept"] == 5
        newer = phone.tap("Spica", age_s=20.0)
        assert newer["kept"] == 8
    log = read_log("night.csv", TOLD)
    assert log.target == ("Acrux", "Canopus", "Achernar", "Sirius", "Spica")
    assert [event.before_pair for event in log.events] == [3]


def test_an_event_that_a_phone_kept_stands_before_the_pairs_after_it() -> None:
    with phone_beside() as phone:
        phone.tap("Acrux")
        phone.clock.now_s += 120.0
        phone.tap("Canopus")
        (late,) = phone.send(entry("event", event="bump", age_s=60.0))
        assert late["told"].startswith("Line 4. It is older than Canopus, so it stands before it.")
    log = read_log("night.csv", TOLD)
    assert log.target == ("Acrux", "Canopus")
    assert [(event.kind, event.before_pair) for event in log.events] == [("bump", 1)]


def test_a_few_letters_do_and_what_could_be_several_stars_or_none_is_asked_again() -> None:
    with phone_beside() as phone:
        assert phone.tap("achern")["kept"]
        several = phone.tap("Al")["refused"]
        unknown = phone.tap("Acruxx")["refused"]
    assert several.startswith("REFUSED: Several stars begin with Al: Al")
    assert unknown == "REFUSED: Acruxx is not a star I know: did you mean Acrux or Gacrux?"
    assert len(lines_of()) == 1


# ---- events, notes, what is not found ----


def test_an_event_a_note_and_a_star_that_is_not_found_are_kept() -> None:
    with phone_beside() as phone:
        phone.tap("Acrux")
        event, note, missing = phone.send(
            entry("event", event="bump", note="the cat"),
            entry("note", text="dew\nbegins"),
            entry("missing", target="Canopus"),
        )
    assert event["told"].startswith("Line 4. bump: azimuth zero, altitude zero and lean")
    assert (note["told"], note["kept"]) == ("Noted.", 5)
    assert missing["told"].startswith("Canopus is noted as not found.")
    lines = Path("night.csv").read_text().splitlines()
    assert lines[4].startswith("# 2031-05-17T21:04:30+10:00 dew begins [a")
    assert lines[5].startswith("# 2031-05-17T21:04:30+10:00 cannot find Canopus [a")
    assert read_log("night.csv", TOLD).events[0].kind == "bump"


# ---- once, whatever happens ----


@pytest.mark.parametrize("kind", ["tap", "event", "note", "missing"])
def test_an_entry_that_comes_again_is_kept_once(kind: str) -> None:
    further: dict[str, Any] = {
        "tap": {"target": "Acrux", "x": 0.1, "y": 0.2},
        "event": {"event": "bump"},
        "note": {"text": "dew"},
        "missing": {"target": "Acrux"},
    }[kind]
    sent = entry(kind, **further)
    with phone_beside() as phone:
        first = phone.send(sent)[0]
        before = Path("night.csv").read_bytes()
        again = [phone.send(sent)[0] for _ in range(2)]
    with phone_beside() as phone:  # the laptop was started anew
        again += phone.send(sent)
    assert [one["kept"] for one in again] == [first["kept"]] * 3
    assert Path("night.csv").read_bytes() == before


def test_an_entry_that_was_taken_back_is_not_kept_anew_when_it_comes_again() -> None:
    sent = entry("tap", target="Acrux", x=0.1, y=0.2)
    with phone_beside() as phone:
        line = phone.send(sent)[0]["kept"]
        phone.send(entry("undo", entry_id=sent["id"]))
        assert phone.send(sent)[0]["kept"] == line
    assert lines_of() == []


def test_half_a_line_that_a_killed_program_left_does_not_count_as_kept() -> None:
    sent = entry("tap", target="Acrux", x=0.1, y=0.2)
    with phone_beside() as phone:
        phone.tap("Canopus")
    with Path("night.csv").open("ab") as file:
        file.write(CUT_OFF + f"Acrux,,,{sent['id']}\n".encode())
    with phone_beside() as phone:
        assert phone.send(sent)[0]["kept"] == 5
    assert len(lines_of()) == 2


def test_an_entry_that_another_programs_save_took_out_is_written_again_not_sent_twice() -> None:
    sent = entry("tap", target="Acrux", x=0.1, y=0.2)
    with phone_beside() as phone:
        phone.tap("Canopus")
        before = Path("night.csv").read_bytes()
        phone.send(sent)
        Path("night.csv").write_bytes(before)
        assert phone.send(sent)[0]["kept"]
    assert [line.split(",")[0] for line in lines_of()] == ["Canopus", "Acrux"]


def test_where_the_disk_does_not_take_it_the_entry_is_neither_kept_nor_refused(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    sent = entry("tap", target="Acrux", x=0.1, y=0.2)
    with phone_beside() as phone:
        phone.tap("Canopus")
        before = Path("night.csv").read_bytes()

        def full(*_: Any) -> None:
            raise OSError(errno.ENOSPC, "No space left on device")

        with monkeypatch.context() as patched:
            patched.setattr(logfile, "write_all", full)
            answer = phone.send(sent)[0]
        assert (answer["kept"], answer["refused"], answer["alarm"]) == (None, None, True)
        assert answer["told"].startswith("NOT SAVED: No space left on device.")
        assert Path("night.csv").read_bytes() == before
        assert phone.send(sent)[0]["kept"] == 4


def test_entries_of_another_log_are_refused() -> None:
    with phone_beside() as phone:
        told = phone.send(entry("centred", target="Acrux"), log_key="0" * 16)
        assert told[0]["refused"] == OTHER_LOG
        assert phone.send(entry("centred", target="Acrux"), log_key=phone.state["log_key"])[0][
            "kept"
        ]


def test_more_than_the_page_has_patience_for_is_left_for_its_next_message(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    with phone_beside() as phone:
        judge = session.judge

        def slowly(*args: Any) -> Any:
            phone.clock.now_s += 3.0
            return judge(*args)

        monkeypatch.setattr(session, "judge", slowly)
        sent = [entry("tap", target=star, x=0.1, y=0.2) for star in ("Acrux", "Canopus", "Antares")]
        assert len(phone.send(*sent)) == 2
        assert [one["kept"] for one in phone.send(*sent)] == [3, 4, 5]


def test_once_the_recording_has_ended_nothing_is_kept_and_the_phone_keeps_it() -> None:
    with phone_beside() as phone:
        phone.tap("Acrux")
        before = Path("night.csv").read_bytes()
        phone.door.close()
        answer = phone.tap("Canopus")
        assert (answer["kept"], answer["refused"]) == (None, None)
        assert "the recording has ended" in answer["told"]
        assert phone.door.site(b'{"latitude": "1", "longitude": "2"}')["refused"]
        assert Path("night.csv").read_bytes() == before


# ---- undo ----


def test_undo_strikes_by_id_or_line_and_what_is_struck_already_is_answered_as_done() -> None:
    with phone_beside() as phone:
        first, second = (entry("tap", target=star, x=0.1, y=0.2) for star in ("Acrux", "Canopus"))
        phone.send(first, second)
        by_id = phone.send(entry("undo", entry_id=first["id"]))[0]
        again = phone.send(entry("undo", entry_id=first["id"]), entry("undo", line=3))
        by_line = phone.send(entry("undo", line=4, what="Canopus"))[0]
    assert by_id["told"] == ("Undone: Acrux, line 3. It stays in the log as a remark. 1 pair left.")
    assert [one["kept"] for one in (by_id, *again, by_line)] == [3, 3, 3, 4]
    assert again[0]["told"] == "Line 3 was taken back already."
    assert lines_of() == []


def test_an_undo_by_line_takes_nothing_else_back_once_lines_have_other_numbers() -> None:
    typed = {"target": "Acrux", "time": "2031-05-17T21:05:00+10:00"}
    with phone_beside() as phone:
        phone.tap("Spica")
        phone.session.keep({**typed, "nudge_right": "1", "nudge_up": "2"}, NIGHT_S)
        shown = phone.state["recent"]
        assert [(one["what"], one["line"]) for one in shown] == [("Acrux", 4), ("Spica", 3)]
        right = {shown[1]["entry_id"]: {"nudge_right": "-4.8"}}
        phone.session.put_right(right, "eyepiece", {"turn": "0", "mirrored": "true"})
        before = Path("night.csv").read_bytes()
        old = phone.send(entry("undo", line=4, what="Acrux"))[0]
        assert old["refused"] == ("REFUSED: Line 4 is not Acrux any more: press “Undo” again.")
        assert Path("night.csv").read_bytes() == before
        assert phone.send(entry("undo", line=6, what="Acrux"))[0]["kept"] == 6


def test_an_undo_of_what_never_came_or_is_no_entry_is_refused() -> None:
    with phone_beside() as phone:
        note = entry("note", text="dew")
        phone.send(note)
        never, of_note, far, of_nothing = phone.send(
            entry("undo", entry_id=new_id()),
            entry("undo", entry_id=note["id"]),
            entry("undo", line=999),
            entry("undo"),
        )
    for one in (never, of_note, far, of_nothing):
        assert one["refused"].startswith("REFUSED: ")
        assert one["kept"] is None


# ---- the Sun ----


def test_nothing_within_20_degrees_of_the_sun_is_offered_or_taken() -> None:
    clock = Clock(NOON_S)
    with phone_beside(clock=clock) as phone:
        sun = sun_at(phone.session.mount.observer, NOON_S)
        assert sun is not None
        for star in phone.state["stars"]:
            assert sun_separation_deg(sun, star["az_deg"], star["alt_deg"]) >= KEEP_OUT_DEG
        refused = phone.send(
            entry("centred", target="Alcyone"),
            entry("centred", target="Sun"),
            entry(
                "places", target="x", commanded=f"{sun.az_deg:.1f} {sun.alt_deg:.1f}", centred="1 2"
            ),
        )
        assert "The Sun is up" in phone.state["sun"]
        assert "blinds at once" in " ".join(phone.state["cautions"])
    assert all(one["refused"] and "from the Sun" in one["refused"] for one in refused)
    assert lines_of() == []


# ---- what is asked once ----


def test_without_a_site_it_is_asked_for_first_and_kept_beside_the_log() -> None:
    without = {name: told for name, told in TOLD.items() if name != "site"}
    with phone_beside(mount=without) as phone:
        assert phone.state["site_known"] is False
        assert phone.state["stars"] == []
        assert "site must be known" in phone.tap("Acrux")["refused"]
        wrong = phone.door.site(b'{"latitude": "146.2", "longitude": "146.2"}')
        assert "are latitude and longitude exchanged?" in wrong["refused"]
        told = phone.door.site('{"latitude": "41 18 S", "longitude": "146°12′"}'.encode())
        assert told["refused"] is None
        assert told["state"]["site_known"] is True
        assert len(told["state"]["stars"]) > 20
        assert phone.tap("Acrux")["kept"]
    assert read_log("night.csv", None).mount.place_deg == pytest.approx((-41.3, 146.2))


def test_how_the_eyepiece_stands_follows_from_two_presses_or_is_told() -> None:
    without = {name: told for name, told in TOLD.items() if name != "eyepiece"}
    with phone_beside(mount=without) as phone:
        assert phone.state["eyepiece"]["known"] is False
        assert "which way is up" in phone.tap("Acrux")["refused"]
        presses = {  # the tube goes right: the star goes down in this eyepiece; up: to the right
            "right": {"before": [0.0, 0.9], "after": [0.0, -0.3]},
            "up": {"before": [0.0, -0.3], "after": [-1.0, -0.3], "went": "down"},
        }
        told = phone.door.eyepiece(json.dumps(presses).encode())
        assert told["refused"] is None
        short = {"before": [0.0, 0.0], "after": [0.01, 0.0]}
        unclear = phone.door.eyepiece(json.dumps({"right": short, "up": short}).encode())
        assert unclear["refused"].startswith("The star moved too little to tell.")
        found = phone.state["eyepiece"]
        assert found["known"] is True
        phone.door.eyepiece(b'{"turn_deg": 90, "mirrored": true}')
        assert phone.state["eyepiece"] == {
            **{"known": True, "turn_deg": 90.0, "mirrored": True, "side": "back"}
        }
        phone.door.eyepiece(b'{"field_arcmin": 30}')
        assert phone.state["field_arcmin"] == 30.0


def test_at_the_side_of_the_tube_the_star_s_height_counts_at_every_tap() -> None:
    without = {name: told for name, told in TOLD.items() if name != "eyepiece"}
    presses = {  # upright, as it happens with the tube on this star
        "right": {"before": [0.9, 0.0], "after": [-0.3, 0.0]},
        "up": {"before": [0.0, 0.9], "after": [0.0, -0.3]},
        "side": "left",
    }
    with phone_beside(mount=without) as phone:
        refused = phone.door.eyepiece(json.dumps(presses).encode())["refused"]
        assert refused.startswith("The picture turns with the tube")
        told = phone.door.eyepiece(json.dumps({**presses, "target": "Acrux"}).encode())
        assert told["refused"] is None
        stands = phone.state["eyepiece"]
        height = next(star["alt_deg"] for star in phone.state["stars"] if star["name"] == "Acrux")
        assert stands["side"] == "left"
        assert stands["turn_deg"] == pytest.approx(height, abs=0.5)
        phone.tap("Acrux", x=0.5, y=0.0)
    assert lines_of()[-1].split(",")[-1] == "12.0 0.0"
    nudge = read_log("night.csv", TOLD).pairs.iloc[-1][["nudge_right", "nudge_up"]]
    assert nudge.tolist() == pytest.approx([12.0, 0.0], abs=0.2)


def test_what_the_controller_was_told_can_be_answered_on_the_phone_too() -> None:
    without = {name: told for name, told in TOLD.items() if name != "alignment"}
    with phone_beside(mount=without) as phone:
        assert phone.state["questions"] == {"stars": ASK_STARS, "presses": ASK_PRESSES}
        unknown = phone.door.controller(b'{"stars": "Acruxx"}')
        assert "is not a star I know" in unknown["refused"]
        assert phone.door.controller(b'{"stars": "yes"}')["refused"] == NAMES_WANTED
        assert phone.door.controller(b'{"presses": "perhaps"}')["refused"] == PRESSES_WANTED
        assert phone.door.controller(b'{"presses": "no idea"}')["told"] == "Noted: not known."
        told = phone.door.controller(b'{"stars": "acrux, canopus", "presses": "each time"}')
        assert BEFORE_THE_PRESS in told["told"]
        assert told["state"]["questions"] == {}
        assert phone.session.log.mount.alignment.stars == ("Acrux", "Canopus")


@pytest.mark.parametrize(
    ("field", "why"),
    [("0.8", "No eyepiece shows so little. Type arcminutes"), ("4800", "1200"), ("1e300", "1200")],
)
def test_a_field_that_no_eyepiece_has_is_refused_in_words(field: str, why: str) -> None:
    with phone_beside() as phone:
        answer = phone.door.eyepiece(f'{{"field_arcmin": {field}}}'.encode())
        assert why in answer["refused"]
        assert answer["state"]["field_arcmin"] == 48.0


@pytest.mark.parametrize(
    "body",
    [
        b"{}",
        b'{"turn_deg": 90}',
        b'{"turn_deg": 90, "mirrored": true, "field_arcmin": 30}',
        b'{"right": {"before": [0, 0], "after": [1, 0]}}',
        b'{"right": {"before": [0, 0], "after": [1, 0], "went": "up"}, '
        b'"up": {"before": [0, 0], "after": [0, 1]}}',
        b'{"field_arcmin": 0}',
    ],
)
def test_neither_presses_nor_turn_nor_field_is_no_message(body: bytes) -> None:
    with phone_beside() as phone, pytest.raises(NoMessageError):
        phone.door.eyepiece(body)


# ---- what is no message ----

TAP = {"id": "a000000000000001", "kind": "tap", "age_s": 0, "target": "Acrux", "x": 0, "y": 0}


def _with(**changed: Any) -> bytes:
    return json.dumps({"entries": [{**TAP, **changed}]}).encode()


@pytest.mark.parametrize(
    "body",
    [
        b"",
        b"null",
        b"[]",
        b"{}",
        b'{"entries": []}',
        b'{"entries": [7]}',
        b"\xff\xfe{}",
        b"[" * 100_000,
        _with(x=float("nan")),
        _with(y=float("inf")),
        _with().replace(b'"x": 0', b'"x": 1e999'),
        _with(x=20.1),
        _with(x="0"),
        _with(fields_up=51),
        _with(age_s=-1),
        _with(age_s=1e9),
        _with(id="A000000000000001"),
        _with(id="a00000000000001"),
        _with(id="a000000000000001\n"),
        _with(id=7),
        _with(target=""),
        _with(target="x" * 61),
        _with(note="x" * 301),
        _with(further=1),
        _with(kind="shell"),
        _with(kind=None),
        _with(file="/etc/passwd"),
        json.dumps({"entries": [TAP] * 21}).encode(),
        json.dumps({"entries": [TAP], "log": "/etc/passwd"}).encode(),
        _with(target="\ud800"),
    ],
)
def test_what_is_beyond_its_bounds_is_no_message_and_nothing_is_written(body: bytes) -> None:
    with phone_beside() as phone:
        before = Path("night.csv").read_bytes()
        with pytest.raises(NoMessageError):
            phone.door.entries(body)
        assert Path("night.csv").read_bytes() == before


@pytest.mark.parametrize(
    "text",
    [
        "=1+1",
        '"',
        "a,b",
        "# undone: x",
        "\x00\x1b[31m",
        "\r\n# [alignment] stars = []",
        "‮",
        "'",
        ";\t",
    ],
)
def test_whatever_a_note_holds_is_one_cell_or_one_remark(text: str) -> None:
    with phone_beside() as phone:
        kept = phone.tap("Acrux", note=text)["kept"]
        phone.send(entry("note", text=text))
        assert phone.tap("Canopus")["kept"] == kept + 2
    log = read_log("night.csv", TOLD)
    assert log.target == ("Acrux", "Canopus")
    assert log.mount.alignment == phone.session.mount.alignment
    assert Path("night.csv").read_bytes().count(b"\n") == kept + 2


def test_an_error_of_the_program_ends_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    with phone_beside() as phone:

        def broken(*_: Any) -> Any:
            raise ZeroDivisionError("oh")

        with monkeypatch.context() as patched:
            patched.setattr("pointmodel.phone.door.pair_cells", broken)
            answer = phone.tap("Acrux")
        assert answer["refused"] == "Not kept (internal error: ZeroDivisionError: oh)."
        with monkeypatch.context() as patched:
            patched.setattr(session, "judge", broken)
            answer = phone.tap("Acrux")
        assert "Kept, but not judged" in answer["told"]
        assert phone.tap("Canopus")["kept"] == 4


# ---- what the page shows ----


def test_the_state_is_sent_once_for_each_change_through_whichever_door() -> None:
    with phone_beside() as phone:
        first = phone.state["version"]
        assert phone.door.state(first) is None
        phone.session.keep({"target": "Acrux", "event": "bump"}, NIGHT_S)
        second = phone.state
        assert second["version"] != first
        assert second["last"]["told"].startswith("Line 2. bump:")
        assert second["recent"] == [{"line": 2, "entry_id": None, "what": "bump"}]
    with phone_beside() as phone:
        assert phone.state["version"] not in (first, second["version"])


def test_the_best_star_is_next_and_the_others_are_told_with_where_to_look() -> None:
    with phone_beside() as phone:
        shown = phone.state
    assert shown["next"]["text"].startswith(f"Begin with {shown['next']['star']}: look ")
    names = [star["name"] for star in shown["stars"]]
    assert shown["next"]["star"] in names
    assert len(names) <= 60
    magnitudes = [star["magnitude"] for star in shown["stars"]]
    assert magnitudes == sorted(magnitudes)
    for star in shown["stars"]:
        assert star["how_to_find"].startswith(f"look {star['direction']}, {star['fists']} up (")
    assert shown["log"] == "night.csv"


def test_the_log_is_named_without_its_folders(tmp_path: Path) -> None:
    (tmp_path / "secret").mkdir()
    with phone_beside(tmp_path / "secret" / "night.csv") as phone:
        phone.tap("Acrux")
        shown = json.dumps(phone.state)
    assert "secret" not in shown
    assert '"night.csv"' in shown


def test_once_one_may_stop_the_steps_are_those_that_record_ends_with() -> None:
    with phone_beside() as phone:
        for one in taps_of_a_mount(phone, 12):
            phone.send(one)
        shown, result = phone.state, phone.session.result(NIGHT_S)
    assert shown["may_stop"] is True
    assert "quit" not in shown["next"]["text"]
    assert "\n".join(shown["advice"]) in record_text(result)
    assert shown["headline"] == shown["advice"][0]
    assert all(set(step) == {"text", "minutes", "after"} for step in shown["steps"])
    assert shown["known"].startswith("Typical miss now: ")


def test_what_the_terminal_takes_back_the_page_says_to_be_taken_back() -> None:
    with phone_beside() as phone:
        line = phone.tap("Acrux")["kept"]
        phone.session.undo()
        told = phone.state["last"]["told"]
        assert told.startswith(f"Undone: Acrux, line {line}.")
        phone.tap("Acrux")
        assert phone.state["last"]["told"].startswith("Line ")


def test_the_advice_is_that_of_the_field_told_since_in_the_page_s_own_words() -> None:
    with phone_beside(mount={**TOLD, "optics": {}}) as phone:
        for one in taps_of_a_mount(phone, 8):
            phone.send(one)
        assert "tell yours under “More”" in phone.state["known"]
        phone.door.eyepiece(b'{"field_arcmin": 50}')
        assert "(50′ across)" in phone.state["known"]


def test_without_a_site_the_page_says_where_it_is_told() -> None:
    with phone_beside(mount={}) as phone:
        assert "Press “More”" in phone.state["sun"]


def test_of_a_doubtful_pair_there_is_no_advice_and_the_page_names_its_own_button() -> None:
    with phone_beside() as phone:
        for one in taps_of_a_mount(phone, 8):
            phone.send(one)
        phone.tap("Acrux", x=15.0, y=9.0)
        assert phone.state["headline"] is None
        assert phone.state["next"] == {"star": "Acrux", "text": LOOK_AGAIN}
        assert not phone.state["may_stop"]
        told = phone.tap("Antares", x=15.0, y=9.0)["told"]
        phone.send(entry("undo", line=phone.state["last"]["line"]))
    assert "DOES NOT FIT" in told or "In doubt" in told
    assert DID_IT_MOVE not in told
    assert "Something moved" in told


# ---- several at once ----


def test_two_phones_and_the_terminal_lose_no_line_and_keep_none_twice() -> None:
    stars = ["Acrux", "Canopus", "Antares", "Spica", "Arcturus", "Achernar"]
    with phone_beside() as phone:
        phone.tap("Hadar")
        other = Phone(phone.session, phone.clock)
        sent = {star: entry("tap", target=star, x=0.1, y=0.2) for star in stars}
        errors: list[BaseException] = []

        def by_phone(one: Phone) -> None:
            try:
                for star in stars:
                    assert one.send(sent[star])[0]["kept"]
                    one.door.state()
            except BaseException as error:
                errors.append(error)

        def by_terminal() -> None:
            try:
                for star in stars:
                    cells = {"target": star, "time": "2031-05-17T21:05:00+10:00"}
                    phone.session.keep({**cells, "nudge_right": "1", "nudge_up": "2"}, NIGHT_S)
                    phone.session.new_notices()
                    phone.session.next_step(NIGHT_S)
            except BaseException as error:
                errors.append(error)

        threads = [
            threading.Thread(target=by_phone, args=(phone,)),
            threading.Thread(target=by_phone, args=(other,)),
            threading.Thread(target=by_terminal),
        ]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
        assert errors == []
        log = phone.session.log
    kept = [line.split(",")[0] for line in lines_of()]
    assert sorted(kept) == sorted(["Hadar", *stars, *stars])
    assert len(log) == len(kept)
    assert np.array_equal(log.line, read_log("night.csv", TOLD).line)


class Script:
    """A terminal whose answers are listed beforehand; a function in the list is called."""

    def __init__(self, answers: list[Any]) -> None:
        self.answers, self.said = answers, list[str]()

    def say(self, text: str, alarm: bool = False) -> None:
        self.said.append(text)

    def interject(self, text: str, alarm: bool = False, instead: str = "") -> None:
        self.said.extend([text, *([instead] if instead else [])])

    def ask(self, prompt: str, names: Any = ()) -> str:
        self.said.append(prompt)
        while self.answers and callable(self.answers[0]):
            self.answers.pop(0)()
        if not self.answers:
            raise EOFError
        return str(self.answers.pop(0))


def test_what_the_phone_told_of_the_controller_meanwhile_the_terminal_asks_no_more() -> None:
    without = {name: told for name, told in TOLD.items() if name != "alignment"}
    with phone_beside(mount=without) as phone:
        answers = [lambda: phone.door.controller(b'{"stars": "no", "presses": "no"}'), ""]
        script = Script(answers)
        Dialogue(phone.session, script, phone.clock).run()  # type: ignore[arg-type]
        assert ASK_STARS in script.said
        assert ASK_PRESSES not in script.said
        assert phone.session.log.mount.alignment.presses == "none"


def test_a_star_that_stands_as_a_question_gives_way_to_the_one_proposed_since() -> None:
    with phone_beside() as phone:
        script = Script([])
        talk = Dialogue(phone.session, script, phone.clock)  # type: ignore[arg-type]
        by_phone = PhoneDoor(phone.session, talk.heard, phone.clock)
        tapped = json.dumps({"entries": [entry("tap", target="Acrux", x=0.2, y=0.1)]}).encode()
        script.answers = [lambda: by_phone.entries(tapped), "", lambda: None]
        talk.run()
        star = phone.state["next"]["star"]
    assert star not in ("", "Acrux")
    assert f"2. Star [{star}]? " in script.said
    assert f"Send the telescope to {star} and centre it." in script.said


def test_a_star_below_the_horizon_is_asked_about() -> None:
    with phone_beside() as phone:
        answer = phone.tap("Polaris")
    assert answer["kept"] is not None
    assert answer["alarm"]
    assert f"Polaris {BELOW_HORIZON} {TAKE_IT_BACK}" in answer["told"]


def test_where_the_first_pair_comes_from_the_phone_meanwhile_the_terminal_types_anew() -> None:
    with phone_beside() as phone:
        answers = ["Canopus", "225 31", lambda: phone.tap("Acrux"), "226 32", "", "5r 3u"]
        script = Script(answers)
        ended = Dialogue(phone.session, script, phone.clock).run()  # type: ignore[arg-type]
    assert ended is False
    assert COLUMNS_CHOSEN in script.said
    assert [line.split(",")[0] for line in lines_of()] == ["Acrux", "Canopus"]
    assert len(read_log("night.csv", TOLD)) == 2


def test_while_the_terminal_waits_for_room_on_the_disk_the_phone_is_answered(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    answered: list[bool] = []

    def full(*_: Any) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    with phone_beside() as phone, monkeypatch.context() as patched:

        def look() -> None:
            asking = threading.Thread(target=phone.door.state, daemon=True)
            asking.start()
            asking.join(timeout=5.0)
            answered.append(not asking.is_alive())

        phone.tap("Acrux")
        patched.setattr(logfile, "write_all", full)
        script = Script(["Canopus", "5r 3u", look, "drop"])
        Dialogue(phone.session, script, phone.clock).run()  # type: ignore[arg-type]
    assert any("NOT SAVED" in said for said in script.said)
    assert answered == [True]
