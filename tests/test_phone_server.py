"""Who may speak to a recording through its page: each check names what it is held against.

OWASP Cheat Sheet Series: Cross-Site Request Forgery Prevention; Content Security Policy; HTTP
Security Response Headers; REST Security. OWASP Web Security Testing Guide 4.2: testing for Host
header injection (07-17), for brute force and lock-out (04-03). From memory: RFC 6750 (bearer
tokens), RFC 9110 and 9112 (HTTP).
"""

from __future__ import annotations

import asyncio
import json
import os
import re
import signal
import socket
import subprocess
import sys
import time
from collections.abc import AsyncIterator, Iterator
from pathlib import Path
from typing import Any

import httpx
import numpy as np
import pytest
import zxingcpp
from bench.phone_hostile import (
    ENTRY,
    TURNED_AWAY,
    Server,
    answer_to,
    heeding_ctrl_c,
    hostile,
    is_alive,
    request,
    slow_ones,
)
from bench.phone_kills import killed_often
from phonefakes import Phone, entry, lines_of, phone_beside

from pointmodel.phone import connection, network, server, serving
from pointmodel.phone.code import code_lines
from pointmodel.phone.network import LOCAL, lan_addresses
from pointmodel.phone.page import page_files
from pointmodel.phone.rates import MOST_KNOWN, Rate
from pointmodel.phone.server import Address, PhoneServer, new_token
from pointmodel.phone.serving import OVERHEARD, PORT, Serving

HOST = f"{LOCAL}:{PORT}"
TOKEN = "right-" + "x" * 40


@pytest.fixture(autouse=True)
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    return tmp_path


class Client:
    """Requests to an application, without a server."""

    def __init__(self, app: PhoneServer) -> None:
        self._transport = httpx.ASGITransport(app=app)

    def request(self, method: str, path: str, **told: Any) -> httpx.Response:
        async def answer() -> httpx.Response:
            async with httpx.AsyncClient(
                transport=self._transport, base_url=f"http://{HOST}"
            ) as one:
                return await one.request(method, path, **told)

        return asyncio.run(answer())

    def get(self, path: str, **told: Any) -> httpx.Response:
        return self.request("GET", path, **told)

    def post(self, path: str, **told: Any) -> httpx.Response:
        return self.request("POST", path, **told)


class Seconds:
    """A clock of the rates."""

    now = 0.0

    def __call__(self) -> float:
        return self.now


@pytest.fixture
def seconds() -> Seconds:
    return Seconds()


@pytest.fixture
def phone() -> Iterator[Phone]:
    with phone_beside() as beside:
        yield beside


@pytest.fixture
def client(phone: Phone, seconds: Seconds) -> Client:
    app = PhoneServer(phone.door, TOKEN, Address(LOCAL, PORT), seconds)
    return Client(app)


def headers(**changed: str | None) -> dict[str, str]:
    """What the page's own browser sends; None takes a header away."""
    usual = {"Authorization": f"Bearer {TOKEN}", "Origin": f"http://{HOST}"}
    named = {name.replace("_", "-"): value for name, value in changed.items()}
    return {name: value for name, value in {**usual, **named}.items() if value is not None}


def posted(client: Client, *entries: dict[str, Any], **changed: str | None) -> Any:
    return client.post("/entries", json={"entries": entries}, headers=headers(**changed))


CENTRED = {"id": "a000000000000001", "kind": "centred", "target": "Acrux", "age_s": 0}


# ---- what the page itself sends ----


def test_the_page_is_the_same_for_everybody_and_holds_nothing_of_the_session(
    client: Client, phone: Phone
) -> None:
    phone.send(entry("centred", target="Acrux"))
    for path, file in page_files().items():
        answer = client.get(path)
        assert (answer.status_code, answer.content) == (200, file.body)
        assert answer.headers["content-type"].partition(";")[0] == file.media_type
        assert TOKEN.encode() not in answer.content
        assert b"Acrux" not in answer.content


