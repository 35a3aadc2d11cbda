"""An eyepiece that stands otherwise than it is said to: told of, and the taps put right."""

from __future__ import annotations

import json
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import numpy as np
import pytest
from phonefakes import TOLD, entry, phone_beside
from tapping import TappedNight

from pointmodel.advising.text import now_words
from pointmodel.phone.askedonce import NEW_NUMBERS
from pointmodel.phone.eyepiece import Orientation, orientation_of
from pointmodel.phone.eyepiecedoubt import eyepiece_doubt, take_offer, tapped_pairs
from pointmodel.reading.nightlog import read_log

TRUE = Orientation(30.0, mirrored=True)


@pytest.fixture(autouse=True)
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)


@contextmanager
def night(told: Orientation, stands: Orientation = TRUE, seed: int = 4) -> Iterator[TappedNight]:
    """A night whose eyepiece is told to stand so."""
    said = {"turn": told.turn_deg, "mirrored": told.mirrored, "side": told.side}
    with phone_beside(mount={**TOLD, "eyepiece": said}) as phone:
        yield TappedNight(phone, np.random.default_rng(seed), stands)


def nudges() -> list[list[float]]:
    return np.asarray(read_log("night.csv", TOLD).pairs[["nudge_right", "nudge_up"]]).tolist()


def test_a_right_eyepiece_is_not_doubted_at_any_tap() -> None:
    with night(TRUE) as one:
        for star in one.names()[:9]:
            one.tap(star)
            assert one.phone.state["eyepiece_doubt"] is None


@pytest.mark.parametrize(
    ("told", "says"),
    [
        (TRUE.turned(0, exchanged=True), "They do with left and right exchanged in the eyepiece."),
        (TRUE.turned(180), "They do with the picture upside down."),
        (TRUE.turned(90), "They do with the picture mirrored, and turned by"),
    ],
)
def test_a_wrong_one_is_told_of_and_the_offer_puts_every_tap_right(
    told: Orientation, says: str
) -> None:
    with night(told) as one:
        one.tap_some(4)
        assert one.phone.state["eyepiece_doubt"] is None  # too few to tell
        one.tap_some(4)
        doubt = one.phone.state["eyepiece_doubt"]
        assert doubt["text"].startswith("Your taps do not fit how the eyepiece is said to stand.")
        assert says in doubt["text"]
        answer = one.phone.door.eyepiece(json.dumps(doubt["offer"]).encode())
        assert answer["told"].endswith(f"8 lines are put right. {NEW_NUMBERS}")
        assert answer["state"]["eyepiece_doubt"] is None
        assert answer["state"]["pairs"] == 8
        assert answer["state"]["last"] is None  # it spoke of the taps as they were
        now = one.phone.session.advice
        assert now is not None
        assert answer["state"]["known"] == now_words(now)
        found = orientation_of(one.phone.session.mount.eyepiece)
        assert found is not None
        assert found.mirrored
        assert abs((found.turn_deg - TRUE.turn_deg + 180.0) % 360.0 - 180.0) <= 15.0


@pytest.mark.parametrize(("before", "bump", "after"), [(7, True, 8), (4, False, 16)])
def test_what_was_tapped_before_a_knock_or_long_ago_is_put_right_with_the_rest(
    before: int, bump: bool, after: int
) -> None:
    with night(TRUE.turned(0, exchanged=True)) as one:
        one.tap_some(before)
        if bump:
            one.phone.send(entry("event", event="bump"))
        one.tap_some(after)
        doubt = eyepiece_doubt(one.phone.session)
        assert doubt is not None
        assert doubt.offer == TRUE
        assert take_offer(one.phone.session, doubt) == before + after
        assert one.phone.state["notices"] == []


def test_what_was_right_before_a_knock_stays_where_the_eyepiece_was_turned_by_it() -> None:
    with night(TRUE) as one:
        one.tap_some(7)
        one.phone.send(entry("event", event="bump"))
        one.stands = TRUE.turned(0, exchanged=True)
        one.tap_some(8)
        doubt = eyepiece_doubt(one.phone.session)
        assert doubt is not None
        assert take_offer(one.phone.session, doubt) == 8
        assert one.phone.state["notices"] == []


