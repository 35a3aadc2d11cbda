"""Who may speak to the door, and how: token, host, origin, methods, paths, bodies, rates, headers.

Read `door.py` first. Whatever is not one of the page's own requests is answered 403, 404, 405, 413
or 429, without a word. The rules follow OWASP's cheat sheets: Cross-Site Request Forgery Prevention
(a token in a header that no form can send, Origin and Sec-Fetch-Site verified), Content Security
Policy and HTTP Headers (nothing but the page's own files, never in a frame, never stored), REST
Security (methods, content type and size of a body); and the Web Security Testing Guide's test for
Host header injection (one exact Host).
"""

from __future__ import annotations

import asyncio
import secrets
import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

import msgspec
from starlette.concurrency import run_in_threadpool
from starlette.requests import ClientDisconnect, Request
from starlette.responses import Response
from starlette.types import Receive, Scope, Send

from pointmodel.base.trace import trace
from pointmodel.phone.door import PhoneDoor
from pointmodel.phone.messages import LONGEST_BODY, NoMessageError
from pointmodel.phone.page import page_files
from pointmodel.phone.rates import Rate

TOKEN_BYTES = 32  # 256 bits
BODY_WITHIN_S = 10.0
JSON, SAME_ORIGIN = "application/json", "same-origin"
HEADERS = {
    "Content-Security-Policy": (
        "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; "
        "connect-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
    ),
    "Cache-Control": "no-store",
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "no-referrer",
    "X-Frame-Options": "DENY",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "geolocation=(self), camera=(), microphone=()",
}


class TurnedAwayError(Exception):
    """A request that is not answered; `status` says as much as is said."""

    def __init__(self, status: int) -> None:
        """Say no more than the status."""
        super().__init__(str(status))
        self.status = status


def new_token() -> str:
    """A token that nobody guesses."""
    return secrets.token_urlsafe(TOKEN_BYTES)


@dataclass(frozen=True)
class Address:
    """Where the page is served: an address of this computer and a port."""

    host: str
    port: int

    @property
    def hosts(self) -> tuple[str, ...]:
        """What a browser may call it."""
        names = (self.host, "localhost") if self.host == "127.0.0.1" else (self.host,)
        return tuple(f"{name}:{self.port}" for name in names)

    @property
    def url(self) -> str:
        """The page's address, without a token."""
        return f"http://{self.host}:{self.port}/"


