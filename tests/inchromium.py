"""Chromium for the tests of pages: where it is, and what is asked of every page in it.

Whoever imports this is skipped where Chromium or the extra `browser` is missing.
"""

from __future__ import annotations

import base64
import os
import shutil
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from io import BytesIO
from typing import Any

import numpy as np
import pytest
from phonelaptop import PHONE as PHONE

SYNC = pytest.importorskip("playwright.sync_api", reason="playwright is not installed")
AXE = pytest.importorskip("axe_playwright_python.sync_playwright", reason="axe is not installed")
CHROMIUM = os.environ.get("CHROMIUM") or next(
    (found for name in ("chromium", "chromium-browser", "google-chrome")
     if (found := shutil.which(name))), None
)  # fmt: skip
IN_CHROMIUM = [
    pytest.mark.browser,
    pytest.mark.skipif(CHROMIUM is None, reason="no Chromium on this machine"),
]


@contextmanager
def launched() -> Iterator[Any]:
    """A browser without a window."""
    with SYNC.sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox"])
        yield browser
        browser.close()


def complaints_of_axe(page: Any) -> list[tuple[str, str, list[Any]]]:
    """What axe-core 4.x finds against WCAG 2, of what a machine can see."""
    found = AXE.Axe().run(page)
    return [
        (one["id"], one["impact"], [node["target"] for node in one["nodes"]][:3])
        for one in found.response["violations"]
    ]


def lights(png: bytes) -> tuple[int, int]:
    """The brightest green and the brightest blue of a picture, 0 to 255."""
    from PIL import Image

    drawn = np.asarray(Image.open(BytesIO(png)).convert("RGB"))
    return int(drawn[..., 1].max()), int(drawn[..., 2].max())


def frames_while(page: Any, load: Callable[[], Any], wait_ms: int) -> list[bytes]:
    """Every frame that is painted while a page is loaded and a while on, six times slower."""
    devtools = page.context.new_cdp_session(page)
    frames: list[bytes] = []

    def keep(frame: dict[str, Any]) -> None:
        frames.append(base64.b64decode(frame["data"]))
        devtools.send("Page.screencastFrameAck", {"sessionId": frame["sessionId"]})

    devtools.on("Page.screencastFrame", keep)
    devtools.send("Emulation.setCPUThrottlingRate", {"rate": 6})
    devtools.send("Page.startScreencast", {"format": "png", "everyNthFrame": 1})
    load()
    page.wait_for_timeout(wait_ms)
    devtools.send("Page.stopScreencast")
    devtools.send("Emulation.setCPUThrottlingRate", {"rate": 1})
    return frames