def test_what_is_put_right_is_what_would_have_been_kept() -> None:
    with night(TRUE) as right:
        for star in right.names()[:8]:
            right.tap(star)
    wanted = nudges()
    Path("night.csv").unlink()
    with night(TRUE.turned(0, exchanged=True)) as one:
        for star in one.names()[:8]:
            one.tap(star)
        session = one.phone.session
        doubt = eyepiece_doubt(session)
        assert doubt is not None
        assert doubt.offer == TRUE
        assert take_offer(session, doubt) == 8
    np.testing.assert_allclose(nudges(), wanted, atol=0.25)
    assert Path("night.csv").read_text().count("# undone:") == 8


def presses(stands: Orientation) -> bytes:
    """What two presses show of an eyepiece, as the page sends it."""
    across, above = stands.matrix.T
    spots = {
        name: {"before": (0.8 * way).tolist(), "after": (-0.6 * way).tolist()}
        for name, way in (("right", across), ("up", above))
    }
    return json.dumps(spots).encode()


def test_an_eyepiece_that_is_shown_anew_puts_right_what_did_not_fit() -> None:
    with night(TRUE.turned(0, exchanged=True)) as one:
        for star in one.names()[:8]:
            one.tap(star)
        told = one.phone.door.eyepiece(presses(TRUE))["told"]
        assert told == (
            f"The eyepiece is mirrored, and turned by 30°: 8 lines are put right. {NEW_NUMBERS}"
        )
        assert one.phone.state["eyepiece_doubt"] is None
        again = one.phone.door.eyepiece(presses(TRUE.turned(90)))["told"]
        assert "put right" not in again  # it fitted before: this is another eyepiece from now on
    assert Path("night.csv").read_text().count("# undone:") == 8


def test_only_what_was_tapped_with_that_eyepiece_is_put_right() -> None:
    with night(TRUE) as one:
        stars = one.names()
        for star in stars[:4]:
            one.tap(star)
        earlier = nudges()
        one.phone.door.eyepiece(b'{"turn_deg": 30, "mirrored": false}')
        for star in stars[4:11]:
            one.tap(star)
        one.phone.send({"id": "a" * 16, "kind": "centred", "target": stars[11]})
        doubt = eyepiece_doubt(one.phone.session)
        assert doubt is not None
        assert doubt.offer == TRUE
        assert take_offer(one.phone.session, doubt) == 7
    assert nudges()[:4] == earlier
    assert nudges()[-1] == pytest.approx([0.0, 0.0], abs=1e-6)


def test_a_diagonal_that_was_turned_in_the_night_is_told_of_from_that_line_on() -> None:
    with night(TRUE) as one:
        stars = one.names()
        for star in stars[:7]:
            one.tap(star)
        earlier = nudges()
        one.stands = TRUE.turned(90)
        for star in stars[7:13]:
            one.tap(star)
        doubt = eyepiece_doubt(one.phone.session)
        assert doubt is not None
        assert "Was the eyepiece turned then?" in doubt.text
        assert doubt.offer is not None
        assert doubt.offer.mirrored
        assert abs(doubt.offer.turn_deg - 120.0) <= 15.0
        assert take_offer(one.phone.session, doubt) in (5, 6, 7)
        assert eyepiece_doubt(one.phone.session) is None
    assert nudges()[:6] == earlier[:6]


def test_a_way_in_at_the_tubes_side_that_was_not_told_is_found() -> None:
    stands = Orientation(180.0, False, "left")
    with night(stands.at(45.0), stands, seed=5) as one:
        for star in one.names()[:14]:
            one.tap(star)
        doubt = eyepiece_doubt(one.phone.session)
        assert doubt is not None
        assert "They do where one looks into the tube on its left side" in doubt.text
        assert doubt.offer is not None
        assert doubt.offer.side == "left"


def test_a_log_without_taps_or_of_places_is_not_asked() -> None:
    with night(TRUE) as one:
        for star in one.names()[:8]:
            one.phone.send({"id": new_id(star), "kind": "nudge", "target": star, "text": "3r 4u"})
        pairs = tapped_pairs(one.phone.session)
        assert pairs is not None
        assert not pairs.by_tap.any()
        assert eyepiece_doubt(one.phone.session) is None


def new_id(star: str) -> str:
    return f"{abs(hash(star)):016x}"[-16:]
