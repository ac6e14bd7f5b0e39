"""Catalogue and parts files -> columns of numbers, each cell with its origin.

Rows are read with the csv module and their fields counted here; numbers are read a column at a time,
plain numbers in one stroke and only odd cells one by one.
"""

from __future__ import annotations

import csv
import hashlib
import io
import math
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np

from compare.problems import CellError, InputError, Problem, did_you_mean, visible
from compare.read.cells import clean, factor, find_unit, is_unknown, looks_like_date, parse
from compare.vocabulary import GEARS, PART_COLUMNS, Term, catalogue_terms

__all__ = ["Column", "Sheet", "Table", "load_catalogue", "load_parts", "read_choice", "read_sheet", "read_table", "split_head"]


@dataclass
class Column:
    """Nominal, half-width and top of a free choice, each `(rows,)` in internal units; NaN is unknown.

    A choice column holds the index of the choice; a text beyond the listed choices counts one past the last.
    """

    nominal: np.ndarray
    half: np.ndarray
    high: np.ndarray


@dataclass
class Sheet:
    """A file as rows of text, before any meaning: where each row stood, what the head says."""

    file: str
    head: list[str]
    rows: list[list[str]]
    lines: list[int]
    digest: str
    warnings: list[str]
    delimiter: str = ","
    encoding: str = "utf-8"


@dataclass
class Table:
    """A catalogue or a parts file. `names` are the rows' own names; `texts` holds text columns as typed."""

    file: str
    names: list[str]
    lines: list[int]
    columns: dict[str, Column]
    texts: dict[str, list[str]]
    head: list[str]
    rows: list[list[str]]
    warnings: list[str] = field(default_factory=list)
    digest: str = ""

    def __len__(self) -> int:
        return len(self.names)

    def text(self, column: str, row: int) -> str:
        found = self.texts.get(column)
        return found[row] if found else ""


def load_catalogue(path: str | Path) -> Table:
    """Read a catalogue (CSV or workbook). Raises InputError with every problem of the file."""
    return read_table(read_sheet(path), "name", catalogue_terms())


def load_parts(path: str | Path) -> Table:
    """Read a parts file. Raises InputError with every problem of the file."""
    terms = {t.name: t for t in PART_COLUMNS} | {n: t for n, t in catalogue_terms().items() if n not in ("name", "family")}
    return read_table(read_sheet(path), "part", terms)


def read_sheet(path: str | Path) -> Sheet:
    """Rows of text out of a file: encoding, separator and field counts settled. Raises InputError."""
    path = Path(path)
    file = str(path)
    try:
        data = path.read_bytes()
    except FileNotFoundError:
        near = did_you_mean(path.name, _siblings(path))
        fix = f"Did you mean {path.with_name(near)}?" if near else "Check the path."
        raise InputError([Problem(file, "there is no such file.", fix)]) from None
    except IsADirectoryError:
        raise InputError([Problem(file, "this is a folder.", "Name the file inside it.")]) from None
    except OSError as error:
        raise InputError([Problem(file, f"cannot be read: {error.strerror}.", "Check the file's permissions.")]) from None
    digest = hashlib.sha256(data).hexdigest()[:16]
    if data[:4] == b"PK\x03\x04":
        return _workbook_sheet(file, data, digest)
    text, encoding, warnings = _decode(file, data)
    return _csv_sheet(file, text, digest, encoding, warnings)


def _siblings(path: Path) -> list[str]:
    try:
        return [p.name for p in path.parent.iterdir()]
    except OSError:
        return []


def _decode(file: str, data: bytes) -> tuple[str, str, list[str]]:
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        try:
            return data.decode("utf-16"), "utf-16", []
        except UnicodeDecodeError:
            raise InputError(
                [Problem(file, "begins as UTF-16 but does not go on as such.", "Save it again as CSV in UTF-8.")]
            ) from None
    if len(data) > 20 and data[:2000].count(0) > len(data[:2000]) // 4:
        raise InputError([Problem(file, "is not a text file, or UTF-16 without its mark.", "Save it as CSV in UTF-8.")])
    try:
        return data.decode("utf-8-sig"), "utf-8-sig" if data.startswith(b"\xef\xbb\xbf") else "utf-8", []
    except UnicodeDecodeError:
        text = data.decode("cp1252", errors="replace")
        return text, "cp1252", [f"{visible(file, 200)}: not UTF-8, read as Windows-1252. Check ½, ±, ° and accents."]


