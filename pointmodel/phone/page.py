"""The page of the person at the telescope, as bytes by path: the same for everybody, no figures.

Its shell is `templates/phone.html.j2`, its colours are those of every page, its styles and scripts
stand in `static/`; read `static/phone.js` first.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from importlib.resources import files

from pointmodel.mount.events import EVENTS, logged_events
from pointmodel.showing.pages import PAPERS, environment, version

SCHEME = "red"  # the person is in the dark
MEDIA = {".js": "text/javascript", ".css": "text/css", ".svg": "image/svg+xml"}


@dataclass(frozen=True)
class PageFile:
    """One file of the page: what it is, and its bytes."""

    media_type: str
    body: bytes


def page_files() -> Mapping[str, PageFile]:
    """Return all that the page is made of, by the path that it is asked for under."""
    made = environment()
    template = made.get_template("phone.html.j2")
    shell = template.render(
        scheme=SCHEME,
        paper=PAPERS[SCHEME],
        version=version(),
        events=[EVENTS[name] for name in logged_events()],
    )
    found = {
        "/": PageFile("text/html", shell.encode()),
        "/scheme.css": PageFile("text/css", made.get_template("scheme.css").render().encode()),
        "/page.js": _file("pointmodel", "templates", "page.js"),
    }
    for one in files("pointmodel.phone").joinpath("static").iterdir():
        if one.is_file():
            found[f"/{one.name}"] = _file("pointmodel.phone", "static", one.name)
    return found


def _file(package: str, folder: str, name: str) -> PageFile:
    media_type = MEDIA[name[name.rindex(".") :]]
    return PageFile(media_type, files(package).joinpath(folder, name).read_bytes())
