"""Spreadsheet files made by hand, part by part: sound ones, and such as nobody should be sent.

The parts are those of ECMA-376 (5th edition), part 1, sections 12.3 and 18 for .xlsx, and of
OpenDocument 1.3, parts 2 and 3, for .ods.
"""

from __future__ import annotations

import io
import zipfile
from collections.abc import Mapping

FIGURES = "commanded_az,commanded_alt,centred_az,centred_alt"
_TYPES = '<Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types"/>'
_RELATIONS = "http://schemas.openxmlformats.org/package/2006/relationships"
_OFFICE = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
_MAIN = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
_OASIS = "urn:oasis:names:tc:opendocument:xmlns:"


def zipped(parts: Mapping[str, str | bytes], method: int = zipfile.ZIP_DEFLATED) -> bytes:
    """A ZIP archive of these parts."""
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", method) as archive:
        for name, content in parts.items():
            archive.writestr(name, content)
    return stream.getvalue()


def xlsx_parts(rows: str, styles: str = "", strings: str = "", book: str = "") -> dict[str, str]:
    """The parts of an .xlsx file whose one sheet holds these `<row>` elements."""
    relation = '<Relationship Id="{}" Type="{}/{}" Target="{}"/>'
    parts = {
        "[Content_Types].xml": _TYPES,
        "_rels/.rels": f'<Relationships xmlns="{_RELATIONS}">'
        + relation.format("r1", _OFFICE, "officeDocument", "xl/workbook.xml")
        + "</Relationships>",
        "xl/workbook.xml": f'<workbook xmlns="{_MAIN}" xmlns:r="{_OFFICE}">{book}'
        '<sheets><sheet name="night" sheetId="1" r:id="r1"/></sheets></workbook>',
        "xl/_rels/workbook.xml.rels": f'<Relationships xmlns="{_RELATIONS}">'
        + relation.format("r1", _OFFICE, "worksheet", "worksheets/sheet1.xml")
        + relation.format("r2", _OFFICE, "styles", "styles.xml")
        + relation.format("r3", _OFFICE, "sharedStrings", "sharedStrings.xml")
        + "</Relationships>",
        "xl/worksheets/sheet1.xml": f'<worksheet xmlns="{_MAIN}"><sheetData>{rows}</sheetData>'
        "</worksheet>",
        "xl/styles.xml": f'<styleSheet xmlns="{_MAIN}">{styles}</styleSheet>',
        "xl/sharedStrings.xml": f'<sst xmlns="{_MAIN}">{strings}</sst>',
    }
    return parts


def xlsx(rows: str, **parts: str) -> bytes:
    """An .xlsx file whose one sheet holds these `<row>` elements."""
    return zipped(xlsx_parts(rows, **parts))


def text_row(line: int, *cells: str) -> str:
    """A `<row>` of texts."""
    held = "".join(f'<c t="inlineStr"><is><t>{cell}</t></is></c>' for cell in cells)
    return f'<row r="{line}">{held}</row>'


HEADER_ROW = text_row(1, *FIGURES.split(","))
PAIR_ROW = '<row r="2"><c><v>10</v></c><c><v>20</v></c><c><v>11</v></c><c><v>21</v></c></row>'


def ods_content(rows: str) -> str:
    """The content part of an .ods file whose one table holds these `<table:table-row>` elements."""
    return (
        f'<office:document-content xmlns:office="{_OASIS}office:1.0" '
        f'xmlns:table="{_OASIS}table:1.0" xmlns:text="{_OASIS}text:1.0"><office:body>'
        f'<office:spreadsheet><table:table table:name="night">{rows}</table:table>'
        "</office:spreadsheet></office:body></office:document-content>"
    )


def ods(rows: str) -> bytes:
    """An .ods file whose one table holds these `<table:table-row>` elements."""
    kind = "application/vnd.oasis.opendocument.spreadsheet"
    return zipped({"mimetype": kind, "content.xml": ods_content(rows), "META-INF/manifest.xml": (
        '<manifest:manifest xmlns:manifest="urn:oasis:names:tc:opendocument:xmlns:manifest:1.0">'
        f'<manifest:file-entry manifest:full-path="/" manifest:media-type="{kind}"/>'
        '<manifest:file-entry manifest:full-path="content.xml" manifest:media-type="text/xml"/>'
        '</manifest:manifest>')})  # fmt: skip


def ods_row(*cells: str, repeated: int = 1) -> str:
    """A row of texts in an .ods file."""
    held = "".join(
        f'<table:table-cell office:value-type="string"><text:p>{cell}</text:p></table:table-cell>'
        for cell in cells
    )
    return f'<table:table-row table:number-rows-repeated="{repeated}">{held}</table:table-row>'


ODS_HEADER_ROW = ods_row(*FIGURES.split(","))
ODS_PAIR_ROW = ods_row("10", "20", "11", "21")
