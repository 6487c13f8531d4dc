"""A table as CSV text (RFC 4180): names and units in the first line, a record a line. Pure."""

import csv

from station.renditions.table import Table, Value

# A spreadsheet takes text that begins so for a formula.
_FORMULA = ("=", "+", "-", "@", "\t", "\r")


def csv_text(table: Table, *, decimal_comma: bool = False) -> str:
    """The table; an empty cell is "none". `decimal_comma` writes 1,5 and parts cells by semicolons.

    Text that a spreadsheet would run as a formula gets an apostrophe in front.
    """
    page = _Page()
    writer = csv.writer(page, delimiter=";" if decimal_comma else ",", lineterminator="\r\n")
    writer.writerow([column.header for column in table])
    for row in zip(*(column.values for column in table), strict=True):
        writer.writerow([_cell(value, decimal_comma) for value in row])
    return "".join(page.parts)


def csv_bytes(table: Table, *, decimal_comma: bool = False) -> bytes:
    """The table as a file's bytes: UTF-8, with its mark where plain ASCII would not do, so that spreadsheets notice."""
    text = csv_text(table, decimal_comma=decimal_comma)
    return text.encode("ascii" if text.isascii() else "utf-8-sig")


class _Page:
    """What the csv module writes to."""

    def __init__(self) -> None:
        self.parts: list[str] = []

    def write(self, text: str) -> None:
        self.parts.append(text)


def _cell(value: Value, decimal_comma: bool) -> str:
    if value is None:
        return ""
    if isinstance(value, str):
        return f"'{value}" if value.startswith(_FORMULA) else str(value)
    text = repr(value)
    return text.replace(".", ",") if decimal_comma else text