class PhoneServer:
    """The application: answers the page's requests through a door, turns all others away."""

    def __init__(
        self,
        door: PhoneDoor,
        token: str,
        address: Address,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        """`clock` gives seconds, for the rates."""
        self._door, self._token, self._hosts = door, token.encode(), address.hosts
        self._strangers = Rate(burst=20, per_s=1, clock=clock)
        self._readers = Rate(burst=300, per_s=30, clock=clock)  # a load of the page is 13 files
        self._page = Rate(burst=60, per_s=20, clock=clock)
        self._posts: Mapping[str, Callable[[bytes], Any]] = {
            "/entries": door.entries,
            "/eyepiece": door.eyepiece,
            "/site": door.site,
            "/controller": door.controller,
        }
        self._files = page_files()

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request; a connection of any other kind is not answered."""
        if scope["type"] != "http":
            return
        request = Request(scope, receive)
        try:
            response = await self._answer(request)
        except TurnedAwayError as error:
            response = self._turned_away(request, error)
        except ClientDisconnect:
            trace()
            return
        except Exception:  # this program's mistake must not show where it lives
            trace()
            response = Response(status_code=500)
        response.headers.update(HEADERS)
        await response(scope, receive, send)

    async def _answer(self, request: Request) -> Response:
        """The answer to a request. Raises TurnedAwayError."""
        self._check_host(request)
        path = request.scope["path"]
        if request.scope.get("raw_path", path.encode()) != path.encode():
            raise TurnedAwayError(404)  # a path in disguise
        if path in self._files:
            return self._page_file(request, path)
        method = {"/state": "GET"}.get(path, "POST" if path in self._posts else "")
        if not method:
            raise TurnedAwayError(404)
        _check_method(request, method)
        self._check_origin(request)
        self._check_token(request)
        if method == "GET":
            return await self._state(request)
        return _json(await self._posted(request, self._posts[path]))

    def _page_file(self, request: Request, path: str) -> Response:
        """One of the page's own files: the same for everybody."""
        _check_method(request, "GET")
        told = [request.headers.get(f"sec-fetch-{name}") for name in ("mode", "dest")]
        is_visit = path == "/" and told == ["navigate", "document"]
        if not is_visit and _fetched_from(request) not in (SAME_ORIGIN, "none", None):
            raise TurnedAwayError(403)
        if not self._readers.allows(_who(request)):
            raise TurnedAwayError(429)
        file = self._files[path]
        return Response(file.body, media_type=file.media_type)

    async def _state(self, request: Request) -> Response:
        state = await run_in_threadpool(self._door.state, request.query_params.get("since", ""))
        return Response(status_code=204) if state is None else _json(state)

    async def _posted(self, request: Request, door: Callable[[bytes], Any]) -> Any:
        """What the door answers to a body. Raises TurnedAwayError."""
        if request.headers.getlist("content-type") != [JSON]:
            raise TurnedAwayError(403)
        body = await _body(request)
        try:
            return await run_in_threadpool(door, body)
        except NoMessageError:
            raise TurnedAwayError(403) from None

    def _check_host(self, request: Request) -> None:
        """One Host header, this address's own: a name that was made to point here is none."""
        hosts = request.headers.getlist("host")
        if len(hosts) != 1 or hosts[0] not in self._hosts:
            raise TurnedAwayError(403)

    def _check_origin(self, request: Request) -> None:
        """Only the page itself asks; what changes something must say that it is the page."""
        origins = request.headers.getlist("origin")
        wanted = f"http://{request.headers['host']}"
        if origins != [wanted] and (origins or request.method != "GET"):
            raise TurnedAwayError(403)
        if _fetched_from(request) not in (SAME_ORIGIN, None):
            raise TurnedAwayError(403)

    def _check_token(self, request: Request) -> None:
        told = request.headers.getlist("authorization")
        scheme, _, token = (told[0] if len(told) == 1 else "").partition(" ")
        right = secrets.compare_digest(token.encode("utf-8"), self._token)
        if not right or scheme != "Bearer":
            raise TurnedAwayError(403)
        request.state.is_page = True
        if not self._page.allows(""):
            raise TurnedAwayError(429)

    def _turned_away(self, request: Request, error: TurnedAwayError) -> Response:
        """The empty answer; who is turned away again and again is told to go slower."""
        known = getattr(request.state, "is_page", False)
        status = error.status
        if not known and not self._strangers.allows(_who(request)):
            status = 429
        return Response(status_code=status, headers={"Connection": "close"})


def _check_method(request: Request, method: str) -> None:
    if request.method != method:
        raise TurnedAwayError(405)


def _fetched_from(request: Request) -> str | None:
    """What a browser says of where a request comes from; None where it says nothing."""
    told = request.headers.getlist("sec-fetch-site")
    return ",".join(told) if told else None


def _who(request: Request) -> str:
    return request.client.host if request.client else ""


async def _body(request: Request) -> bytes:
    """The body, within its bounds of size and time. Raises TurnedAwayError."""
    told = request.headers.get("content-length", "0")
    if not (told.isascii() and told.isdecimal() and len(told) < 10) or int(told) > LONGEST_BODY:
        raise TurnedAwayError(413)
    body = bytearray()
    try:
        async with asyncio.timeout(BODY_WITHIN_S):
            async for part in request.stream():
                body += part
                if len(body) > LONGEST_BODY:
                    raise TurnedAwayError(413)
    except TimeoutError:
        raise TurnedAwayError(403) from None
    return bytes(body)


def _json(document: Any) -> Response:
    return Response(msgspec.json.encode(document), media_type=JSON)
