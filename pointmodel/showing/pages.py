"""Pages that stand alone: how their templates are filled, and how a page comes to the disk.

A page carries a marker of its maker, and only a page that carries it is ever replaced.
"""

from __future__ import annotations

import base64
import hashlib
import os
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

from pointmodel.base.cautions import CAUTIONS
from pointmodel.base.figures import clean
from pointmodel.base.ownfiles import refusal, write_whole
from pointmodel.base.trace import trace
from pointmodel.base.wording import sentence

if TYPE_CHECKING:
    from jinja2 import Environment

MARKER = b'<meta name="generator" content="pointmodel '
MARKER_WITHIN_BYTES = 1024

Scheme = Literal["auto", "day", "dark", "red"]
SCHEMES: tuple[Scheme, ...] = ("day", "dark", "red")  # what a page may be made to open in
# the colour of the paper, as in templates/scheme.css: for what the browser draws around a page
PAPERS = {"day": "#f7f5ef", "dark": "#10151c", "red": "#000000"}


def environment() -> Environment:
    """The templates' environment: every word of a user's escaped and cleaned."""
    from jinja2 import Environment, PackageLoader, StrictUndefined

    made = Environment(
        loader=PackageLoader("pointmodel"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        finalize=_cleaned,
    )
    made.globals.update(sentence=sentence, cautions=CAUTIONS)
    return made


def page_head(
    environment: Environment, title: str, sheets: tuple[str, ...], scheme: Scheme = "auto"
) -> dict[str, Any]:
    """What a page's head needs: its title, style sheets, the colours that it opens in.

    The script that remembers the colours goes with its hash, for the page's policy.
    """
    from markupsafe import Markup

    assert environment.loader is not None
    script = environment.loader.get_source(environment, "page.js")[0].strip()
    digest = base64.b64encode(hashlib.sha256(script.encode()).digest()).decode()
    papers = [("", PAPERS[scheme])] if scheme != "auto" else [
        ("(prefers-color-scheme: light)", PAPERS["day"]),
        ("(prefers-color-scheme: dark)", PAPERS["dark"]),
    ]  # fmt: skip
    return {
        "page_title": title,
        "sheets": sheets,
        "scheme": scheme,
        "papers": papers,
        "script": Markup(script),
        "script_hash": f"sha256-{digest}",
        "version": version(),
    }


def _cleaned(value: Any) -> Any:
    """Plain text without control characters; markup that was made here passes untouched."""
    if hasattr(value, "__html__") or not isinstance(value, str):
        return value
    return clean(value).replace(" %", "\u00a0%")


def version() -> str:
    """The program's version, as pages name their maker."""
    from importlib.metadata import PackageNotFoundError, version

    try:
        return version("pointmodel")
    except PackageNotFoundError:
        trace()
        return "(not installed)"


@dataclass(frozen=True)
class Subject:
    """What a page is about: only a page about the same is replaced by it.

    `kind` is what the page is called in messages, `identity` tells the log or logs from others.
    """

    kind: str
    identity: str = ""

    @property
    def mark(self) -> bytes:
        """The line of a page that says what it is about."""
        return f'<meta name="pointmodel-about" content="{self.kind} {self.identity}">\n'.encode()


def write_page(path: Path, html: str, about: Subject) -> Path:
    """Write a page to `path`, whole or not at all, and return the path; missing folders are made.

    Raises InputError where something stands there that this program did not write, or a page about
    something else, and where the system refuses.
    """
    if os.path.exists(path):
        _refuse_what_is_not_ours(path, about)
    page = html.encode("utf-8", "replace").replace(MARKER, about.mark + MARKER, 1)
    return write_whole(path, page)


def free_path(path: Path, about: Subject) -> Path:
    """The path; where a page about something else has it, the path with the first free number."""
    tried, number = path, 1
    while os.path.isfile(tried) and _is_about_something_else(tried, about):
        number += 1
        tried = path.with_name(f"{path.stem}-{number}{path.suffix}")
    return tried


def _is_about_something_else(path: Path, about: Subject) -> bool:
    try:
        start = _start_of(path)
    except OSError:
        trace()
        return False
    return MARKER in start and about.mark not in start


def _refuse_what_is_not_ours(path: Path, about: Subject) -> None:
    wanted = f"another name for the {about.kind}, or what is there moved out of the way"
    if not os.path.isfile(path):
        raise refusal(path, "something that is not a file", wanted)
    try:
        start = _start_of(path)
    except OSError as error:
        raise refusal(path, error.strerror or str(error), wanted) from error
    if MARKER not in start:
        raise refusal(path, "a file that this program did not write", wanted)
    if about.mark not in start:
        raise refusal(
            path,
            "a page about something else, such as another log, or one of an earlier version",
            wanted,
        )


def _start_of(path: Path) -> bytes:
    with path.open("rb") as page:
        return page.read(MARKER_WITHIN_BYTES)
