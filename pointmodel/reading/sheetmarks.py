"""By what a spreadsheet is known: the first bytes of its file, and the endings of its name.

To add a format: its marks here, its reader in `sheets.py`.
"""

from __future__ import annotations

# ZIP archives (.xlsx, .ods) and the older compound files (.xls)
SHEET_MAGIC = (b"PK\x03\x04", b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1")
SHEET_ENDINGS = (".xlsx", ".xls", ".xlsm", ".ods")
