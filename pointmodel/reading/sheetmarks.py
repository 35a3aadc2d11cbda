"""By what a spreadsheet is known: the first bytes of its file, and the endings of its name.

To add a format: its marks here, its reader in `sheets.py`.
"""

from __future__ import annotations

# The older compound files: .xls, and what was saved with a password. They are told, not read.
OLD_SHEET_MAGIC = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"
SHEET_MAGIC = (b"PK\x03\x04", OLD_SHEET_MAGIC)  # ZIP archives: .xlsx, .ods
SHEET_ENDINGS = (".xlsx", ".xls", ".xlsm", ".ods")
