"""A table file as rows of typed cells, and the file's own text kept beside them, so that it can be
changed without loss.

`add`, `check --fix` and the measured log change a file only through a `Sheet`: its quoted line
breaks, comments, separators, line ends, encoding and everything that is not touched stay byte for
byte what they were.
"""

from __future__ import annotations

import csv
import datetime
import hashlib
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from compare.problems import InputError, Problem, did_you_mean, visible
from compare.read.book import Book, BookError, Cell, Fault, Formula

__all__ = [
    "Sheet",
    "as_text",
    "decode",
    "has_rows",
    "read_bytes",
    "read_sheet",
    "sheet_of",
    "split_head",
]

WANTED_SHEETS = ("catalogue", "parts")
REPORT_SHEETS = {"Decision", "What-if", "Method"}
WORDS = {",": "comma", ";": "semicolon", "\t": "tab"}


@dataclass
class Sheet:
    """A file as rows of cells, before any meaning: where each row stood, what the head says.

    `rows` are texts as they are shown, `cells` what the file holds (the same for CSV). `places` are
    the records' stretches in the file's text (CSV) by row; the head's is `head_place`. Records that
    could not be taken apart are `problems`, for whoever reads the rest to raise with his own.
    """

    file: str
    head: list[str]
    rows: list[list[str]]
    cells: list[list[Cell]]
    lines: list[int]
    digest: str
    warnings: list[str]
    delimiter: str = ","
    encoding: str = "utf-8"
    mark: bytes = b""
    text: str = ""
    head_line: int = 1
    head_place: tuple[int, int] = (0, 0)
    places: list[tuple[int, int]] = field(default_factory=list)
    book: Book | None = None
    book_sheet: str = ""
    columns: list[int] = field(default_factory=list)
    problems: list[Problem] = field(default_factory=list)

    @property
    def newline(self) -> str:
        return (
            "\r\n"
            if "\r\n" in self.text
            else "\r"
            if "\r" in self.text and "\n" not in self.text
            else "\n"
        )

    def changed(
        self,
        cells: dict[tuple[int, int], str],
        new_heads: Sequence[str] = (),
        new_rows: Sequence[Sequence[str]] = (),
    ) -> bytes:
        """The file's bytes with cells set (by row and column from 0), columns and rows added.

        Raises InputError.

        New rows have a cell for every head, the new ones included.
        """
        if self.book is not None:
            return self._changed_book(cells, new_heads, new_rows)
        edits: list[tuple[int, int, str]] = []
        if new_heads:
            edits += self._widened(self.head_place, len(self.head), list(new_heads))
        for (row, column), value in cells.items():
            start, end = _spans(self.text, *self.places[row], self.delimiter)[column]
            edits.append((start, end, self._quoted(value)))
        if new_heads:
            for place in self.places:
                edits += self._widened(place, len(self.head), [""] * len(new_heads))
        text = self.text
        for start, end, value in sorted(edits, reverse=True):
            text = text[:start] + value + text[end:]
        for row_cells in new_rows:
            text = text if text.endswith(("\n", "\r")) or not text else text + self.newline
            text += self.delimiter.join(self._quoted(c) for c in row_cells) + self.newline
        return self.encoded(text)

    def _widened(
        self, place: tuple[int, int], width: int, values: list[str]
    ) -> list[tuple[int, int, str]]:
        """The edit that puts values behind the first `width` cells of a record;

        empty cells that stand there give way.
        """
        spans = _spans(self.text, *place, self.delimiter)
        whole = width + len(values)
        rest = self.text[spans[whole - 1][1] : place[1]] if len(spans) >= whole else ""
        added = "".join(self.delimiter + self._quoted(v) for v in values)
        return [(spans[width - 1][1], place[1], added + rest)]

    def _quoted(self, value: str) -> str:
        value = re.sub(r"\r\n|\r|\n", self.newline, value)
        if (
            re.search(rf'[{re.escape(self.delimiter)}"\r\n]', value)
            or value != value.strip()
            or value.startswith("#")
        ):
            return '"' + value.replace('"', '""') + '"'
        return value

    def encoded(self, text: str) -> bytes:
        """A text in the file's own encoding, with its byte order mark.

        Raises InputError where that cannot hold it.
        """
        try:
            return self.mark + text.encode(
                self.encoding, "surrogateescape" if self.encoding == "cp1252" else "strict"
            )
        except UnicodeEncodeError as error:
            lost = visible(text[error.start : error.end], 10)
            name = {"cp1252": "Windows-1252"}.get(self.encoding, self.encoding)
            raise InputError(
                [
                    Problem(
                        self.file,
                        f'"{lost}" cannot be written: the file is in {name}.',
                        "Write it in plain letters, or save the file as UTF-8 first.",
                    )
                ]
            ) from None

    def _changed_book(
        self,
        cells: dict[tuple[int, int], str],
        new_heads: Sequence[str],
        new_rows: Sequence[Sequence[str]],
    ) -> bytes:
        assert self.book is not None
        last = max(self.columns, default=0)
        columns = [*self.columns, *(last + 1 + n for n in range(len(new_heads)))]
        changes: dict[tuple[int, int], str | float] = {
            (self.head_line, c): h
            for c, h in zip(columns[len(self.columns) :], new_heads, strict=True)
        }
        for (row, column), value in cells.items():
            changes[self.lines[row], columns[column]] = _typed(value)
        below = max([self.head_line, *self.lines, *self.book.rows(self.book_sheet)])
        for offset, row_cells in enumerate(new_rows, start=1):
            changes.update(
                {
                    (below + offset, c): _typed(v)
                    for c, v in zip(columns, row_cells, strict=True)
                    if v
                }
            )
        return self.book.with_cells(self.book_sheet, changes)


