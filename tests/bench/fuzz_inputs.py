"""Made-up inputs: what people write, and the same with everything done to it that can go wrong.

Every input follows from one generator of random numbers, so that a number brings it back.
"""

from __future__ import annotations

import json
import random
from pathlib import Path
from typing import Any

from rawsheets import ods, ods_row, text_row, xlsx

ROOT = Path(__file__).parents[2]
LOGS = tuple(
    path.read_text(encoding="utf-8") for path in sorted((ROOT / "data").glob("*.csv"))
)  # the demonstration nights: every form of a log
MOUNTS = (
    (ROOT / "data" / "mount.toml").read_text(encoding="utf-8"),
    '[site]\nlatitude = -42.9\nlongitude = "147 20 E"\ntime_zone = "Australia/Hobart"\n'
    '[entered]\ndate = "05/17"\ndate_order = "month-day"\ntime = "21:00:00"\nutc_offset = "+10"\n'
    "[feet]\nradius = 300\nazimuths = [0, 120, 240]\n[horizon]\nprofile = [[0, 12], [90, 35]]\n",
)
FIGURES = (
    "123.75", "-0 30", "123°45'30\"", "12:30:36", "−10,5", "359.999999", "360", "90", "-90", "0",
    "5h34.5m", "12' left", "0.5 f", "41:33.0", "12°.5", "1e2", "+1", ".5", "5.", "41 18 S",
)  # fmt: skip
TIMES = (
    "2031-05-17T21:04:30+10:00", "2031-05-17 21:04", "21:04", "9:04 pm", "2031-05-17", "21:04 Z",
    "2031-02-29T00:00Z", "2031-04-06T02:30", "0001-01-01T00:00Z", "9999-12-31T23:59:59.999999Z",
    "17/05/2031", "20310517T2104", "+10:00", "UTC+9:30", "Australia/Hobart", "24:00", "21:60",
)  # fmt: skip
TARGETS = (
    "Achernar", "alpha Eri", "α1 Cen", "58 Ori", "HIP 7588", "M 42", "NGC 104", "Saturn", "the Sun",
    "05:34:31 +22:00:52", "5h34.5m, -22d01m (of date)", "123.5,45", "123°30',45°", "5;30,1;45",
    "83.63 +22.01", "5:34:31, 22", "alpha", "messier 0", "ic 99999", "Pluto", "ra 5h dec -5",
)  # fmt: skip
NASTY = (
    "", " ", "nan", "inf", "-inf", "1e400", "1e-400", "1e308", "-0", "٣٤", "１２", "\x00",
    "\x1b[2J", "\u202e", "\ud800", "é", "\U0001f52d", "9" * 400, "1" * 5000, "a" * 3000, " " * 3000,
    "\t", "=1+1", "+cmd|' /C x'!A0", "@SUM(A1)", "-2+3", '"', "'", '""', "#",
    "# [alignment] stars = [", ";", ",", "\r", "\n", "\r\n", "\x0b", "\x85", "\u2028", "\ufeff",
    "{", "}", "[", "]", "[[",
    '"""', "true", "null", "1_000", "0x10", "J2000", "sep=;", "bump+clutch", "../..", "C:\\x",
    "%s%n", "$(x)", "<script>", "&amp;", "a.b.c", "=", "()" * 500, "'" * 999, "-" * 999, ":" * 999,
    ".9" * 500,
)  # fmt: skip


def any_text(rng: random.Random) -> str:
    """A figure, a time, a target or something nasty, as it is or with a letter changed."""
    text = rng.choice(rng.choice((FIGURES, TIMES, TARGETS, NASTY)))
    return changed(rng, text, most=3) if rng.random() < 0.6 else text


def changed(rng: random.Random, text: str, most: int) -> str:
    """A text with up to so many places changed: letters and pieces put in, taken out, doubled."""
    for _ in range(rng.randint(1, most)):
        at, length = rng.randint(0, len(text)), rng.choice((1, 1, 1, 2, 5, 20))
        what = rng.randrange(6)
        if what == 0:
            text = text[:at] + rng.choice(NASTY) + text[at:]
        elif what == 1:
            text = text[:at] + text[at + length :]
        elif what == 2:
            text = text[: at + length] + text[at:]
        elif what == 3:
            text = (
                text[:at] + chr(rng.choice((rng.randrange(128), rng.randrange(0x3000)))) + text[at:]
            )
        elif what == 4:
            text = (
                text[:at] + rng.choice(rng.choice((FIGURES, TIMES, TARGETS))) + text[at + length :]
            )
        else:
            text = text.replace(rng.choice(" ,.:-0123456789") or " ", rng.choice(NASTY), 1)
    return text


def log_text(rng: random.Random) -> str:
    """A log, some of whose cells, lines or letters were changed."""
    lines = rng.choice(LOGS).split("\n")[: rng.randint(2, 14)]
    for _ in range(rng.choice((0, 0, 1, 1, 2, 4))):
        row = rng.randrange(len(lines))
        cells = lines[row].split(",")
        what = rng.randrange(5)
        if what < 3:
            cells[rng.randrange(len(cells))] = any_text(rng)
            lines[row] = ",".join(cells)
        elif what == 3:
            lines.insert(row, rng.choice(lines))
        else:
            rng.shuffle(cells)
            lines[row] = ",".join(cells)
    text = rng.choice(("\n", "\n", "\r\n", "\r")).join(lines)
    if rng.random() < 0.1:
        text = text.replace(",", rng.choice(";\t|"))
    return changed(rng, text, most=5) if rng.random() < 0.35 else text


