"""Free text in the cells of a log, so that no spreadsheet runs it as a formula.

Of a cell that begins with one of a few marks a spreadsheet makes a formula, whoever wrote it
(OWASP, "CSV Injection"). An apostrophe before the mark keeps it a text; reading takes it off again.
So does one behind a comma, semicolon or tab inside a cell: a spreadsheet that parts cells by
another separator than the log's would begin a cell of its own there (on the same page).
"""

from __future__ import annotations

import re

FREE_TEXT = ("target", "note")  # columns of words; figures and times keep their signs
# OWASP's list: tab and carriage return too, and the wide forms that Japanese keyboards have
_RUN = "=+@\t\r\n＝＋－＠-"
_KEPT_A_TEXT = "'"
# where a cell begins, or could, and a mark comes next, behind such apostrophes as keep it a text
_BEGINS = re.compile(rf"(^|[,;\t][ \t]*)(?={_KEPT_A_TEXT}*[{_RUN}])")
_KEPT = re.compile(rf"(^|[,;\t][ \t]*){_KEPT_A_TEXT}(?={_KEPT_A_TEXT}*[{_RUN}])")


def safe_cell(name: str, text: str) -> str:
    """A column's cell as it is written: with an apostrophe where a spreadsheet would run it."""
    return _BEGINS.sub(rf"\1{_KEPT_A_TEXT}", text) if name in FREE_TEXT else text


def plain_cell(name: str, cell: str) -> str:
    """The text that a cell stands for: as it was before `safe_cell`."""
    return _KEPT.sub(r"\1", cell) if name in FREE_TEXT else cell