def _typed(value: str) -> str | float:
    """A plain number goes into a workbook as a number; all else as text.

    >>> _typed("612.5"), _typed("24 1/8 in"), _typed("007")
    (612.5, '24 1/8 in', '007')
    """
    if re.fullmatch(r"-?(?:0|[1-9]\d{0,11})(?:\.\d{1,6})?", value, re.ASCII):
        return float(value) if "." in value else int(value)
    return value


def _spans(text: str, start: int, end: int, delimiter: str) -> list[tuple[int, int]]:
    """Where each cell of a record stands in the text, quotes included.

    >>> _spans('a,"b,""c",d', 0, 11, ",")
    [(0, 1), (2, 9), (10, 11)]
    """
    spans, at = [], start
    while True:
        begin = at
        if at < end and text[at] == '"':
            at += 1
            while at < end:
                if text[at] == '"':
                    if text[at + 1 : at + 2] == '"' and at + 1 < end:
                        at += 2
                        continue
                    break
                at += 1
        found = text.find(delimiter, at, end)
        if found < 0:
            spans.append((begin, end))
            return spans
        spans.append((begin, found))
        at = found + len(delimiter)


def _well_formed(text: str, place: tuple[int, int], delimiter: str) -> bool:
    """Whether every quoted cell of a record ends with its quote."""
    for start, end in _spans(text, *place, delimiter):
        cell = text[start:end]
        if cell.startswith('"') and not re.fullmatch(r'"(?:[^"]|"")*"', cell):
            return False
    return True


# ---- reading -------------------------------------------------------------------------------------


def read_bytes(path: str | Path, missing: str = "Check the path.") -> bytes:
    """A file's bytes. Raises InputError with what to do where it cannot be had."""
    path = Path(path)
    file = str(path)
    try:
        if path.exists() and not path.is_file():
            what = "this is a folder." if path.is_dir() else "this is not a plain file."
            raise InputError(
                [
                    Problem(
                        file, what, "Name the file inside it." if path.is_dir() else "Name a file."
                    )
                ]
            )
        return path.read_bytes()
    except FileNotFoundError:
        near = did_you_mean(path.name, _siblings(path))
        fix = f"Did you mean {path.with_name(near)}?" if near else missing
        raise InputError([Problem(file, "there is no such file.", fix)]) from None
    except NotADirectoryError:
        raise InputError(
            [Problem(file, "part of this path is a file, not a folder.", "Check the path.")]
        ) from None
    except ValueError:
        raise InputError(
            [Problem(file, "is no name that a file can have.", "Check the path.")]
        ) from None
    except OSError as error:
        raise InputError(
            [
                Problem(
                    file,
                    f"cannot be read: {error.strerror}.",
                    "Check the path and the file's permissions.",
                )
            ]
        ) from None