def log_bytes(rng: random.Random) -> bytes:
    """A log as a file of some encoding, at times cut short or with bytes changed."""
    encoding = rng.choice(("utf-8", "utf-8", "utf-8", "utf-8-sig", "utf-16", "cp1252", "utf-32"))
    return bytes_changed(rng, log_text(rng).encode(encoding, "replace"), share=0.15)


def bytes_changed(rng: random.Random, data: bytes, share: float) -> bytes:
    """The bytes as they are; in this share of cases cut short, or some of them changed."""
    if rng.random() >= share or not data:
        return data
    if rng.random() < 0.3:
        return data[: rng.randrange(len(data))]
    held = bytearray(data)
    for _ in range(rng.randint(1, 8)):
        held[rng.randrange(len(held))] = rng.randrange(256)
    return bytes(held)


def sheet_bytes(rng: random.Random) -> bytes:
    """An .xlsx or .ods file, made by hand from parts with something changed in them."""
    rows = [line.split(",") for line in rng.choice(LOGS).split("\n")[: rng.randint(2, 9)]]
    if rng.random() < 0.5:
        row = rng.choice(rows)
        row[rng.randrange(len(row))] = any_text(rng)
    open_document = rng.random() < 0.5
    if open_document:
        parts = [ods_row(*map(_xml, row), repeated=rng.choice((1, 1, 1, 2, 9))) for row in rows]
    else:
        parts = [text_row(number, *map(_xml, row)) for number, row in enumerate(rows, start=1)]
    parts += [rng.choice(_ODD_PARTS) for _ in range(rng.randint(0, 2))]
    rng.shuffle(parts) if rng.random() < 0.1 else None
    body = "".join(parts)
    body = changed(rng, body, most=4) if rng.random() < 0.5 else body
    body = body.encode("utf-8", "replace").decode()
    return bytes_changed(rng, ods(body) if open_document else xlsx(body), share=0.4)


_ODD_PARTS = (
    '<row r="1048576"><c r="XFD1048576"><v>1</v></c></row>', '<row r="9999999999"/>', "<row/>",
    '<row r="3"><c r="ZZZZ9"><v>1</v></c></row>', '<row r="4"><c t="s"><v>7</v></c></row>',
    '<row r="5"><c s="99"><v>1e999</v></c><c t="b"><v>1</v></c><c t="e"><v>#REF!</v></c></row>',
    '<row r="6"><c r="A6" t="inlineStr"><is><r><t>1</t></r></is></c><c><v>nan</v></c></row>',
    '<table:table-row table:number-rows-repeated="1048570"><table:table-cell/></table:table-row>',
    '<table:table-row><table:table-cell table:number-columns-repeated="16383"/></table:table-row>',
    '<table:table-row table:number-rows-repeated="-1"/>', "<table:table/>", "</table:table-row>",
    '<table:table-row><table:table-cell office:value-type="time" office:time-value="PT9H"/>'
    '<table:table-cell office:value-type="float" office:value="x"/></table:table-row>',
    '<table:table-row><table:table-cell office:value-type="string"><text:p><text:s '
    'text:c="999999999"/></text:p></table:table-cell></table:table-row>',
)  # fmt: skip


def _xml(text: str) -> str:
    return text.replace("&", "&amp;").replace("<", "&lt;")


def mount_text(rng: random.Random) -> str:
    """A mount file with values and letters changed."""
    lines = rng.choice(MOUNTS).split("\n")
    for _ in range(rng.randint(0, 4)):
        row = rng.randrange(len(lines))
        key, equals, _value = lines[row].partition("=")
        if equals:
            lines[row] = f"{key.lstrip('# ')}= {toml_value(rng)}"
    text = "\n".join(lines)
    return changed(rng, text, most=5) if rng.random() < 0.5 else text


def toml_value(rng: random.Random) -> str:
    """A value as TOML has it, of some type."""
    text = any_text(rng)
    return rng.choice(
        (text, json.dumps(text), f"[{text}]", f"[{json.dumps(text)}, 1]", f"{{a = {text}}}",
         str(rng.uniform(-500, 500)), str(rng.choice((0, -1, 90, 360, 10**30, 10**400))),
         "[" * rng.choice((1, 50, 2000)), "true", "2031-05-17", "inf", "-nan")
    )  # fmt: skip


def any_number(rng: random.Random) -> Any:
    """A number or something else in its place."""
    return rng.choice(
        (rng.uniform(-400, 400), rng.randint(-400, 400), 0, -0.0, 1e300, -1e300, 1e-300, 10**400,
         float("nan"), float("inf"), None, True, "12", any_text(rng), [], {}, [[1]])
    )  # fmt: skip


def tree_changed(rng: random.Random, tree: Any, most: int = 3) -> Any:
    """A copy of a JSON tree with some of its leaves and branches put wrong."""
    held = json.loads(json.dumps(tree))
    for _ in range(rng.randint(1, most)):
        node, key = _some_place(rng, held)
        what = rng.randrange(4)
        if what == 0 and isinstance(node, dict):
            node.pop(key)
        elif what == 1 and isinstance(node, list):
            node.insert(rng.randrange(len(node) + 1), any_number(rng))
        elif what == 2 and isinstance(node, list):
            del node[rng.randrange(len(node)) :]
        else:
            node[key] = any_number(rng)
        if not held:
            break
    return held


def _some_place(rng: random.Random, held: Any) -> tuple[Any, Any]:
    """A branch of a tree and a key of it, somewhere on the way down."""
    node = held
    while True:
        keys = list(node) if isinstance(node, dict) else list(range(len(node)))
        key = rng.choice(keys)
        deeper = isinstance(node[key], (dict, list)) and node[key]
        if not deeper or rng.random() < 0.15:
            return node, key
        node = node[key]
