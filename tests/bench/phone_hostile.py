"""Hostile requests to the phone's server: `python tests/bench/phone_hostile.py [--count 10000]`.

A recording is started with `--phone`, and is sent what no page of its own sends: wrong tokens,
hosts, origins, methods, paths and bodies, requests of another origin's page, what is no HTTP, heads
and bodies that never end. Counted is what is answered; at the end the server must still answer its
page, and the log must be as it was. Each request comes from an address of its own (127.x.y.z), so
that what is counted is not only that a stranger was told to go slower.
"""

from __future__ import annotations

import argparse
import os
import random
import re
import signal
import socket
import subprocess
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path

TURNED_AWAY = {"403", "404", "405", "413", "429", "closed"}
ENTRY = (
    b'{"entries": [{"id": "a0000000000000ff", "kind": "centred", "target": "Acrux", "age_s": 0}]}'
)
MOUNT = """[site]
latitude = -41.3
longitude = 146.2
[alignment]
stars = []
presses = "none"
[eyepiece]
turn = 0
mirrored = false
"""


@dataclass(frozen=True)
class Server:
    """Where the page is served, and its token."""

    host: str
    port: int
    token: str

    @classmethod
    def of_link(cls, link: str) -> Server:
        """The server that a printed link leads to."""
        found = re.fullmatch(r"http://([\d.]+):(\d+)/#(\S+)", link)
        assert found is not None, link
        return cls(found[1], int(found[2]), found[3])

    @property
    def address(self) -> str:
        return f"{self.host}:{self.port}"

    def headers(self, **changed: str | None) -> dict[str, str]:
        """What the page's own browser sends; None takes a header away."""
        usual: dict[str, str | None] = {
            "Host": self.address,
            "Authorization": f"Bearer {self.token}",
            "Origin": f"http://{self.address}",
            "Content-Type": "application/json",
        }
        named = {name.replace("_", "-"): value for name, value in changed.items()}
        return {name: value for name, value in (usual | named).items() if value is not None}


Kind = Callable[[Server, random.Random], bytes]


def request(
    method: str, path: str, headers: dict[str, str], body: bytes = b"", length: int | None = None
) -> bytes:
    """The bytes of a request."""
    told = dict(headers)
    if body or length is not None:
        told["Content-Length"] = str(len(body) if length is None else length)
    lines = [f"{method} {path} HTTP/1.1", *(f"{name}: {value}" for name, value in told.items())]
    return "\r\n".join([*lines, "", ""]).encode("latin-1", "replace") + body


def wrong_token(server: Server, rng: random.Random) -> bytes:
    token = server.token
    wrong = rng.choice(
        [
            None,
            "",
            "Bearer",
            "Bearer ",
            f"Bearer {token[:-1]}",
            f"Bearer {token}x",
            f"Bearer {token.swapcase()}",
            f"bearer {token}",
            f"Basic {token}",
            f"Bearer  {token}",
            token,
            f"Bearer {rng.getrandbits(256):x}",
            "Bearer \xff\xfe",
            f"Bearer {'A' * 4000}",
        ]
    )
    path = rng.choice(
        ["/state", f"/state?token={token}", "/entries", "/site", "/eyepiece", "/controller"]
    )
    headers = server.headers(Authorization=wrong, Cookie=f"token={token}")
    if path.startswith("/state"):
        return request("GET", path, headers)
    return request("POST", path, headers, ENTRY)


def wrong_host(server: Server, rng: random.Random) -> bytes:
    host = rng.choice(
        [
            None,
            "",
            "evil.example",
            f"evil.example:{server.port}",
            f"{server.host}.",
            server.host,
            f"{server.host}:80",
            f"{server.address}.evil.example",
            f"127.0.0.1.nip.example:{server.port}",
            f"[::1]:{server.port}",
            f"0.0.0.0:{server.port}",
            f"{server.address}, evil.example",
        ]
    )
    method, path, body = rng.choice(
        [("GET", "/", b""), ("GET", "/state", b""), ("POST", "/entries", ENTRY)]
    )
    made = request(method, path, server.headers(Host=host, X_Forwarded_Host=server.address), body)
    twice = f"Host: {server.address}\r\nHost: evil.example\r\n".encode()
    if rng.random() < 0.1:
        made = made.replace(b"\r\n", b"\r\n" + twice, 1)
    return made


def wrong_origin(server: Server, rng: random.Random) -> bytes:
    origin = rng.choice(
        [
            None,
            "null",
            "http://evil.example",
            f"https://{server.address}",
            f"http://{server.host}",
            f"http://{server.host}:1",
            f"http://{server.address}.evil.example",
            "file://",
        ]
    )
    return request("POST", "/entries", server.headers(Origin=origin), ENTRY)