def has_rows(path: Path) -> bool:
    """Whether a table holds more than its head: a blank form does not count."""
    try:
        lines = path.read_text(encoding="utf-8", errors="replace").splitlines()
    except OSError:
        return False
    return sum(1 for line in lines if line.strip(" ,;") and not line.lstrip().startswith("#")) > 1


def read_sheet(path: str | Path) -> Sheet:
    """Rows of cells out of a file: encoding, separator and cell counts settled.

    Raises InputError.
    """
    return sheet_of(str(path), read_bytes(path))


def sheet_of(file: str, data: bytes) -> Sheet:
    """The same out of a file's bytes; `file` is its name in messages. Raises InputError."""
    digest = hashlib.sha256(data).hexdigest()[:16]
    if data[:4] == b"PK\x03\x04":
        return _workbook_sheet(file, data, digest)
    if data[:8] == b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1":
        raise InputError(
            [
                Problem(
                    file,
                    "is an old .xls workbook or one with a password.",
                    "Save it as .xlsx without a password, or as CSV.",
                )
            ]
        )
    text, encoding, mark, warnings = decode(file, data)
    return _csv_sheet(file, text, digest, encoding, mark, warnings)


def _siblings(path: Path) -> list[str]:
    try:
        return [p.name for p in path.parent.iterdir()]
    except OSError:
        return []


def decode(file: str, data: bytes) -> tuple[str, str, bytes, list[str]]:
    """(text, codec, byte order mark, warnings); the text encodes to the same bytes again."""
    for mark, codec in ((b"\xff\xfe", "utf-16-le"), (b"\xfe\xff", "utf-16-be")):
        if data.startswith(mark):
            try:
                return data[2:].decode(codec), codec, mark, []
            except UnicodeDecodeError:
                raise InputError(
                    [
                        Problem(
                            file,
                            "begins as UTF-16 but does not go on as such.",
                            "Save it again as CSV in UTF-8.",
                        )
                    ]
                ) from None
    if len(data) > 20 and data[:2000].count(0) > len(data[:2000]) // 4:
        raise InputError(
            [
                Problem(
                    file,
                    "is not a text file, or UTF-16 without its mark.",
                    "Save it as CSV in UTF-8.",
                )
            ]
        )
    mark = b"\xef\xbb\xbf" if data.startswith(b"\xef\xbb\xbf") else b""
    try:
        return data[len(mark) :].decode("utf-8"), "utf-8", mark, []
    except UnicodeDecodeError:
        text = data.decode("cp1252", errors="surrogateescape")
        return (
            text,
            "cp1252",
            b"",
            [f"{visible(file, 200)}: not UTF-8, read as Windows-1252. Check ½, ±, ° and accents."],
        )


_LINE = re.compile(r"([^\r\n]*)(\r\n|\n|\r|\Z)")


def _counts(line: str) -> bool:
    """Whether a line is neither blank nor a comment."""
    if line and line[0].isalnum():
        return True
    bare = line.strip()
    return bool(bare.strip(',;"\t ')) and not bare.startswith("#") and not bare.startswith('"#')


def _head_at(file: str, physical: Sequence[str]) -> tuple[int, str]:
    """(index of the head line, separator that the file states)."""
    start, forced = 0, ""
    if physical and re.fullmatch(r"\s*sep=(.)\s*", physical[0], re.IGNORECASE):
        forced, start = physical[0].strip()[-1], 1
    head_at = next((i for i in range(start, len(physical)) if _counts(physical[i])), None)
    if head_at is None:
        raise InputError(
            [
                Problem(
                    file,
                    "is empty.",
                    "Type a head line that begins with name, then one row per gearbox.",
                )
            ]
        )
    line = physical[head_at]
    if re.match(r"\s*\[\w+\]\s*(#|$)", line) or re.match(r"\s*\w+\s*=\s*[\"\d\[]", line):
        raise InputError(
            [
                Problem(
                    file,
                    "is a car profile, not a table.",
                    "Name it after --car, and a catalogue in its place.",
                )
            ]
        )
    return head_at, forced


