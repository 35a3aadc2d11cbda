"""Faults in the page for the phone and its door."""

from __future__ import annotations

from bench.fault import Fault

PHONE_DOOR, PHONE_SERVER = "tests/test_phone_door.py", "tests/test_phone_server.py"
SERVER = "pointmodel/phone/server.py"
OF_PHONE = (
    Fault(
        "phone: an entry that comes again is kept anew",
        "pointmodel/phone/door.py",
        "answer = self._kept_already(entry) or self._kept(entry)",
        "answer = self._kept(entry)",
        (f"{PHONE_DOOR}::test_an_entry_that_comes_again_is_kept_once",),
    ),
    Fault(
        "phone: half a line counts as kept",
        "pointmodel/recording/session.py",
        "if marked in one and not is_cut_off(one)]",
        "if marked in one]",
        (f"{PHONE_DOOR}::test_half_a_line_that_a_killed_program_left_does_not_count_as_kept",),
    ),
    Fault(
        "phone: x for y",
        "pointmodel/phone/pairs.py",
        "tap = Tap(entry.x, entry.y,",
        "tap = Tap(entry.y, entry.x,",
        (f"{PHONE_DOOR}::test_a_tap_is_a_nudge_of_the_field_and_a_line_of_an_ordinary_log",),
    ),
    Fault(
        "phone: the age of a pair is passed over",
        "pointmodel/phone/door.py",
        "at_s = now_s - entry.age_s",
        "at_s = now_s",
        (f"{PHONE_DOOR}::test_a_pair_has_the_laptops_time_less_its_age",),
    ),
    Fault(
        "phone: sessions are not used in turn",
        "pointmodel/recording/session.py",
        "field(default_factory=RLock, repr=False)",
        "field(default_factory=__import__('contextlib').nullcontext, repr=False)",
        (f"{PHONE_DOOR}::test_two_phones_and_the_terminal_lose_no_line_and_keep_none_twice",),
    ),
    Fault(
        "phone: any host",
        SERVER,
        "if len(hosts) != 1 or hosts[0] not in self._hosts:",
        "if len(hosts) != 1:",
        (f"{PHONE_SERVER}::test_another_host_is_turned_away_whatever_is_asked",),
    ),
    Fault(
        "phone: two hosts",
        SERVER,
        "if len(hosts) != 1 or hosts[0] not in self._hosts:",
        "if hosts[0] not in self._hosts:",
        (f"{PHONE_SERVER}::test_two_hosts_are_none",),
    ),
    Fault(
        "phone: an origin is not asked for",
        SERVER,
        'if origins != [wanted] and (origins or request.method != "GET"):',
        "if origins and origins != [wanted]:",
        (f"{PHONE_SERVER}::test_what_changes_something_comes_from_the_page_alone",),
    ),
    Fault(
        "phone: what a browser says of where it fetches for is passed over",
        SERVER,
        "if _fetched_from(request) not in (SAME_ORIGIN, None):",
        "if False:",
        (f"{PHONE_SERVER}::test_what_a_browser_says_is_fetched_for_another_page_is_turned_away",),
    ),
    Fault(
        "phone: any scheme before the token",
        SERVER,
        'if not right or scheme != "Bearer":',
        "if not right:",
        (f"{PHONE_SERVER}::test_without_the_token_there_is_no_answer",),
    ),
    Fault(
        "phone: who guesses empties the bucket of the right token",
        SERVER,
        "if not known and not self._strangers.allows(_who(request)):",
        'if not self._page.allows("") and not known:',
        (f"{PHONE_SERVER}::test_who_guesses_is_slowed_down_and_never_locks_out_the_right_token",),
    ),
    Fault(
        "phone: chunks are not counted",
        SERVER,
        "if len(body) > LONGEST_BODY:",
        "if False:",
        (f"{PHONE_SERVER}::test_a_body_has_64_kb_at_most_whatever_it_says_of_its_length",),
    ),
    Fault(
        "phone: heads that do not end are waited for",
        "pointmodel/phone/connection.py",
        "self.loop.call_later(HEAD_WITHIN_S, self._end_if_idle),",
        "self.loop.call_later(3600.0, self._end_if_idle),",
        (f"{PHONE_SERVER}::test_heads_and_bodies_that_do_not_come_are_not_waited_for",),
    ),
    Fault(
        "phone: a frame may hold the page",
        SERVER,
        'is_visit = path == "/" and told == ["navigate", "document"]',
        'is_visit = path == "/" and told[0] == "navigate"',
        (
            f"{PHONE_SERVER}::test_another_page_cannot_load_its_files_but_a_link_may_lead_to_the_page",
        ),
    ),
    Fault(
        "phone: a mistake of the program shows where it lives",
        SERVER,
        "response = Response(status_code=500)",
        "raise",
        (f"{PHONE_SERVER}::test_an_error_of_the_program_is_told_without_a_word",),
    ),
)