def another_pages(server: Server, rng: random.Random) -> bytes:
    """What a page of another origin can make a browser send."""
    site = rng.choice(["cross-site", "same-site"])
    evil = {"Sec_Fetch_Site": site, "Origin": "http://evil.example", "Authorization": None}
    return rng.choice(
        [
            request("POST", "/entries", server.headers(**evil, Content_Type="text/plain"), ENTRY),
            request(
                "POST",
                "/entries",
                server.headers(**evil, Content_Type="application/x-www-form-urlencoded"),
                b"entries=1",
            ),
            request(
                "OPTIONS",
                "/entries",
                server.headers(**evil, Access_Control_Request_Headers="authorization"),
            ),
            request("GET", "/state", server.headers(Sec_Fetch_Site=site, Origin=None)),
            request(
                "GET",
                rng.choice(["/", "/phone.js", "/phone.css"]),
                server.headers(Sec_Fetch_Site=site, Sec_Fetch_Mode="no-cors", Origin=None),
            ),
        ]
    )


def wrong_method(server: Server, rng: random.Random) -> bytes:
    method = rng.choice(["PUT", "DELETE", "PATCH", "OPTIONS", "HEAD", "TRACE", "CONNECT", "X" * 99])
    path = rng.choice(["/", "/state", "/entries", "/site", "/eyepiece", "/phone.js"])
    other = [("GET", "/entries"), ("POST", "/state"), ("GET", "/site"), ("POST", "/")]
    if rng.random() < 0.3:
        method, path = rng.choice(other)
    return request(method, path, server.headers(), ENTRY if method == "POST" else b"")


def wrong_path(server: Server, rng: random.Random) -> bytes:
    path = rng.choice(
        [
            "/../../etc/passwd",
            "/%2e%2e/%2e%2e/etc/passwd",
            "/..%2f..%2fetc%2fpasswd",
            "/static/phone.js",
            "/phone.html",
            "/night.csv",
            "/mount.toml",
            "//state",
            "/state/",
            "/State",
            "/%73tate",
            "/entries%00",
            "/phone.js%00.html",
            "/entries;x=1",
            f"http://evil.example:{server.port}/state",
            f"http://{server.address}/state",
            "*",
            "/" + "a" * 9000,
            f"/{rng.getrandbits(64):x}",
        ]
    )
    method = rng.choice(["GET", "POST"])
    return request(method, path, server.headers(), ENTRY if method == "POST" else b"")


def wrong_body(server: Server, rng: random.Random) -> bytes:
    """The right token, and what is no message."""
    path = rng.choice(["/entries", "/site", "/eyepiece", "/controller"])
    kind = rng.randrange(8)
    if kind == 0:
        return request("POST", path, server.headers(), length=rng.choice([65_537, 10**9, 10**30]))
    if kind == 1:
        return request("POST", path, server.headers(), b" " * 65_537 + ENTRY)
    if kind == 2:
        part = b"10000\r\n" + b" " * 65_536 + b"\r\n"
        head = request("POST", path, server.headers(Transfer_Encoding="chunked"))
        return head + part * 2 + b"0\r\n\r\n"
    if kind == 3:
        media = rng.choice(["text/plain", "application/json; charset=utf-16", "", "multipart/x"])
        return request("POST", path, server.headers(Content_Type=media), ENTRY)
    wrong = [
        b"\xff" * 100,
        b"[" * 60_000,
        b'{"entries": ' + b"[" * 20_000,
        rng.randbytes(500),
        b'{"latitude": 1, "longitude": null}',
        b'{"turn_deg": NaN, "mirrored": true}',
        b'{"entries": [{"kind": "tap", "x": 1e400}]}',
        b'{"__proto__": {}}',
        ENTRY.replace(b"Acrux", b"x" * 61),
        ENTRY.replace(b"}]", b', "path": "/etc/passwd"}]'),
        ENTRY.replace(b"a0000000000000ff", b"../../../etc/pas"),
        ENTRY[:-1],
        ENTRY + ENTRY,
    ]
    return request("POST", path, server.headers(), rng.choice(wrong))


def no_http(server: Server, rng: random.Random) -> bytes:
    """What is no request, or never ends."""
    good = request("GET", "/state", server.headers())
    return rng.choice(
        [
            rng.randbytes(rng.randrange(1, 2000)),
            b"\x16\x03\x01\x02\x00\x01\x00\x01\xfc\x03\x03" + rng.randbytes(500),
            b"PRI * HTTP/2.0\r\n\r\nSM\r\n\r\n",
            b"GET /state\r\n\r\n",
            b"GET /state HTTP/9.9\r\n\r\n",
            b"\r\n" * 500,
            b"GET / HTTP/1.1\r\n" + b"X: " + b"a" * 100_000 + b"\r\n\r\n",
            b"GET / HTTP/1.1\r\n" + b"X: a\r\n" * 20_000 + b"\r\n",
            good[: rng.randrange(1, len(good) - 2)],
            good.replace(b"\r\n", b"\r\nContent-Length: -1\r\n", 1),
            good.replace(b"\r\n", b"\r\nContent-Length: 5\r\nContent-Length: 6\r\n", 1),
            good.replace(b"\r\n", b"\r\nContent-Length: abc\r\n", 1),
            good.replace(b"\r\n", b"\r\nX\x00: 1\r\n", 1),
            good.replace(b"HTTP/1.1", b"HTTP/1.1 x", 1),
            request("POST", "/entries", server.headers(), ENTRY, length=len(ENTRY) + 50),
            request("GET", "/state", server.headers(Upgrade="websocket", Connection="Upgrade",
                                                    Authorization=None)),
        ]
    )  # fmt: skip