def _csv_sheet(
    file: str, text: str, digest: str, encoding: str, mark: bytes, warnings: list[str]
) -> Sheet:
    starts: list[int] = []
    physical: list[str] = []
    for found in _LINE.finditer(text):
        if found.start() == len(text) and text:
            break
        starts.append(found.start())
        physical.append(found[1])
    head_at, forced = _head_at(file, physical)
    bare = re.sub(r'"[^"]*"', "", physical[head_at])
    delimiter = forced or max(",;\t", key=lambda d: bare.count(d))
    sheet = Sheet(file, [], [], [], [], digest, warnings, delimiter, encoding, mark, text)
    problems: list[Problem] = []
    quotes = '"' in text
    try:
        for fields, first, last in _records(physical, head_at, delimiter, quotes):
            place = (starts[first], starts[last] + len(physical[last]))
            if not sheet.head:
                sheet.head = [f.strip() for f in fields]
                while sheet.head and not sheet.head[-1]:
                    sheet.head.pop()
                sheet.head_line, sheet.head_place = first + 1, place
                continue
            problem = _broken_quotes(sheet, fields, first, last, place) if quotes else None
            if problem is None:
                while len(fields) > len(sheet.head) and not fields[-1].strip():
                    fields.pop()
                if not fields[0].strip() and not any(f.strip() for f in fields):
                    continue
                if len(fields) != len(sheet.head):
                    problem = _miscounted(file, first + 1, fields, sheet.head, delimiter)
            if problem is not None:
                problems.append(problem)
                continue
            sheet.rows.append(fields)
            sheet.lines.append(first + 1)
            sheet.places.append(place)
    except csv.Error as error:
        problems.append(
            Problem(file, f"is not a readable CSV file ({error}).", "Save it again as CSV.")
        )
    sheet.problems = problems
    sheet.cells = sheet.rows  # type: ignore[assignment]  # a CSV file's cells are its texts
    return sheet


def _records(
    physical: Sequence[str], head_at: int, delimiter: str, quotes: bool
) -> Iterator[tuple[list[str], int, int]]:
    """(cells, first line, last line) of every record from the head on, lines from 0."""
    if not quotes:
        for number in range(head_at, len(physical)):
            if _counts(physical[number]):
                yield physical[number].split(delimiter), number, number
        return
    taken: list[int] = []

    def feed() -> Iterator[str]:
        for number in range(head_at, len(physical)):
            line = physical[number]
            if not taken and not _counts(line):
                continue
            taken.append(number)
            yield line + "\n"

    csv.field_size_limit(10_000_000)
    for fields in csv.reader(feed(), delimiter=delimiter):
        first, last = taken[0], taken[-1]
        taken.clear()
        yield fields, first, last


_SWALLOWED = re.compile(r'[\d ./-]+"(?:[,;\t\n]|$)(?s:.*)[,;\t\n]')


def _broken_quotes(
    sheet: Sheet, fields: list[str], first: int, last: int, place: tuple[int, int]
) -> Problem | None:
    """What is wrong with a record whose quotes swallow its neighbours; None where nothing is."""
    if '"' not in sheet.text[place[0] : place[1]]:
        return None
    sound = _well_formed(sheet.text, place, sheet.delimiter)
    if sound and len(fields) == len(sheet.head):
        return None
    line, name = first + 1, fields[0] if fields else ""
    double = "Double the inch mark inside quotes, or write 23.5 in."
    swallowed = next((f for f in fields if _SWALLOWED.match(f)), None)
    if swallowed is not None:
        found = (
            f'"{visible(swallowed, 30)}" runs on over the next cells: an inch mark ended nothing.'
        )
        return Problem(sheet.file, found, double, line, name)
    if sound:
        return None
    start, end = _spans(sheet.text, *place, sheet.delimiter)[-1]
    cell = sheet.text[start:end]
    if cell.startswith('"') and not re.match(r'"(?:[^"]|"")*"', cell):
        below = ": every row below went into it." if last > first else "."
        found = f'"{visible(fields[-1].strip(), 30)}" opens a quote that is never closed{below}'
        return Problem(
            sheet.file,
            found,
            "Close the quote at the end of the cell, or take it away.",
            line,
            name,
        )
    return Problem(
        sheet.file,
        "a cell in quotes has a quote inside it that is not doubled.",
        double,
        line,
        name,
    )


