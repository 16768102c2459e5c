"""Workbooks and zip files, written by hand or by libraries that the product does not use."""

from __future__ import annotations

import datetime as dt
import io
import zipfile
from collections.abc import Mapping, Sequence
from xml.sax.saxutils import escape

import openpyxl
import xlwt

Rows = Sequence[Sequence[object]]


def xlsx(sheets: Mapping[str, Rows]) -> bytes:
    """A workbook in Office Open XML."""
    book = openpyxl.Workbook()
    book.remove(book.worksheets[0])
    for title, rows in sheets.items():
        sheet = book.create_sheet(title)
        for row in rows:
            sheet.append(list(row))
    held = io.BytesIO()
    book.save(held)
    return held.getvalue()


def xls(sheets: Mapping[str, Rows]) -> bytes:
    """A workbook in the binary format before that one."""
    book = xlwt.Workbook()
    as_day = xlwt.easyxf(num_format_str="D-MMM-YY")
    for title, rows in sheets.items():
        sheet = book.add_sheet(title)
        for at, row in enumerate(rows):
            for column, value in enumerate(row):
                if value is not None:
                    styled = (as_day,) if isinstance(value, dt.date) else ()
                    sheet.write(at, column, value, *styled)
    held = io.BytesIO()
    book.save(held)
    return held.getvalue()


def ods(sheets: Mapping[str, Rows]) -> bytes:
    """A spreadsheet in OpenDocument (ISO/IEC 26300)."""
    of = "urn:oasis:names:tc:opendocument:xmlns"
    tables = "".join(
        f'<table:table table:name="{escape(title)}">'
        + "".join(f"<table:table-row>{''.join(map(_cell, row))}</table:table-row>" for row in rows)
        + "</table:table>"
        for title, rows in sheets.items()
    )
    content = (
        f'<?xml version="1.0" encoding="UTF-8"?><office:document-content xmlns:office="{of}:office'
        f':1.0" xmlns:table="{of}:table:1.0" xmlns:text="{of}:text:1.0" office:version="1.2">'
        f"<office:body><office:spreadsheet>{tables}</office:spreadsheet></office:body>"
        "</office:document-content>"
    )
    return zip_of(
        {
            "mimetype": b"application/vnd.oasis.opendocument.spreadsheet",
            "content.xml": content.encode(),
            "META-INF/manifest.xml": (
                b'<?xml version="1.0"?><manifest:manifest xmlns:manifest='
                b'"urn:oasis:names:tc:opendocument:xmlns:manifest:1.0"/>'
            ),
        }
    )


def _cell(value: object) -> str:
    if value is None or value == "":
        return "<table:table-cell/>"
    if isinstance(value, dt.date):
        return f'<table:table-cell office:value-type="date" office:date-value="{value}"/>'
    if isinstance(value, int | float):
        return f'<table:table-cell office:value-type="float" office:value="{value}"/>'
    return (
        '<table:table-cell office:value-type="string"><text:p>'
        f"{escape(str(value))}</text:p></table:table-cell>"
    )


def zip_of(members: Mapping[str, bytes]) -> bytes:
    """A zip file."""
    held = io.BytesIO()
    with zipfile.ZipFile(held, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in members.items():
            archive.writestr(name, content)
    return held.getvalue()
