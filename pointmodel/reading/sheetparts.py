"""The parts of a spreadsheet file, a ZIP archive of XML: unpacked, and walked within limits.

A small file may unpack to gigabytes, and a small text of XML to more by entities (OWASP, "XML
External Entity Prevention Cheat Sheet", billion laughs): so everything is bounded before the work
is done, by sizes that are counted and not believed. `SheetError` says what is wrong with the file.
"""

from __future__ import annotations

import zipfile
import zlib
from collections.abc import Callable
from io import BytesIO
from xml.parsers import expat

# Choices. A sheet of 10,000 lines and a dozen columns is half a megabyte, 8 MB unpacked, and has
# 500,000 tags; what these limits allow takes a second or so and 350 MB at the worst.
MOST_FILE_BYTES = 16_000_000
MOST_UNPACKED_BYTES = 32_000_000
MOST_PARTS = 2_000
MOST_SHEETS = 500
MOST_TAGS = 800_000  # tags that open or close, of all parts of a file
MOST_ATTRIBUTES = 500_000
_STORED_OR_DEFLATED = (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED)  # OpenDocument 1.3, part 2, 3.1
_PART_MARK = b"PK\x01\x02"  # each part's entry in the directory begins so


class SheetError(ValueError):
    """A spreadsheet file is not what one can be; the message says what was found.

    `line` is the row of the sheet, where there is one; `wanted` what would be right, where that is
    more than another file.
    """

    def __init__(self, found: str, line: int | None = None, wanted: str | None = None) -> None:
        """Keep what was found, where, and what is wanted."""
        super().__init__(found)
        self.line, self.wanted = line, wanted


class SheetParts:
    """The parts of one file by name; what is unpacked of all of them together is bounded."""

    def __init__(self, data: bytes) -> None:
        """Open the archive. Raises SheetError."""
        if len(data) > MOST_FILE_BYTES:
            raise SheetError(f"{len(data) // 1_000_000} MB of spreadsheet")
        if data.count(_PART_MARK) > MOST_PARTS:
            raise SheetError(f"a spreadsheet of more than {MOST_PARTS} parts")
        self._left = {"bytes": MOST_UNPACKED_BYTES, "tags": MOST_TAGS, "marks": MOST_ATTRIBUTES}
        try:
            self._archive = zipfile.ZipFile(BytesIO(data))
            self._names = frozenset(self._archive.namelist())
        except (zipfile.BadZipFile, ValueError, OverflowError, NotImplementedError, OSError):
            raise SheetError("a spreadsheet that is damaged or cut short") from None

    def __contains__(self, name: str) -> bool:
        """Whether there is a part of this name."""
        return name in self._names

    def unpacked(self, name: str) -> bytes:
        """The content of a part. Raises SheetError, before it is more than the limits allow."""
        try:
            info = self._archive.getinfo(name)
        except KeyError:
            raise SheetError(f"a spreadsheet without its part {name}") from None
        if info.flag_bits & 1:
            raise SheetError("a spreadsheet with a password")
        if info.compress_type not in _STORED_OR_DEFLATED:
            raise SheetError("a spreadsheet packed in an unusual way")
        self._spend("bytes", info.file_size)
        try:
            with self._archive.open(info) as part:
                content = part.read(info.file_size + 1)
        except (zipfile.BadZipFile, zlib.error, EOFError, ValueError, OSError, NotImplementedError):
            raise SheetError("a spreadsheet that is damaged or cut short") from None
        if len(content) != info.file_size:
            raise SheetError("a spreadsheet that unpacks to another size than it says")
        return content

    def walk(
        self,
        name: str,
        start: Callable[[str, dict[str, str]], None],
        end: Callable[[str], None],
        text: Callable[[str], None],
    ) -> None:
        """Go through the XML of a part, names without their prefixes. Raises SheetError."""
        content = self.unpacked(name)
        self._spend("tags", content.count(b"<"))
        self._spend("marks", content.count(b"="))
        parser = expat.ParserCreate()
        parser.buffer_text = True
        parser.StartElementHandler = lambda tag, marks: start(
            _bare(tag), {_bare(key): value for key, value in marks.items()}
        )
        parser.EndElementHandler = lambda tag: end(_bare(tag))
        parser.CharacterDataHandler = text
        parser.StartDoctypeDeclHandler = _refuse_doctype
        try:
            parser.Parse(content, True)
        except (expat.ExpatError, LookupError, UnicodeError) as error:
            raise SheetError(f"a spreadsheet whose part {name} is damaged ({error})") from None

    def _spend(self, what: str, amount: int) -> None:
        self._left[what] -= amount
        if self._left[what] < 0:
            wanted = "the log alone in its file, or saved as CSV"
            raise SheetError("a spreadsheet that unpacks to far more than a log", wanted=wanted)


def _bare(name: str) -> str:
    return name.rpartition(":")[2]


def _refuse_doctype(*_: object) -> None:
    raise SheetError("a spreadsheet with a document type in it, which none has")
