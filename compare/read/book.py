"""An .xlsx file as it is:

typed cells of the used range, and single cells set with all else left byte for byte.

Read straight from its XML: only cells that hold something cost anything, and a cell keeps the type
that it has there.
"""

from __future__ import annotations

import datetime
import io
import re
import zipfile
from collections.abc import Mapping
from dataclasses import dataclass
from html import escape
from typing import Any
from xml.parsers import expat

__all__ = ["Book", "BookError", "Cell", "Fault", "Formula", "cell_name"]

MOST_BYTES = 400_000_000


class BookError(Exception):
    """Why a workbook cannot be read, and what to do about it."""

    def __init__(self, found: str, fix: str = "Save it again as .xlsx or as CSV.") -> None:
        super().__init__(found)
        self.found, self.fix = found, fix


@dataclass(frozen=True)
class Formula:
    """A formula for which the file holds no value."""

    text: str


@dataclass(frozen=True)
class Fault:
    """What a spreadsheet program shows for a sum that cannot be done, such as #N/A."""

    text: str


# What a cell of a file may hold; a CSV file holds texts only.
Cell = str | float | datetime.datetime | datetime.time | Formula | Fault | None


def cell_name(row: int, column: int) -> str:
    """The name of a cell, both counted from 1.

    >>> cell_name(3, 1), cell_name(1, 28), cell_name(1048576, 16384)
    ('A3', 'AB1', 'XFD1048576')
    """
    letters = ""
    while column:
        column, rest = divmod(column - 1, 26)
        letters = chr(65 + rest) + letters
    return f"{letters}{row}"


def _column_of(name: str) -> int:
    number = 0
    for char in name:
        if not char.isalpha():
            break
        number = number * 26 + ord(char.upper()) - 64
    return number


def _local(tag: str) -> str:
    return tag.rsplit(":", 1)[-1]


def _parse(data: bytes, start: Any, end: Any = None, text: Any = None, part: str = "") -> None:
    parser = expat.ParserCreate()
    parser.buffer_text = True
    parser.StartElementHandler = start
    if end:
        parser.EndElementHandler = end
    if text:
        parser.CharacterDataHandler = text

    def refuse(*_: Any) -> None:
        raise BookError("holds a document type, which no spreadsheet program writes.")

    parser.StartDoctypeDeclHandler = refuse
    try:
        parser.Parse(data, True)
    except expat.ExpatError as error:
        raise BookError(f"is damaged: its part {part} is not whole ({error}).") from None


def _unescaped(text: str) -> str:
    """`_x000D_` and its like, by which control characters stand in these files.

    >>> _unescaped("a_x000D_b_x005F_x0041_")
    'a\\rb_x0041_'
    """
    if "_x" not in text:
        return text
    return re.sub(r"_x([0-9A-Fa-f]{4})_", lambda m: chr(int(m[1], 16)), text)


def _escaped(text: str) -> str:
    text = re.sub(r"_(?=x[0-9A-Fa-f]{4}_)", "_x005F_", text)
    text = re.sub(r"[\x00-\x08\x0b-\x1f\ufffe\uffff]", lambda m: f"_x{ord(m[0]):04X}_", text)
    return escape(text, quote=False)


_EMPTY_ROW = re.compile(rb'<row r="[^<>]*/>')
_DATE_FORMATS = {*range(14, 23), *range(27, 37), *range(45, 48), *range(50, 59)}


