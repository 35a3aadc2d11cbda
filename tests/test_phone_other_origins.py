"""What a page of another origin can do to a recording, in a real Chromium: nothing.

OWASP Cheat Sheet Series: Cross-Site Request Forgery Prevention, Clickjacking Defense; Web Security
Testing Guide 4.2, 07-17 (Host header injection: a name that is made to point to this computer).
"""

from __future__ import annotations

import threading
from collections.abc import Iterator
from functools import partial
from http.server import SimpleHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from typing import Any

import pytest
from inchromium import CHROMIUM, IN_CHROMIUM, SYNC
from phonelaptop import LaptopHere, mount_toml

pytest.importorskip("uvicorn", reason="the extra phone is not installed")
pytestmark = IN_CHROMIUM
TRIES = """
async ([base, token]) => {
  const entry = {id: "a0000000000000ee", kind: "event", event: "bump", age_s: 0};
  const body = JSON.stringify({entries: [entry]});
  const tries = {
    simple: () => fetch(base + "entries", {method: "POST", body}),
    opaque: () => fetch(base + "entries", {method: "POST", body, mode: "no-cors"}),
    json: () => fetch(base + "entries",
      {method: "POST", body, headers: {"Content-Type": "application/json"}}),
    token: () => fetch(base + "entries", {method: "POST", body,
      headers: {"Content-Type": "application/json", "Authorization": "Bearer " + token}}),
    state: () => fetch(base + "state", {headers: {"Authorization": "Bearer " + token}}),
    page: () => fetch(base),
    beacon: async () => navigator.sendBeacon(base + "entries", body) && Promise.reject("no answer"),
    image: () => new Promise((good, bad) => {
      const image = new Image(); image.onload = good; image.onerror = bad;
      image.src = base + "icon.svg";
    }),
    script: () => new Promise((good, bad) => {
      const script = document.createElement("script");
      script.onload = good; script.onerror = bad;
      script.src = base + "phone.js"; document.head.append(script);
    }),
  };
  const read = {};
  for (const [name, attempt] of Object.entries(tries)) {
    try { const got = await attempt(); read[name] = got.type; }
    catch (refused) { read[name] = "refused"; }
  }
  return read;
}
"""


@pytest.fixture
def laptop(tmp_path: Path) -> Iterator[LaptopHere]:
    (tmp_path / "mount.toml").write_text(mount_toml())
    made = LaptopHere(tmp_path)
    made.start()
    yield made
    made.stop()


class Quiet(SimpleHTTPRequestHandler):
    def log_message(self, *_: Any) -> None:
        """Say nothing."""


@pytest.fixture
def evil(tmp_path: Path, laptop: LaptopHere) -> Iterator[str]:
    """The address of a page on another port, which holds the phone's in a frame."""
    folder = tmp_path / "evil"
    folder.mkdir()
    form = (
        f'<form id="form" action="{laptop.address}entries" method="post" enctype="text/plain" '
        'target="result"><input name=\'{"entries": [{"id": "a0000000000000ff", "kind": "event", '
        '"event": "bump", "age_s": 0}], "x": "\' value=\'"}\'></form>'
    )
    (folder / "index.html").write_text(
        f'<!doctype html><title>evil</title><iframe name="frame" src="{laptop.address}"></iframe>'
        f'<iframe name="result"></iframe>{form}'
    )
    server = ThreadingHTTPServer(("127.0.0.1", 0), partial(Quiet, directory=str(folder)))
    threading.Thread(target=server.serve_forever, daemon=True).start()
    yield f"http://127.0.0.1:{server.server_port}/"
    server.shutdown()
    server.server_close()


@pytest.fixture
def chromium() -> Iterator[Any]:
    with SYNC.sync_playwright() as driver:
        browser = driver.chromium.launch(
            executable_path=CHROMIUM,
            args=["--no-sandbox", "--host-resolver-rules=MAP evil.example 127.0.0.1"],
        )
        yield browser
        browser.close()


def test_another_page_reads_nothing_writes_nothing_and_frames_nothing(
    chromium: Any, laptop: LaptopHere, evil: str
) -> None:
    before = laptop.log.read_bytes()
    base, _, token = laptop.link.partition("#")
    page = chromium.new_page()
    page.goto(evil)
    read = page.evaluate(TRIES, [base, token])
    assert set(read.values()) == {"refused"}, read
    page.evaluate("document.getElementById('form').submit()")
    page.wait_for_timeout(500)
    framed = page.frame(name="frame")
    assert framed is None or framed.url.startswith("chrome-error:")
    assert laptop.log.read_bytes() == before
    assert laptop.told == []


def test_a_name_that_is_made_to_point_to_this_computer_opens_nothing(
    chromium: Any, laptop: LaptopHere
) -> None:
    token = laptop.link.partition("#")[2]
    page = chromium.new_page()
    with pytest.raises(SYNC.Error, match="ERR_HTTP_RESPONSE_CODE_FAILURE"):
        page.goto(f"http://evil.example:{laptop.port}/#{token}")
    assert "evil.example" not in page.url


def test_a_link_from_another_page_leads_to_the_page(
    chromium: Any, laptop: LaptopHere, evil: str
) -> None:
    page = chromium.new_page()
    page.goto(evil)
    page.evaluate("(link) => { location.href = link; }", laptop.link)
    page.wait_for_selector("#buttons")
    assert page.title() != "evil"