def test_state_and_entries_are_answered_to_the_token(client: Client) -> None:
    state = client.get("/state", headers=headers()).json()
    assert client.get(f"/state?since={state['version']}", headers=headers()).status_code == 204
    answer = posted(client, CENTRED)
    assert answer.status_code == 200
    assert answer.json()["answers"][0]["kept"] == 2
    assert answer.json()["state"]["pairs"] == 1
    site = client.post(
        "/site", json={"latitude": "41 S", "longitude": "146 E"}, headers=headers()
    ).json()
    assert site["refused"] is None
    field = client.post("/eyepiece", json={"field_arcmin": 50}, headers=headers()).json()
    assert field["state"]["field_arcmin"] == 50


def test_an_answer_is_given_only_once_the_line_is_on_the_disk(
    client: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    synced: list[bytes] = []
    fsync = os.fsync

    def noted(fd: int) -> None:
        fsync(fd)
        synced.append(Path("night.csv").read_bytes())

    monkeypatch.setattr(os, "fsync", noted)
    assert posted(client, CENTRED).json()["answers"][0]["kept"] == 2
    assert CENTRED["id"].encode() in synced[-1]


# ---- token: RFC 6750; OWASP, CSRF Prevention: a header that no form can send ----


@pytest.mark.parametrize(
    "told",
    [
        None,
        "",
        "Bearer",
        "Bearer ",
        f"Bearer {TOKEN[:-1]}",
        f"Bearer {TOKEN}x",
        f"Bearer {TOKEN} ",
        f"bearer {TOKEN}",
        f"Basic {TOKEN}",
        TOKEN,
        f"Bearer {TOKEN.swapcase()}",
        "Bearer ÿ",
    ],
)
def test_without_the_token_there_is_no_answer(client: Client, told: str | None) -> None:
    changed = headers(Authorization=told)
    raw = [(name.encode(), value.encode("latin-1")) for name, value in changed.items()]
    if told is not None and told.endswith(" "):
        raw = [(name, value) for name, value in raw if name != b"Authorization"]
        raw.append((b"Authorization", told.encode()))
    for answer in (
        client.get("/state", headers=raw),
        client.get(f"/state?token={TOKEN}", headers=raw),
        client.post("/entries", json={"entries": [CENTRED]}, headers=raw),
        client.post("/site", json={}, headers=raw),
        client.post("/eyepiece", json={}, headers=raw),
    ):
        assert (answer.status_code, answer.content) == (403, b"")
    assert lines_of() == []


def test_a_token_twice_is_none(client: Client) -> None:
    twice = [("Authorization", f"Bearer {TOKEN}"), ("Authorization", f"Bearer {TOKEN}")]
    assert client.get("/state", headers=twice).status_code == 403


def test_a_token_has_256_bits_and_is_another_one_each_time() -> None:
    tokens = {new_token() for _ in range(100)}
    assert len(tokens) == 100
    assert all(re.fullmatch(r"[\w-]{43}", token) for token in tokens)


def test_tokens_are_compared_in_constant_time(
    client: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked: list[tuple[bytes, bytes]] = []

    def compared(told: bytes, right: bytes) -> bool:
        asked.append((told, right))
        return told == right

    monkeypatch.setattr("pointmodel.phone.server.secrets.compare_digest", compared)
    client.get("/state", headers=headers(Authorization="Bearer no"))
    client.get("/state", headers=headers())
    assert asked == [(b"no", TOKEN.encode()), (TOKEN.encode(), TOKEN.encode())]


# ---- brute force and lock-out: Web Security Testing Guide, 04-03 ----


def test_who_guesses_is_slowed_down_and_never_locks_out_the_right_token(
    client: Client, seconds: Seconds
) -> None:
    guesses = [
        client.get("/state", headers=headers(Authorization=f"Bearer {k}")).status_code
        for k in range(200)
    ]
    assert guesses == [403] * 20 + [429] * 180
    assert client.get("/state", headers=headers()).status_code == 200
    assert client.get("/").status_code == 200
    assert posted(client, CENTRED).json()["answers"][0]["kept"] == 2
    seconds.now += 3.0
    again = [client.get("/state", headers=headers(Authorization="Bearer x")) for _ in range(4)]
    assert [one.status_code for one in again] == [403, 403, 403, 429]


def test_the_right_token_has_bounds_of_its_own(client: Client, seconds: Seconds) -> None:
    asked = [client.get("/state", headers=headers()).status_code for _ in range(70)]
    assert asked == [200] * 60 + [429] * 10
    seconds.now += 1.0
    assert client.get("/state", headers=headers()).status_code == 200


def test_ten_loads_of_the_page_in_a_row_are_answered_but_not_a_flood(client: Client) -> None:
    loads = [client.get(path).status_code for _ in range(10) for path in page_files()]
    assert set(loads) == {200}
    assert {client.get("/phone.js").status_code for _ in range(400)} == {200, 429}
    assert client.get("/state", headers=headers()).status_code == 200


def test_buckets_are_forgotten_with_who_was_silent_longest() -> None:
    rate = Rate(burst=1, per_s=0, clock=lambda: 0.0)
    assert rate.allows("a")
    assert not rate.allows("a")
    assert all(rate.allows(str(k)) for k in range(MOST_KNOWN))
    assert rate.allows("a")


# ---- Host: Web Security Testing Guide, 07-17; a name that is made to point here ----


@pytest.mark.parametrize(
    "host",
    ["", "evil.example", f"evil.example:{PORT}", LOCAL, f"{LOCAL}:80", f"{HOST}.", f"[::1]:{PORT}",
     f"{HOST}, evil.example", f"LOCALHOST.evil.example:{PORT}", f"0.0.0.0:{PORT}"],
)  # fmt: skip
def test_another_host_is_turned_away_whatever_is_asked(client: Client, host: str) -> None:
    for path in ("/", "/phone.js", "/state", "/nothing"):
        answer = client.get(path, headers=headers(Host=host, X_Forwarded_Host=HOST))
        assert (answer.status_code, answer.content) == (403, b"")
    answer = posted(client, CENTRED, Host=host, Origin=f"http://{host}")
    assert (answer.status_code, answer.content) == (403, b"")


def test_two_hosts_are_none(client: Client) -> None:
    assert client.get("/", headers=[("Host", HOST), ("Host", HOST)]).status_code == 403


def test_this_computer_may_be_called_localhost_and_one_on_the_network_only_by_its_address() -> None:
    assert Address(LOCAL, 8742).hosts == ("127.0.0.1:8742", "localhost:8742")
    assert Address("192.168.1.7", 8742).hosts == ("192.168.1.7:8742",)


# ---- Origin and Fetch Metadata: OWASP, CSRF Prevention ----


@pytest.mark.parametrize(
    "origin",
    [None, "null", "http://evil.example", f"https://{HOST}", f"http://{LOCAL}", f"http://{HOST}/",
     f"http://{HOST}.evil.example", f"http://localhost:{PORT}"],
)  # fmt: skip
def test_what_changes_something_comes_from_the_page_alone(
    client: Client, origin: str | None
) -> None:
    answer = posted(client, CENTRED, Origin=origin)
    assert (answer.status_code, answer.content) == (403, b"")
    assert lines_of() == []


@pytest.mark.parametrize("site", ["cross-site", "same-site", "none", "same-origin, cross-site"])
def test_what_a_browser_says_is_fetched_for_another_page_is_turned_away(
    client: Client, site: str
) -> None:
    assert posted(client, CENTRED, Sec_Fetch_Site=site).status_code == 403
    assert client.get("/state", headers=headers(Sec_Fetch_Site=site)).status_code == 403
    assert client.get("/state", headers=headers(Sec_Fetch_Site="same-origin")).status_code == 200


def test_another_page_cannot_load_its_files_but_a_link_may_lead_to_the_page(
    client: Client,
) -> None:
    for path in ("/", "/phone.js", "/scheme.css"):
        for mode in ("no-cors", "cors"):
            fetched = {"Sec-Fetch-Site": "cross-site", "Sec-Fetch-Mode": mode}
            assert client.get(path, headers=fetched).status_code == 403
    followed = {"Sec-Fetch-Site": "cross-site", "Sec-Fetch-Mode": "navigate"}
    assert client.get("/", headers={**followed, "Sec-Fetch-Dest": "document"}).status_code == 200
    assert client.get("/", headers={**followed, "Sec-Fetch-Dest": "iframe"}).status_code == 403
    assert client.get("/phone.js", headers=followed).status_code == 403


def test_nobody_is_told_that_other_origins_may_ask(client: Client) -> None:
    asked = {"Origin": "http://evil.example", "Access-Control-Request-Method": "POST"}
    answers = [
        client.request("OPTIONS", "/entries", headers=asked),
        client.get("/", headers={"Origin": "http://evil.example"}),
        client.get("/state", headers=headers(Origin="http://evil.example")),
    ]
    assert [one.status_code for one in answers] == [405, 200, 403]
    assert not [name for one in answers for name in one.headers if name.startswith("access-")]


# ---- headers: OWASP, HTTP Security Response Headers; Content Security Policy ----


def test_every_answer_has_the_headers_that_keep_it_to_the_page(client: Client) -> None:
    for answer in (
        client.get("/"),
        client.get("/phone.js"),
        client.get("/state", headers=headers()),
        client.get("/state"),
        client.get("/nothing"),
        client.request("PUT", "/"),
        posted(client, CENTRED),
    ):
        policy = answer.headers["content-security-policy"].split("; ")
        assert policy[0] == "default-src 'none'"
        assert "script-src 'self'" in policy
        assert "frame-ancestors 'none'" in policy
        assert "base-uri 'none'" in policy
        assert "form-action 'none'" in policy
        assert not re.search(r"unsafe|\*|data:|http", " ".join(policy))
        assert answer.headers["cache-control"] == "no-store"
        assert answer.headers["x-content-type-options"] == "nosniff"
        assert answer.headers["referrer-policy"] == "no-referrer"
        assert answer.headers["x-frame-options"] == "DENY"
        assert answer.headers["cross-origin-resource-policy"] == "same-origin"
        assert "server" not in answer.headers
        assert "set-cookie" not in answer.headers


def test_the_page_has_no_script_or_style_of_its_own_that_the_policy_would_forbid() -> None:
    shell = page_files()["/"].body.decode()
    assert not re.search(r"<script(?![^>]*\bsrc=)|<style|\bstyle=|\son\w+=|https?://", shell)


# ---- methods, paths, bodies: OWASP, REST Security ----


@pytest.mark.parametrize("method", ["PUT", "DELETE", "PATCH", "OPTIONS", "HEAD", "TRACE", "BREW"])
@pytest.mark.parametrize(
    "path", ["/", "/phone.js", "/state", "/entries", "/site", "/eyepiece", "/controller"]
)
def test_other_methods_are_405(client: Client, method: str, path: str) -> None:
    answer = client.request(method, path, headers=headers())
    assert (answer.status_code, answer.content) == (405, b"")


@pytest.mark.parametrize(("method", "path"), [("GET", "/entries"), ("POST", "/state")])
def test_each_path_has_its_one_method(client: Client, method: str, path: str) -> None:
    assert client.request(method, path, headers=headers()).status_code == 405


@pytest.mark.parametrize(
    "path",
    ["/night.csv", "/mount.toml", "/static/phone.js", "/state/", "/State", "/%73tate",
     "/phone.html", "/phone.js%00", "/%2e%2e/%2e%2e/etc/passwd", "/..%2f..%2fetc%2fpasswd",
     "/entries;x", "/.git"],
)  # fmt: skip
def test_there_is_no_path_outside_the_session(client: Client, path: str) -> None:
    for method in ("GET", "POST"):
        answer = client.request(method, path, headers=headers())
        assert (answer.status_code, answer.content) == (404, b"")


@pytest.mark.parametrize(
    "media",
    ["", "text/plain", "application/x-www-form-urlencoded", "multipart/form-data; boundary=x",
     "application/json; charset=utf-16", "application/JSONP"],
)  # fmt: skip
def test_a_body_that_is_not_called_json_is_not_read(client: Client, media: str) -> None:
    answer = client.post("/entries", content=ENTRY, headers=headers(Content_Type=media))
    assert answer.status_code == 403


def test_a_body_has_64_kb_at_most_whatever_it_says_of_its_length(client: Client) -> None:
    head = headers(Content_Type="application/json")
    fits = ENTRY + b" " * (65_536 - len(ENTRY))
    assert client.post("/entries", content=fits, headers=head).status_code == 200
    assert client.post("/entries", content=fits + b" ", headers=head).status_code == 413

    async def parts() -> AsyncIterator[bytes]:
        yield fits
        yield b" "

    assert client.post("/entries", content=parts(), headers=head).status_code == 413
    for length in ("65537", "9" * 30, "-1", "x"):
        told = client.post("/entries", content=ENTRY, headers={**head, "Content-Length": length})
        assert told.status_code == 413


def test_what_is_no_message_is_403_and_the_log_is_as_it_was(client: Client) -> None:
    before = Path("night.csv").read_bytes()
    for body in (
        b"",
        b"null",
        b"{}",
        b"[" * 60_000,
        b"\xff",
        ENTRY[:-1],
        ENTRY.replace(b"0}", b"-1}"),
    ):
        for path in ("/entries", "/site", "/eyepiece", "/controller"):
            answer = client.post(
                path, content=body, headers=headers(Content_Type="application/json")
            )
            assert (answer.status_code, answer.content) == (403, b"")
    assert Path("night.csv").read_bytes() == before


def test_an_error_of_the_program_is_told_without_a_word(
    client: Client, phone: Phone, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(_: str) -> Any:
        raise ZeroDivisionError("/home/secret")

    monkeypatch.setattr(phone.door, "state", broken)
    app = PhoneServer(phone.door, TOKEN, Address(LOCAL, PORT))
    answer = Client(app).get("/state", headers=headers())
    assert (answer.status_code, answer.content) == (500, b"")


# ---- a real server ----


@pytest.fixture
def real(phone: Phone) -> Iterator[Server]:
    served = Serving(phone.door, LOCAL)
    served.start()
    yield Server.of_link(served.link)
    served.stop()


def test_a_sample_of_hostile_requests_is_turned_away_and_the_log_is_untouched(
    real: Server, phone: Phone, capfd: pytest.CaptureFixture[str]
) -> None:
    assert phone.send(entry("centred", target="Canopus"))[0]["kept"]
    before = Path("night.csv").read_bytes()
    counts = hostile(real, 240, seed=11)
    assert {status for found in counts.values() for status in found} <= TURNED_AWAY
    assert counts["wrong token"]["403"] == counts["wrong host"]["403"] == 30
    assert counts["wrong path"]["404"] == counts["wrong method"]["405"] == 30
    assert counts["wrong body"]["413"] > 0
    assert is_alive(real)
    assert Path("night.csv").read_bytes() == before
    assert capfd.readouterr() == ("", "")  # no log, so no token in one


def test_heads_and_bodies_that_do_not_come_are_not_waited_for(
    real: Server, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(connection, "HEAD_WITHIN_S", 0.3)
    monkeypatch.setattr(server, "BODY_WITHIN_S", 0.3)
    start = time.monotonic()
    counts = slow_ones(real, 6)
    assert time.monotonic() - start < 20.0
    assert set(counts) <= {"closed", "403"}
    assert is_alive(real)


def test_one_address_has_no_more_connections_than_a_browser_needs(real: Server) -> None:
    talks = [socket.create_connection((real.host, real.port)) for _ in range(60)]
    try:
        time.sleep(0.3)
        ended = 0
        for talk in talks:
            talk.settimeout(0.05)
            try:
                ended += talk.recv(1) == b""
            except TimeoutError:
                continue
            except ConnectionError:
                ended += 1
        assert ended == 60 - connection.MOST_OF_ONE
        assert answer_to(real, request("GET", "/", real.headers()), "127.9.9.9") == "200"
    finally:
        for talk in talks:
            talk.close()


def test_a_connection_ends_after_a_while_but_not_in_the_middle_of_an_answer(
    real: Server, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(connection, "LONGEST_S", 0.3)
    with socket.create_connection((real.host, real.port), timeout=5.0) as talk:
        talk.sendall(request("GET", "/state", real.headers()))
        answered = talk.recv(100)
        while part := talk.recv(65_536):
            answered += part
    assert answered.startswith(b"HTTP/1.1 200 ")


def test_the_port_is_the_usual_one_or_another_where_that_is_taken(phone: Phone) -> None:
    first, second = Serving(phone.door, LOCAL), Serving(phone.door, LOCAL)
    try:
        assert second.address.port != PORT
        assert first.address.port != second.address.port
        assert first.link.partition("#")[0] == f"http://{LOCAL}:{first.address.port}/"
    finally:
        first.close()
        second.close()


# ---- the code for the camera: read back by zxing-cpp ----


def image_of(lines: list[str]) -> np.ndarray[Any, Any]:
    """What a dark terminal shows of a code: two rows of modules a line, light where a block is."""
    upper = {"█": (1, 1), "▀": (1, 0), "▄": (0, 1), " ": (0, 0)}
    rows = [[upper[letter][half] for letter in line] for line in lines for half in (0, 1)]
    return np.kron(np.array(rows, dtype=np.uint8) * 255, np.ones((8, 8), dtype=np.uint8))


@pytest.mark.parametrize("host", ["127.0.0.1", "192.168.100.200", "10.0.0.1"])
def test_the_printed_code_is_the_link(host: str) -> None:
    link = f"{Address(host, PORT).url}#{new_token()}"
    lines = code_lines(link)
    assert max(map(len, lines)) <= 60
    (found,) = zxingcpp.read_barcodes(image_of(lines))
    assert (found.format.name, found.text) == ("QRCode", link)


# ---- the network ----


def test_addresses_are_found_without_sending_anything_and_are_private_ones(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    asked: list[Any] = []
    real_socket = socket.socket

    class Watched(real_socket):
        def __init__(self, *args: Any) -> None:
            super().__init__(*args)
            asked.append(args[1] if len(args) > 1 else None)

        def send(self, *_: Any) -> int:
            raise AssertionError("sent")

        sendto = sendall = send  # type: ignore[assignment]

    monkeypatch.setattr(network.socket, "socket", Watched)
    for address in lan_addresses():
        assert network._is_private(address)
    assert set(asked) == {socket.SOCK_DGRAM}


@pytest.mark.parametrize(
    ("address", "is_private"),
    [("192.168.1.7", True), ("10.3.2.1", True), ("172.20.10.2", True), ("169.254.3.4", True),
     ("127.0.0.1", False), ("8.8.8.8", False), ("0.0.0.0", False)],
)  # fmt: skip
def test_only_addresses_of_a_network_at_home_are_served(address: str, is_private: bool) -> None:
    assert network._is_private(address) is is_private


# ---- the command ----


def test_without_the_packages_the_command_says_what_to_install() -> None:
    code = subprocess_of_record("--phone", without="segno")
    assert code.returncode == 2
    assert 'pip install "pointmodel[phone]"' in code.stderr
    assert not Path("night.csv").exists()


def subprocess_of_record(*args: str, without: str = "", typed: str = "") -> Any:
    """`pointmodel record`, in an interpreter that does not have a package."""
    program = "import sys\n"
    if without:  # as if it were not installed
        program += (
            "from importlib import util\nfound = util.find_spec\n"
            f"util.find_spec = lambda name, *a: None if name == {without!r} else found(name, *a)\n"
        )
    program += (
        "from pointmodel.cli import main\n"
        f"sys.argv = ['pointmodel', 'record', 'night.csv', *{args!r}]\nmain()\n"
    )
    return subprocess.run(
        [sys.executable, "-c", program], input=typed, capture_output=True, text=True, timeout=60
    )


def test_a_phone_goes_beside_the_conversation_not_beside_a_pipe() -> None:
    told = subprocess_of_record("--phone", "--pipe")
    assert told.returncode == 2
    assert "leave out --pipe" in told.stderr


def test_the_network_is_asked_about_once_and_not_served_without_a_yes() -> None:
    told = subprocess_of_record("--phone-lan", typed="n\nquit\n")
    if not lan_addresses():
        pytest.skip("this computer is on no network")
    shown = " ".join(told.stdout.split())
    assert OVERHEARD in shown
    assert "The page is not served. Recording goes on here." in shown
    assert "http://" not in shown
    assert told.returncode == 0


def started(*args: str) -> subprocess.Popen[str]:
    command = heeding_ctrl_c("record", "night.csv", *args)
    return subprocess.Popen(
        command, stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
    )


def test_with_nothing_to_type_at_the_page_goes_on_until_ctrl_c() -> None:
    Path("mount.toml").write_text("[site]\nlatitude = -41.3\nlongitude = 146.2\n")
    with started("--phone", "--json") as process:
        assert process.stderr is not None
        assert process.stdout is not None
        link = next(line.strip() for line in process.stderr if line.startswith("http://"))
        served = Server.of_link(link)
        assert served.host == LOCAL
        sent = request("POST", "/entries", served.headers(), ENTRY)
        deadline = time.monotonic() + 30.0
        while answer_to(served, sent, patience_s=20.0) != "200":
            assert time.monotonic() < deadline
        process.send_signal(signal.SIGINT)
        try:
            printed, said = process.communicate(timeout=60.0)
        finally:
            process.kill()
    assert process.returncode == 0
    document = json.loads(printed)
    assert document["pairs"] == 1
    assert "From the phone: Line 2. 1 pair." in said
    assert served.token not in said
    assert answer_to(served, sent) != "200"  # another one may have the port by now


def test_quit_typed_at_the_terminal_stops_the_page_too() -> None:
    told = subprocess_of_record("--phone", typed="quit\n")
    assert told.returncode == 0
    assert "http://127.0.0.1:" in told.stdout
    assert "Nothing more can be typed here" not in told.stdout


def test_what_the_phone_enters_is_told_and_the_question_is_shown_again(phone: Phone) -> None:
    import pexpect

    Path("mount.toml").write_text(
        '[site]\nlatitude = -41.3\nlongitude = 146.2\n[alignment]\nstars = []\npresses = "none"\n'
    )
    command = ["-m", "pointmodel", "record", "other.csv", "--phone", "--plain"]
    talk = pexpect.spawn(sys.executable, command, encoding="utf-8", timeout=30)
    talk.expect(r"(http://127\.0\.0\.1:\d+/#\S+)")
    served = Server.of_link(talk.match[1])
    talk.expect(r"1\. Star \[\w+( \w+)?\]\? ")
    talk.send("Can")
    time.sleep(0.5)
    sent = request("POST", "/entries", served.headers(), ENTRY)
    assert answer_to(served, sent, patience_s=20.0) == "200"
    talk.expect(r"From the phone: Line 2\. 1 pair\.")
    talk.expect(r"2\. Star \[\w+( \w+)?\]\? Can")
    talk.sendline("opus")
    talk.expect("Canopus")
    talk.sendline("quit")
    talk.expect(pexpect.EOF)
    talk.close()
    assert talk.exitstatus == 0


def test_the_words_of_serving_are_short_sentences() -> None:
    for text in (serving.OVERHEARD, serving.ONLY_HERE, serving.KEEP_IT, serving.GOES_ON):
        for sentence in re.split(r"(?<=[.:?!;])\s+", text):
            assert len(sentence.split()) <= 20, sentence


def test_a_laptop_that_is_killed_and_started_again_loses_no_entry_and_keeps_none_twice(
    tmp_path: Path,
) -> None:
    counts, ids = killed_often(tmp_path, kills=2)
    assert len(ids) >= 4
    assert {one: counts[one] for one in ids} == dict.fromkeys(ids, 1)


def test_a_recording_without_a_phone_loads_nothing_that_serves() -> None:
    program = (
        "import sys, io\nsys.stdin = io.StringIO('quit\\n')\n"
        "from pointmodel.cli import command_line\n"
        "try:\n    command_line.main(['record', 'night.csv'])\nexcept SystemExit:\n    pass\n"
        "print(*{'uvicorn', 'starlette', 'segno', 'asyncio'} & set(sys.modules), file=sys.stderr)"
    )
    told = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True)
    assert "all of it is on the disk" in told.stdout
    assert told.stderr.split() == []