class Book:
    """One workbook. Raises BookError where it cannot be read."""

    def __init__(self, data: bytes) -> None:
        self.data = data
        try:
            self.archive = zipfile.ZipFile(io.BytesIO(data))
            names = self.archive.namelist()
        except (zipfile.BadZipFile, OSError, ValueError, NotImplementedError):
            if data[:4] == b"PK\x03\x04":
                found = "is a workbook that is damaged: it cannot be opened."
                fix = "Have it sent again, or save it again as .xlsx or as CSV."
                raise BookError(found, fix) from None
            raise BookError("is not a workbook that can be read.") from None
        if "xl/workbook.xml" not in names and "mimetype" in names:
            raise BookError(
                "is not a workbook that can be read: it looks like an OpenDocument sheet."
            )
        self.sheets = self._sheets()
        self._strings: list[str] | None = None
        self._dates: list[bool] | None = None
        self._epoch = datetime.datetime(1899, 12, 30)

    def part(self, name: str, needed: bool = True) -> bytes:
        try:
            info = self.archive.getinfo(name)
            if info.file_size > MOST_BYTES:
                raise BookError(f"is too large: its part {name} has {info.file_size} bytes.")
            return self.archive.read(name)
        except KeyError:
            if not needed:
                return b""
            raise BookError(
                f"is not a workbook that can be read: its part {name} is missing."
            ) from None
        except (
            zipfile.BadZipFile,
            OSError,
            EOFError,
            RuntimeError,
            NotImplementedError,
            ValueError,
        ) as error:
            raise BookError(f"is damaged: its part {name} cannot be unpacked ({error}).") from None
        except Exception as error:  # zlib.error has no public base beyond Exception
            if type(error).__name__ != "error":
                raise
            raise BookError(f"is damaged: its part {name} cannot be unpacked ({error}).") from None

    def _sheets(self) -> dict[str, str]:
        """Sheet name -> the part that holds it."""
        targets: dict[str, str] = {}
        found: list[tuple[str, str]] = []

        def relation(tag: str, attributes: Mapping[str, str]) -> None:
            if _local(tag) == "Relationship":
                target = attributes.get("Target", "")
                targets[attributes.get("Id", "")] = (
                    target[1:] if target.startswith("/") else f"xl/{target}"
                )

        def sheet(tag: str, attributes: Mapping[str, str]) -> None:
            if _local(tag) == "sheet":
                by = next((v for k, v in attributes.items() if _local(k) == "id" and ":" in k), "")
                found.append((attributes.get("name", ""), by))

        _parse(self.part("xl/workbook.xml"), sheet, part="xl/workbook.xml")
        _parse(self.part("xl/_rels/workbook.xml.rels"), relation, part="xl/_rels/workbook.xml.rels")
        if not found:
            raise BookError("is a workbook without a sheet.")
        return {name: targets.get(by, "?") for name, by in found}

    def _shared(self) -> list[str]:
        if self._strings is None:
            out: list[str] = []
            state = {"in": False, "phonetic": False}
            pieces: list[str] = []

            def start(tag: str, _: Mapping[str, str]) -> None:
                local = _local(tag)
                if local == "si":
                    pieces.clear()
                state["in"] = local == "t"
                state["phonetic"] = state["phonetic"] or local == "rPh"

            def end(tag: str) -> None:
                local = _local(tag)
                if local == "si":
                    out.append(_unescaped("".join(pieces)))
                if local == "rPh":
                    state["phonetic"] = False
                state["in"] = False

            def text(data: str) -> None:
                if state["in"] and not state["phonetic"]:
                    pieces.append(data)

            data = self.part("xl/sharedStrings.xml", needed=False)
            if data:
                _parse(data, start, end, text, "xl/sharedStrings.xml")
            self._strings = out
        return self._strings

    def _date_styles(self) -> list[bool]:
        """For each style of a cell: whether it shows a number as a date."""
        if self._dates is None:
            custom: dict[str, str] = {}
            styles: list[str] = []
            inside = [False]

            def start(tag: str, attributes: Mapping[str, str]) -> None:
                local = _local(tag)
                if local == "numFmt":
                    custom[attributes.get("numFmtId", "")] = attributes.get("formatCode", "")
                elif local == "cellXfs":
                    inside[0] = True
                elif local == "xf" and inside[0]:
                    styles.append(attributes.get("numFmtId", "0"))

            def end(tag: str) -> None:
                if _local(tag) == "cellXfs":
                    inside[0] = False

            data = self.part("xl/styles.xml", needed=False)
            if data:
                _parse(data, start, end, part="xl/styles.xml")
            self._dates = [_shows_a_date(s, custom.get(s)) for s in styles]
        return self._dates

    def rows(self, sheet: str) -> dict[int, dict[int, Cell]]:
        """Row number -> column number -> cell, both from 1, of the cells that hold something.

        Raises BookError.
        """
        part = self.sheets[sheet]
        reader = _SheetReader(self._shared, self._date_styles(), self._epoch)
        data = self.part(part)
        if data.count(b"<row ") == data.count(
            b'<row r="'
        ):  # every row says its number: empty ones say nothing
            data = _EMPTY_ROW.sub(b"", data)
        _parse(data, reader.start, reader.end, reader.text, part)
        return reader.rows

    def with_cells(self, sheet: str, changes: Mapping[tuple[int, int], str | float]) -> bytes:
        """The file with these cells set; every other part and cell is what it was."""
        part = self.sheets[sheet]
        changed = _set_cells(self.part(part).decode("utf-8"), changes)
        out = io.BytesIO()
        with zipfile.ZipFile(out, "w") as target:
            for info in self.archive.infolist():
                data = (
                    changed.encode("utf-8") if info.filename == part else self.part(info.filename)
                )
                target.writestr(info, data, compress_type=info.compress_type)
        return out.getvalue()


