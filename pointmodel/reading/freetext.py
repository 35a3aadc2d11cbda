"""Free text in the cells of a log, so that no spreadsheet runs it as a formula.

Of a cell that begins with one of a few marks a spreadsheet makes a formula, whoever wrote it
(OWASP, "CSV Injection"). An apostrophe before the mark keeps it a text; reading takes it off again.
"""

from __future__ import annotations

FREE_TEXT = ("target", "note")  # columns of words; figures and times keep their signs
# OWASP's list: tab and carriage return too, and the wide forms that Japanese keyboards have
_RUN = tuple("=+-@\t\r\n＝＋－＠")
_KEPT_A_TEXT = "'"


def safe_cell(name: str, text: str) -> str:
    """A column's cell as it is written: with an apostrophe where a spreadsheet would run it."""
    return f"{_KEPT_A_TEXT}{text}" if name in FREE_TEXT and _is_run(text) else text


def plain_cell(name: str, cell: str) -> str:
    """The text that a cell stands for: as it was before `safe_cell`."""
    safe = name in FREE_TEXT and cell.startswith(_KEPT_A_TEXT) and _is_run(cell)
    return cell.removeprefix(_KEPT_A_TEXT) if safe else cell


def _is_run(text: str) -> bool:
    """Whether a mark stands first, behind such apostrophes as keep it a text already."""
    return text.lstrip(_KEPT_A_TEXT).startswith(_RUN)