def _csv_sheet(file: str, text: str, digest: str, encoding: str, warnings: list[str]) -> Sheet:
    physical = re.split(r"\r\n|\n|\r", text)
    start, forced = 0, ""
    if physical and re.fullmatch(r"\s*sep=(.)\s*", physical[0], re.IGNORECASE):
        forced, start = physical[0].strip()[-1], 1
    head_at = next((i for i in range(start, len(physical)) if _counts(physical[i])), None)
    if head_at is None:
        raise InputError([Problem(file, "is empty.", "Type a head line that begins with name, then one row per gearbox.")])
    head_line = physical[head_at]
    if re.match(r"\s*\[\w+\]\s*(#|$)", head_line) or re.match(r"\s*\w+\s*=\s*[\"\d\[]", head_line):
        raise InputError([Problem(file, "is a car profile, not a table.", "Name it after --car, and a catalogue in its place.")])
    delimiter = forced or max(",;\t", key=lambda d: _outside_quotes(head_line).count(d))

    taken: list[int] = []

    def feed() -> Iterator[str]:
        for number in range(head_at, len(physical)):
            line = physical[number]
            if not taken and not _counts(line):
                continue
            taken.append(number + 1)
            yield line + "\n"

    csv.field_size_limit(10_000_000)
    quotes = '"' in text
    head: list[str] = []
    rows: list[list[str]] = []
    lines: list[int] = []
    problems: list[Problem] = []
    try:
        for fields in csv.reader(feed(), delimiter=delimiter):
            line, several = taken[0], len(taken) > 1
            unclosed = several and "\n".join(physical[n - 1] for n in taken).count('"') % 2 == 1
            taken.clear()
            if not head:
                head = [f.strip() for f in fields]
                while head and not head[-1]:
                    head.pop()
                continue
            swallowed = next((f for f in fields if _SWALLOWED.match(f)), None) if quotes and (several or '"' in "".join(fields)) else None
            if swallowed is not None:
                problems.append(
                    Problem(
                        file,
                        f'"{visible(swallowed, 30)}" runs on over the next cells: an inch mark ended nothing.',
                        "Double the inch mark inside quotes, or write 23.5 in.",
                        line,
                        fields[0] if fields else "",
                    )
                )
                continue
            if unclosed:
                found = f'"{visible(fields[-1].strip(), 30)}" opens a quote that is never closed: every row below went into it.'
                problems.append(Problem(file, found, "Close the quote at the end of the cell, or take it away.", line, fields[0]))
                continue
            while len(fields) > len(head) and not fields[-1].strip():
                fields.pop()
            if not fields[0].strip() and not any(f.strip() for f in fields):
                continue
            if len(fields) != len(head):
                problems.append(_miscounted(file, line, fields, head, delimiter))
                continue
            rows.append(fields)
            lines.append(line)
    except csv.Error as error:
        problems.append(Problem(file, f"is not a readable CSV file ({error}).", "Save it again as CSV.", taken[0] if taken else None))
    if problems:
        raise InputError(problems)
    return Sheet(file, head, rows, lines, digest, warnings, delimiter, encoding)


_SWALLOWED = re.compile(r'[\d ./-]+"(?:[,;\t\n]|$)(?s:.*)[,;\t\n]')


def _counts(line: str) -> bool:
    """Whether a line is neither blank nor a comment."""
    if line and line[0].isalnum():
        return True
    bare = line.strip()
    return bool(bare.strip(',;"\t ')) and not bare.startswith("#") and not bare.startswith('"#')


def _outside_quotes(line: str) -> str:
    return re.sub(r'"[^"]*"', "", line)