def _shows_a_date(number: str, code: str | None) -> bool:
    if code is None:
        return number.isdigit() and int(number) in _DATE_FORMATS
    bare = re.sub(r'"[^"]*"|\\.|\[[^\]]*\]|_.|\*.', "", code)
    return (
        re.search(r"[dmyhs]", bare, re.IGNORECASE) is not None and "general" not in bare.casefold()
    )


class _SheetReader:
    """Takes in one sheet's XML. Rows and cells that hold nothing leave no trace."""

    def __init__(self, strings: Any, dates: list[bool], epoch: datetime.datetime) -> None:
        self.rows: dict[int, dict[int, Cell]] = {}
        self.strings, self.dates, self.epoch = strings, dates, epoch
        self.row = self.column = 0
        self.kind, self.style = "n", "0"
        self.value: list[str] = []
        self.formula: list[str] | None = None
        self.into: list[str] | None = None

    def start(self, tag: str, attributes: Mapping[str, str]) -> None:
        local = tag if ":" not in tag else _local(tag)
        if local == "row":
            self.row = int(attributes["r"]) if "r" in attributes else self.row + 1
            self.column = 0
        elif local == "c":
            self.column = _column_of(attributes["r"]) if "r" in attributes else self.column + 1
            self.kind, self.style = attributes.get("t", "n"), attributes.get("s", "0")
            self.value, self.formula = [], None
        elif local in ("v", "t"):
            self.into = self.value
        elif local == "f":
            self.formula = self.into = []

    def text(self, data: str) -> None:
        if self.into is not None:
            self.into.append(data)

    def end(self, tag: str) -> None:
        local = tag if ":" not in tag else _local(tag)
        if local == "c":
            cell = self.cell()
            if cell is not None and cell != "":
                self.rows.setdefault(self.row, {})[self.column] = cell
        elif local in ("v", "t", "f"):
            self.into = None

    def cell(self) -> Cell:
        text = "".join(self.value)
        if not text:
            return (
                Formula("".join(self.formula))
                if self.formula is not None and self.kind != "str"
                else None
            )
        if self.kind == "s":
            strings = self.strings()
            at = int(text) if text.strip().isdigit() else -1
            if not 0 <= at < len(strings):
                raise BookError("is damaged: a cell names a text that is not in it.")
            return str(strings[at])
        if self.kind in ("str", "inlineStr"):
            return _unescaped(text)
        if self.kind == "b":
            return "true" if text.strip() == "1" else "false"
        if self.kind == "e":
            return Fault(text)
        if self.kind == "d":
            return datetime.datetime.fromisoformat(text.rstrip("Z"))
        return self.number(text)

    def number(self, text: str) -> Cell:
        try:
            number = float(text)
        except ValueError:
            return text
        style = int(self.style) if self.style.isdigit() else 0
        if style < len(self.dates) and self.dates[style] and 0 <= number < 2_900_000:
            moment = self.epoch + datetime.timedelta(days=number)
            return moment.time() if number < 1 else moment
        return number


# ---- setting cells -------------------------------------------------------------------------------