def _miscounted(
    file: str, line: int, fields: Sequence[str], head: Sequence[str], delimiter: str
) -> Problem:
    found = f"{len(fields)} cells, the head has {len(head)}."
    word = WORDS.get(delimiter, delimiter)
    if len(fields) > len(head):
        fix = f"Look for a {word} inside a cell: put that cell in quotes."
        if delimiter == ",":
            fix = (
                "Look for a decimal comma or a comma in a note: put that cell in quotes, "
                "or use a decimal point."
            )
    else:
        fix = f"Add the missing {word}s; unknown cells stay empty between them."
    return Problem(file, found, fix, line, fields[0] if fields else "")


def as_text(cell: Cell) -> str:
    """A cell as it is shown.

    >>> as_text(612.0), as_text(0.1 + 0.2), as_text(None), as_text(datetime.datetime(2026, 1, 10))
    ('612', '0.3', '', '2026-01-10 00:00:00')
    """
    if isinstance(cell, str):
        return cell
    if cell is None:
        return ""
    if isinstance(cell, float):
        return repr(round(cell, 6)).removesuffix(".0")
    if isinstance(cell, datetime.datetime):
        return cell.strftime("%Y-%m-%d 00:00:00")
    if isinstance(cell, datetime.time):
        return cell.strftime("%H:%M")
    return (
        cell.text
        if isinstance(cell, Fault)
        else f"={cell.text}"
        if isinstance(cell, Formula)
        else str(cell)
    )


def _workbook_sheet(file: str, data: bytes, digest: str) -> Sheet:
    try:
        book = Book(data)
        if set(book.sheets) >= REPORT_SHEETS:
            raise BookError(
                "is a report of this program, not a catalogue.",
                "Name the catalogue that it was made from; rank and take-in read the report as it is.",
            )
        wanted = next(
            (s for s in book.sheets if s.casefold() in WANTED_SHEETS), next(iter(book.sheets))
        )
        found = book.rows(wanted)
    except BookError as error:
        raise InputError([Problem(file, error.found, error.fix)]) from None
    sheet = Sheet(file, [], [], [], [], digest, [], "", "workbook", book=book, book_sheet=wanted)
    for number in sorted(found):
        cells = found[number]
        texts = {c: as_text(cell) for c, cell in cells.items()}
        if not any(t.strip() for t in texts.values()) or texts.get(1, "").lstrip().startswith("#"):
            continue
        if not sheet.head:
            last = max(c for c, t in texts.items() if t.strip())
            sheet.columns = list(range(1, last + 1))
            sheet.head = [texts.get(c, "").strip() for c in sheet.columns]
            sheet.head_line = number
            continue
        if any(t.strip() and c > len(sheet.head) for c, t in texts.items()):
            sheet.problems.append(
                Problem(
                    file,
                    "a cell beyond the last head.",
                    "Give that column a head or clear it.",
                    number,
                )
            )
            continue
        sheet.cells.append([cells.get(c, "") for c in sheet.columns])
        sheet.rows.append([texts.get(c, "") for c in sheet.columns])
        sheet.lines.append(number)
    if not sheet.head:
        raise InputError([Problem(file, "is empty.", "Type a head line that begins with name.")])
    return sheet


def split_head(head: str) -> tuple[str, str | None]:
    """A head's name and unit.

    >>> split_head("Shaft stickout [in]"), split_head("length")
    (('shaft_stickout', 'in'), ('length', None))
    """
    found = re.fullmatch(r"\s*([^\[\]]*?)\s*(?:\[([^\[\]]*)\])?\s*", head)
    if not found:
        return head.strip(), None
    name = re.sub(r"[\s-]+", "_", found[1].strip().casefold())
    return name, (found[2] or "").strip() or None