def _miscounted(file: str, line: int, fields: Sequence[str], head: Sequence[str], delimiter: str) -> Problem:
    found = f"{len(fields)} cells, the head has {len(head)}."
    word = {",": "comma", ";": "semicolon", "\t": "tab"}.get(delimiter, delimiter)
    if len(fields) > len(head):
        fix = f"Look for a {word} inside a cell: put that cell in quotes."
        if delimiter == ",":
            fix = "Look for a decimal comma or a comma in a note: put that cell in quotes, or use a decimal point."
    else:
        fix = f"Add the missing {word}s; unknown cells stay empty between them."
    return Problem(file, found, fix, line, fields[0] if fields else "")


def _workbook_sheet(file: str, data: bytes, digest: str) -> Sheet:
    import datetime

    import openpyxl

    try:
        book = openpyxl.load_workbook(io.BytesIO(data), data_only=True)
    except Exception:  # openpyxl raises many kinds on broken files
        raise InputError([Problem(file, "is not a workbook that can be read.", "Save it again as .xlsx or as CSV.")]) from None
    if {"Contents", "What-if", "Method"} <= set(book.sheetnames):
        raise InputError([Problem(file, "is a report of this program, not a catalogue.", "Name the catalogue that it was made from.")])
    wanted = ("catalogue", "parts")
    sheet = next((s for s in book.worksheets if s.title.casefold() in wanted), book.worksheets[0])

    def as_text(value: Any) -> str:
        if value is None:
            return ""
        if isinstance(value, bool):
            return str(value)
        if isinstance(value, float):
            return repr(round(value, 6)).removesuffix(".0")
        if isinstance(value, datetime.datetime | datetime.date):
            return value.strftime("%Y-%m-%d 00:00:00")
        if isinstance(value, datetime.time):
            return value.strftime("%H:%M")
        return str(value)

    head: list[str] = []
    rows: list[list[str]] = []
    lines: list[int] = []
    for number, cells in enumerate(sheet.iter_rows(values_only=True), start=1):
        texts = [as_text(c) for c in cells]
        # A workbook's numbers are numbers already: 1.234 typed into a cell is no thousand.
        texts = [t + " " if isinstance(c, float) else t for t, c in zip(texts, cells, strict=True)]
        if not any(t.strip() for t in texts) or texts[0].lstrip().startswith("#"):
            continue
        if not head:
            head = [t.strip() for t in texts]
            while head and not head[-1]:
                head.pop()
            continue
        if any(t.strip() for t in texts[len(head) :]):
            raise InputError([Problem(file, "a cell beyond the last head.", "Give that column a head or clear it.", number)])
        rows.append((texts + [""] * len(head))[: len(head)])
        lines.append(number)
    if not head:
        raise InputError([Problem(file, "is empty.", "Type a head line that begins with name.")])
    return Sheet(file, head, rows, lines, digest, [], "", "workbook")