KINDS: dict[str, Kind] = {
    "wrong token": wrong_token,
    "wrong host": wrong_host,
    "wrong origin": wrong_origin,
    "another origin's page": another_pages,
    "wrong method": wrong_method,
    "wrong path": wrong_path,
    "wrong body": wrong_body,
    "no HTTP": no_http,
}


def answer_to(server: Server, sent: bytes, source: str = "", patience_s: float = 2.0) -> str:
    """The status of the answer to some bytes; "closed" where there is none before patience ends."""
    with socket.socket(socket.AF_INET, socket.SOCK_STREAM) as talk:
        talk.settimeout(patience_s)
        if source:
            talk.bind((source, 0))
        try:
            talk.connect((server.host, server.port))
            talk.sendall(sent)
            head = talk.recv(4096)
        except (TimeoutError, ConnectionError, BrokenPipeError):
            return "closed"
    found = re.match(rb"HTTP/1\.[01] (\d{3}) ", head)
    return found[1].decode() if found else ("closed" if not head else repr(head[:40]))


def own_address(number: int) -> str:
    """An address of this computer that nobody else uses."""
    return f"127.{1 + number // 62_500 % 250}.{number // 250 % 250}.{2 + number % 250}"


def hostile(server: Server, count: int, seed: int = 1, threads: int = 4) -> dict[str, Counter[str]]:
    """What hostile requests of every kind in turn are answered, by kind."""
    names = list(KINDS)

    def one(number: int) -> tuple[str, str]:
        name = names[number % len(names)]
        sent = KINDS[name](server, random.Random(f"{seed} {number}"))
        return name, answer_to(server, sent, own_address(number))

    counts: dict[str, Counter[str]] = {name: Counter() for name in names}
    with ThreadPoolExecutor(threads) as pool:
        for name, status in pool.map(one, range(count)):
            counts[name][status] += 1
    return counts


def slow_ones(server: Server, count: int) -> Counter[str]:
    """What becomes of heads and bodies that come a byte a second; all at once, from one address."""

    def one(number: int) -> str:
        whole = request("POST", "/entries", server.headers(), ENTRY)
        begun = len(whole) - len(ENTRY) if number % 2 else 0
        with socket.create_connection((server.host, server.port), timeout=30.0) as talk:
            try:
                talk.sendall(whole[:begun])
                for at in range(begun, min(begun + 25, len(whole) - 1)):
                    talk.sendall(whole[at : at + 1])
                    time.sleep(1.0)
                head = talk.recv(100)
            except OSError:
                return "closed"
        return head[9:12].decode() if head else "closed"

    with ThreadPoolExecutor(count) as pool:
        return Counter(pool.map(one, range(count)))


def is_alive(server: Server) -> bool:
    """Whether the page itself is still answered."""
    state = request("GET", "/state", server.headers())
    return answer_to(server, state, patience_s=20.0) == "200"


def heeding_ctrl_c(*args: str) -> list[str]:
    """The command `pointmodel`; it heeds Ctrl-C even where it is started by what does not."""
    program = (
        "import signal, sys\nsignal.signal(signal.SIGINT, signal.default_int_handler)\n"
        f"sys.argv = ['pointmodel', *{args!r}]\nfrom pointmodel.cli import main\nmain()"
    )
    return [sys.executable, "-c", program]


def recording(folder: Path) -> Iterator[Server]:
    """A recording with a page, in a process of its own."""
    (folder / "mount.toml").write_text(MOUNT)
    command = heeding_ctrl_c("record", "night.csv", "--phone")
    with subprocess.Popen(
        command, cwd=folder, stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, text=True
    ) as process:
        assert process.stdout is not None
        for line in process.stdout:
            if line.startswith("http://"):
                yield Server.of_link(line.strip())
                break
        process.send_signal(signal.SIGINT)
        rest = process.stdout.read()
        print(rest.splitlines()[-1] if rest else "")


def main() -> None:
    """Send them all, and say what came of it."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--count", type=int, default=10_000)
    parser.add_argument("--slow", type=int, default=30)
    count, slow = (told := parser.parse_args()).count, told.slow
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        for server in recording(folder):
            kept = request("POST", "/entries", server.headers(), ENTRY)
            assert answer_to(server, kept, patience_s=30.0) == "200"
            before = (folder / "night.csv").read_bytes()
            start = time.monotonic()
            counts = hostile(server, count)
            for kind, found in counts.items():
                print(f"{kind:24} {dict(sorted(found.items()))}")
            print(f"{'slow heads and bodies':24} {dict(slow_ones(server, slow))}")
            print(f"{count} in {time.monotonic() - start:.0f} s")
            print("the page is still answered:", is_alive(server))
            print("the log is as it was:", (folder / "night.csv").read_bytes() == before)
            print("files:", sorted(os.listdir(folder)))


if __name__ == "__main__":
    main()