_ROW = re.compile(r"<((?:\w+:)?)row\b([^>]*?)(?:/>|>(.*?)</(?:\w+:)?row>)", re.DOTALL)
_C = re.compile(r"<(?:\w+:)?c\b([^>]*?)(?:/>|>.*?</(?:\w+:)?c>)", re.DOTALL)
_DATA = re.compile(
    r"<((?:\w+:)?)sheetData\b[^>]*?(?:/>|>(?P<inside>.*)</(?:\w+:)?sheetData>)", re.DOTALL
)


def _attribute(text: str, name: str) -> str:
    found = re.search(rf'(?<![\w:]){name}\s*=\s*["\']([^"\']*)["\']', text)
    return found[1] if found else ""


def _cell_xml(prefix: str, row: int, column: int, value: str | float, style: str) -> str:
    place = f'<{prefix}c r="{cell_name(row, column)}"' + (f' s="{style}"' if style else "")
    if isinstance(value, str):
        text = f'<{prefix}t xml:space="preserve">{_escaped(value)}</{prefix}t>'
        return f'{place} t="inlineStr"><{prefix}is>{text}</{prefix}is></{prefix}c>'
    return f"{place}><{prefix}v>{value!r}</{prefix}v></{prefix}c>"


def _set_cells(xml: str, changes: Mapping[tuple[int, int], str | float]) -> str:
    by_row: dict[int, dict[int, str | float]] = {}
    for (row, column), value in changes.items():
        by_row.setdefault(row, {})[column] = value
    data = _DATA.search(xml)
    if data is None:
        raise BookError("is damaged: its sheet holds no place for rows.")
    prefix = data[1]
    out: list[str] = []
    pending = sorted(by_row)
    number = 0
    styles: dict[int, str] = {}
    for found in _ROW.finditer(data["inside"] or ""):
        number = int(_attribute(found[2], "r") or number + 1)
        while pending and pending[0] < number:
            out.append(_row_xml(prefix, pending[0], "", "", by_row[pending[0]], styles))
            pending.pop(0)
        styles_here = _styles(found[3] or "")
        if pending and pending[0] == number:
            out.append(
                _row_xml(
                    prefix,
                    number,
                    found[2],
                    found[3] or "",
                    by_row[number],
                    {**styles, **styles_here},
                )
            )
            pending.pop(0)
        else:
            out.append(found[0])
        styles = styles_here or styles
    out += [_row_xml(prefix, row, "", "", by_row[row], styles) for row in pending]
    filled = f"<{prefix}sheetData>{''.join(out)}</{prefix}sheetData>"
    return _grown(xml[: data.start()], by_row) + filled + xml[data.end() :]


def _styles(inside: str) -> dict[int, str]:
    return {_column_of(_attribute(c[1], "r")): _attribute(c[1], "s") for c in _C.finditer(inside)}


def _row_xml(
    prefix: str,
    row: int,
    attributes: str,
    inside: str,
    cells: Mapping[int, str | float],
    styles: Mapping[int, str],
) -> str:
    kept: dict[int, str] = {}
    column = 0
    for found in _C.finditer(inside):
        column = _column_of(_attribute(found[1], "r")) or column + 1
        kept[column] = found[0]
    for column, value in cells.items():
        kept[column] = _cell_xml(prefix, row, column, value, styles.get(column, ""))
    attributes = re.sub(r'\s(?:spans|r)\s*=\s*"[^"]*"', "", attributes.rstrip("/ "))
    return (
        f'<{prefix}row r="{row}"{attributes}>{"".join(kept[c] for c in sorted(kept))}</{prefix}row>'
    )


def _grown(head: str, by_row: Mapping[int, Mapping[int, Any]]) -> str:
    """The sheet's stated size, so that it takes in the new cells."""
    found = re.search(
        r'(<(?:\w+:)?dimension\b[^>]*\bref=")([A-Z]+)(\d+)(?::([A-Z]+)(\d+))?(")', head
    )
    if not found:
        return head
    rows = [int(found[3]), int(found[5] or found[3]), *by_row]
    columns = [
        _column_of(found[2]),
        _column_of(found[4] or found[2]),
        *(c for cells in by_row.values() for c in cells),
    ]
    size = f"{cell_name(min(rows), min(columns))}:{cell_name(max(rows), max(columns))}"
    return head[: found.start()] + found[1] + size + found[6] + head[found.end() :]