def read_table(sheet: Sheet, name_column: str, terms: dict[str, Term]) -> Table:
    """Give a sheet its meaning: every cell read, every problem collected. Raises InputError."""
    file = sheet.file
    problems: list[Problem] = []
    warnings = list(sheet.warnings)
    heads: dict[str, tuple[int, str | None]] = {}
    notes: list[int] = []
    for at, head in enumerate(sheet.head):
        name, unit_text = split_head(head)
        if not name:
            problems.append(Problem(file, f"column {at + 1} has no head.", "Give it a name, or delete the column.", 1))
            continue
        if name in heads:
            problems.append(Problem(file, f'the head "{visible(name)}" stands twice.', "Keep one of the two columns.", column=head))
            continue
        term = terms.get(name)
        unit: str | None = None
        if term is None:
            notes.append(at)
            near = did_you_mean(name, [t for t in terms if t not in heads])
            hint = f" Did you mean {near}?" if near else ""
            warnings.append(f'{visible(file, 200)}: column "{visible(head, 40)}" is not known; kept as a note.{hint}')
        elif unit_text:
            unit = find_unit(term.kind, unit_text)
            if unit is None and term.kind not in ("money", "text"):
                problems.append(
                    Problem(
                        file, f'"{visible(unit_text, 20)}" is no unit for {name}.', f"Write {name} [{term.unit or 'no unit'}].",
                        column=head,
                    )
                )  # fmt: skip
        heads[name] = (at, unit)
    if name_column not in heads:
        near = did_you_mean(name_column, heads)
        other = {"name": ("part", "This looks like a parts file: name it after --parts."), "part": ("name", "This looks like a catalogue: name it in the catalogue's place.")}[name_column]
        if other[0] in heads and ("fits" in heads) == (name_column == "name"):
            problems.append(Problem(file, f'there is no column "{name_column}".', other[1]))
            raise InputError(problems)
        fix = f"Rename {visible(near)} to {name_column}." if near else f"Add a column {name_column}; if the file uses another separator, say so in its head line."
        problems.append(Problem(file, f'there is no column "{name_column}".', fix))
        raise InputError(problems)

    raw = list(zip(*sheet.rows, strict=True)) if sheet.rows else [()] * len(sheet.head)
    names = [t.strip() for t in raw[heads[name_column][0]]]
    problems += _name_problems(file, names, sheet.lines, name_column)
    columns: dict[str, Column] = {}
    texts: dict[str, list[str]] = {name_column: names}
    for name, (at, unit) in heads.items():
        term = terms.get(name)
        if term is None or name == name_column:
            continue
        cells = raw[at]
        if term.kind == "text":
            texts[name] = [t.strip() for t in cells]
            continue
        column, wrong = _read_column(cells, term, unit)
        columns[name] = column
        if term.kind == "choice":
            texts[name] = [t.strip() for t in cells]
        problems += [
            Problem(file, error.found, error.fix, sheet.lines[row], names[row], sheet.head[at]) for row, error in wrong
        ]
    for at in notes:
        texts[f"note: {sheet.head[at]}"] = [t.strip() for t in raw[at]]
    table = Table(file, names, sheet.lines, columns, texts, sheet.head, sheet.rows, warnings, sheet.digest)
    if name_column == "name":
        problems += _ratio_problems(table)
    else:
        problems += [
            Problem(file, f"the part names no {column}.", fix, line, name)
            for column, fix in (
                ("kind", "Type what it is, such as input shaft."),
                ("fits", "Type the name or the family of the gearboxes it fits."),
            )
            for line, name, text in zip(sheet.lines, names, texts.get(column, [""] * len(names)), strict=True)
            if not text
        ]
    if not names and not problems:
        problems.append(Problem(file, "has a head and no rows.", "Add one row per gearbox." if name_column == "name" else "Add one row per part."))
    if problems:
        raise InputError(problems)
    return table


def split_head(head: str) -> tuple[str, str | None]:
    """`Shaft stickout [in]` -> ("shaft_stickout", "in")."""
    found = re.fullmatch(r"\s*([^\[\]]*?)\s*(?:\[([^\[\]]*)\])?\s*", head)
    if not found:
        return head.strip(), None
    name = re.sub(r"[\s-]+", "_", found[1].strip().casefold())
    return name, (found[2] or "").strip() or None


def _name_problems(file: str, names: Sequence[str], lines: Sequence[int], column: str) -> list[Problem]:
    problems = []
    seen: dict[str, int] = {}
    for name, line in zip(names, lines, strict=True):
        if not name:
            problems.append(Problem(file, "the row has no name.", "Give it one; the reports speak of it by name.", line, column=column))
            continue
        key = " ".join(name.casefold().split())
        if key in seen:
            problems.append(
                Problem(file, f"the name stands in line {seen[key]} already.", "Give one of the two another name.", line, name)
            )
        seen.setdefault(key, line)
    return problems


def _ratio_problems(table: Table) -> list[Problem]:
    if not len(table):
        return []
    known = np.zeros(len(table), dtype=bool)
    for gear in GEARS:
        if gear in table.columns:
            known |= np.isfinite(table.columns[gear].nominal)
    return [
        Problem(table.file, "no ratio is known.", "Type at least one, such as ratio_4 = 1.", table.lines[row], table.names[row])
        for row in np.flatnonzero(~known)
    ]


_PLAIN = re.compile(r"(?:\d{1,7}(?:\.(?:\d{1,2}|\d{4,6}))?)?", re.ASCII)
_PLAIN_FREE = re.compile(r"(?:\d{1,7}(?:\.\d{1,6})?)?", re.ASCII)


def _read_column(cells: Sequence[str], term: Term, unit: str | None) -> tuple[Column, list[tuple[int, CellError]]]:
    """Read one column: plain numbers once per text, the odd cells one by one."""
    count = len(cells)
    nan = np.full(count, math.nan)
    if term.kind == "choice":
        return _read_choices(cells, term)
    if term.kind in ("tyre", "flag", "pair", "curve", "stations", "words"):
        raise TypeError(f"{term.kind} is no kind for a column")
    no_thousands = term.kind in ("ratio", "fraction", "number")
    wrong: list[tuple[int, CellError]] = []
    half, high = nan.copy(), nan.copy()
    scale = 1.0
    if term.kind not in ("ratio", "count", "counts", "money", "number", "fraction"):
        scale = factor(term.kind, unit) if unit else factor("angle", "degree") if term.kind == "angle" else 1.0
    # Each text is looked at once: plain numbers are done with then, odd ones are read cell by cell below.
    one = _PLAIN_FREE if no_thousands else _PLAIN
    texts = set(cells)
    numbers = {t: float(t) if t else math.nan for t in texts if one.fullmatch(t)} if term.kind not in ("count", "counts") else {"": math.nan}
    nominal = np.array([numbers.get(t, math.nan) for t in cells], dtype=float) * scale
    odd_texts = texts - numbers.keys()
    odd = [row for row, t in enumerate(cells) if t in odd_texts] if odd_texts else []
    limit = factor("angle", "degree") if term.kind == "angle" else 1.0
    with np.errstate(invalid="ignore"):
        out = np.flatnonzero((nominal < term.low * limit - 1e-9) | (nominal > term.high * limit + 1e-9))
    seen: dict[str, Any] = {}
    for row in [*odd, *out.tolist()]:
        text = cells[row]
        if text not in seen:
            try:
                # A trailing space marks a workbook's true number, where three decimals are no thousand.
                typed = text.strip() + "0000" if text.endswith(" ") and "." in text else text
                seen[text] = parse(typed, term, unit)
            except CellError as error:
                seen[text] = error
        value = seen[text]
        if isinstance(value, CellError):
            wrong.append((row, value))
        elif value is not None:
            nominal[row], half[row], high[row] = value.nominal, value.half, value.high
    return Column(nominal, half, high), wrong


def read_choice(text: str, term: Term) -> float:
    """The index of a choice, NaN when unknown, one past the last for other text. Raises CellError."""
    word = clean(text).casefold()
    if is_unknown(text):
        return math.nan
    options = [c.casefold() for c in term.choices]
    if word in options:
        return float(options.index(word))
    if term.other_text:
        if looks_like_date(word) or len(word) > 200:
            raise CellError(f'"{visible(text, 40)}" is not a name.', f"Type {', '.join(term.choices)} or a short name.")
        return float(len(options))
    near = did_you_mean(word, options)
    raise CellError(
        f'"{visible(text, 40)}" is not one of the choices.',
        f"Type {near}." if near else f"Type one of: {', '.join(term.choices)}. Leave it empty if you do not know it.",
    )


def _read_choices(cells: Sequence[str], term: Term) -> tuple[Column, list[tuple[int, CellError]]]:
    codes: dict[str, float] = {}
    errors: dict[str, CellError] = {}
    for text in set(cells):
        try:
            codes[text] = read_choice(text, term)
        except CellError as error:
            codes[text], errors[text] = math.nan, error
    nominal = np.array([codes[text] for text in cells], dtype=float)
    wrong = [(row, errors[text]) for row, text in enumerate(cells) if text in errors] if errors else []
    nan = np.full(len(cells), math.nan)
    return Column(nominal, np.zeros(len(cells)), nan), wrong
