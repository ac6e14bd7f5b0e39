"""A friend's workbook comes back: which cells were changed, and what that means for the files.

Pure functions: `read_back` reads the workbook and compares it with what was sent, which it carries in a
hidden sheet; `edited_csv` and `edited_car` give the new text of a file. Nothing is written here.
"""

from __future__ import annotations

import csv
import datetime
import io
import json
import re
import tomllib
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from pathlib import Path
from typing import Any

from compare.figures import safe
from compare.problems import InputError, Problem

__all__ = [
    "Change",
    "Changes",
    "Measured",
    "edited_car",
    "edited_csv",
    "read_back",
    "table_text",
    "was_sent",
]

SENT, CAR, LIST = "Sent", "Car", "Measuring list"
TABLES = {"Catalogue": "name", "Parts": "part"}
NOT_KNOWN = "not known"
SPARE_ROWS, SPARE_COLUMNS = (
    500,
    30,
)  # read beyond what was sent; what lies further out is not looked at
PLAIN = re.compile(r"-?\d+(?:\.\d+)?")


@dataclass(frozen=True)
class Change:
    """One changed cell: what it is about, what was sent, what it holds now; line 0 is a new row."""

    sheet: str
    cell: str
    of: str
    what: str
    was: str
    now: str
    line: int = 0


@dataclass(frozen=True)
class Measured:
    """One filled box, as an entry of measured.csv: on, by, of, dimension, value, with."""

    on: str
    by: str
    of: str
    dimension: str
    value: str
    tool: str
    cell: str


@dataclass(frozen=True)
class Changes:
    """What came back. problems: what cannot be taken in as it stands, each with what to type instead.

    added: sheet -> rows (head -> text) that are new; removed: sheet -> lines whose rows are gone;
    heads: sheet -> its heads; sent: (sheet, line) -> head -> text as typed before it was sent.
    """

    cells: tuple[Change, ...]
    measured: tuple[Measured, ...]
    problems: tuple[Problem, ...]
    added: dict[str, list[dict[str, str]]] = field(default_factory=dict)
    removed: dict[str, list[int]] = field(default_factory=dict)
    heads: dict[str, list[str]] = field(default_factory=dict)
    sent: dict[tuple[str, int], dict[str, str]] = field(default_factory=dict)

    @property
    def nothing(self) -> bool:
        """Whether all came back as it was sent."""
        return not (
            self.cells or self.measured or any(self.added.values()) or any(self.removed.values())
        )


@dataclass
class _Cell:
    place: str
    text: str
    problem: str = ""


Rows = list[list[_Cell]]


def was_sent(path: str | Path) -> bool:
    """Whether a file is a workbook of this program that can be taken in."""
    import openpyxl

    try:
        book = openpyxl.load_workbook(path, read_only=True)
    except Exception:  # openpyxl raises many kinds on broken files
        return False
    names = book.sheetnames
    book.close()
    return SENT in names


def read_back(path: str | Path) -> Changes:
    """Compare a workbook with what was sent in it. Raises InputError where it cannot be read."""
    import openpyxl

    file, books = str(path), []
    for values in (True, False):
        try:
            books.append(openpyxl.load_workbook(path, read_only=True, data_only=values))
        except FileNotFoundError:
            raise InputError([Problem(file, "there is no such file.", "Check the path.")]) from None
        except Exception:  # openpyxl raises many kinds on broken files
            fix = "Save it again as .xlsx."
            raise InputError([Problem(file, "is not a workbook that can be read.", fix)]) from None
    if SENT not in books[0].sheetnames:
        fix = "Take in a workbook that rank wrote; a catalogue is named as it is."
        raise InputError([Problem(file, "does not hold what was sent.", fix)])
    sent = _sent(books[0][SENT])
    reader = _Reader(file, *books)
    found = _Found(reader, sent)
    for sheet, key in TABLES.items():
        if any(row[0] == sheet for row in sent):
            found.table(sheet, key)
    found.car()
    found.boxes()
    for book in books:
        book.close()
    return Changes(
        tuple(found.cells),
        tuple(found.measured),
        tuple(found.problems),
        found.added,
        found.removed,
        found.heads,
        found.sent_rows,
    )


def _sent(sheet: Any) -> list[tuple[str, ...]]:
    rows = []
    for cells in sheet.iter_rows(min_row=2, max_col=5, values_only=True):
        texts = tuple("" if c is None else str(c) for c in cells)
        rows.append(tuple(t.encode("ascii", "replace").decode("unicode_escape") for t in texts))
    return rows


@dataclass
class _Reader:
    """Both views of the workbook: values, and formulas where a value is missing."""

    file: str
    values: Any
    formulas: Any

    def rows(self, sheet: str, rows: int, columns: int) -> Rows:
        """The cells of the part that may hold anything, as texts."""
        if sheet not in self.values.sheetnames:
            return []
        bounds = {"min_row": 1, "max_row": rows, "min_col": 1, "max_col": columns}
        found: Rows = []
        pairs = zip(
            self.values[sheet].iter_rows(**bounds),
            self.formulas[sheet].iter_rows(**bounds),
            strict=False,
        )
        for down, (shown, typed) in enumerate(pairs, start=1):
            found.append(
                [
                    _read(cell, formula, f"{_letters(at)}{down}")
                    for at, (cell, formula) in enumerate(zip(shown, typed, strict=False))
                ]
            )
        return found


def _letters(at: int) -> str:
    """A column's letters, counted from 0.

    >>> _letters(0), _letters(25), _letters(26)
    ('A', 'Z', 'AA')
    """
    text = ""
    at += 1
    while at:
        at, rest = divmod(at - 1, 26)
        text = chr(65 + rest) + text
    return text


def _read(cell: Any, formula: Any, place: str) -> _Cell:
    """One cell as the text that a person would have typed."""
    value, shape = cell.value, getattr(cell, "number_format", "") or ""
    if value is None:
        if isinstance(formula.value, str) and formula.value.startswith("="):
            return _Cell(place, formula.value, "is a formula without a value")
        return _Cell(place, "")
    if isinstance(value, bool):
        return _Cell(place, "true" if value else "false")
    if isinstance(value, datetime.datetime | datetime.date):
        return _Cell(place, value.isoformat()[:10], "was made a date by the spreadsheet program")
    if isinstance(value, datetime.time | datetime.timedelta):
        return _Cell(place, str(value), "was made a time by the spreadsheet program")
    if isinstance(value, int | float):
        return _Cell(place, _number(float(value), shape))
    text = str(value)
    if text.startswith("#") and text.rstrip("!?").isupper():
        return _Cell(place, text, "is an error value")
    return _Cell(
        place, re.sub(r"^'(?=.)", "", text.strip())
    )  # a leading ' says that a text follows


def _number(value: float, shape: str) -> str:
    """A number as it was typed: fractions and percentages as such.

    >>> _number(612.0, "General"), _number(24.125, "# ?/?"), _number(0.05, "0%")
    ('612', '24 1/8', '5%')
    """
    if "?/" in shape:
        near = Fraction(abs(value)).limit_denominator(64)
        whole, rest = divmod(near, 1)
        text = (
            " ".join(t for t in (str(whole) if whole else "", str(rest) if rest else "") if t)
            or "0"
        )
        return ("-" if value < 0 else "") + text
    if shape.endswith("%"):
        return f"{value * 100:.10g}%"
    return repr(round(value, 10)).removesuffix(".0")


def _same(now: str, was: str) -> bool:
    """Whether a cell still holds what was sent, however the program keeps it."""
    if now == was or now == safe(was, 32_000).strip():
        return True
    if PLAIN.fullmatch(now) and PLAIN.fullmatch(was):
        return float(now) == float(was)
    return now.casefold() == was.casefold() and now.casefold() in ("true", "false")


@dataclass
class _Found:
    """Collects what was changed."""

    reader: _Reader
    sent: list[tuple[str, ...]]
    cells: list[Change] = field(default_factory=list)
    measured: list[Measured] = field(default_factory=list)
    problems: list[Problem] = field(default_factory=list)
    added: dict[str, list[dict[str, str]]] = field(default_factory=dict)
    removed: dict[str, list[int]] = field(default_factory=dict)
    heads: dict[str, list[str]] = field(default_factory=dict)
    sent_rows: dict[tuple[str, int], dict[str, str]] = field(default_factory=dict)

    def problem(self, sheet: str, place: str, found: str, fix: str) -> None:
        self.problems.append(
            Problem(f"{self.reader.file}, sheet {sheet}, cell {place}", found, fix)
        )

    def take(self, change: Change, cell: _Cell) -> bool:
        """Note a changed cell, unless it cannot be one."""
        if cell.problem:
            fix = f"It was {change.was}." if change.was else "Leave it empty."
            fix = f"Type what you mean with its unit, as a text. {fix}"
            self.problem(change.sheet, cell.place, f'"{safe(cell.text, 60)}" {cell.problem}.', fix)
            return False
        self.cells.append(change)
        return True

    # ---- catalogue and parts ------------------------------------------------------------

    def table(self, sheet: str, key: str) -> None:
        """Compare a table row by row, found by name, wherever rows and columns went."""
        heads = [what for s, _, of, what, _ in self.sent if s == sheet and of == "head"]
        for s, line, of, what, typed in self.sent:
            if s == sheet and of != "head":
                self.sent_rows.setdefault((sheet, int(line)), {})[what] = typed
        lines = {line: row for (s, line), row in self.sent_rows.items() if s == sheet}
        self.heads[sheet] = heads
        rows = self.reader.rows(sheet, len(lines) + SPARE_ROWS, len(heads) + SPARE_COLUMNS)
        top = _head_row(rows, heads)
        if top is None:
            self.problem(
                sheet, "A1", "the sheet or its head line is gone.", "Nothing of it was taken in."
            )
            return
        columns = self._columns(sheet, rows[top], heads)
        name = next((h for h in heads if h.split("[")[0].strip().casefold() == key), heads[0])
        body = [r for r in rows[top + 1 :] if any(c.text for c in r)]
        for row, before in self._paired(body, lines, columns, name):
            if before is None:
                self._new(sheet, row, columns)
            else:
                self._row(sheet, row, columns, before, lines.pop(before), name)
        self.removed[sheet] = sorted(lines)

    def _columns(self, sheet: str, row: Sequence[_Cell], heads: Sequence[str]) -> dict[str, int]:
        """Head -> column, new ones too."""
        texts: dict[str, int] = {}
        for at, cell in enumerate(row):
            if cell.text:
                texts.setdefault(cell.text, at)
        shown = {safe(h, 200).strip(): h for h in heads}
        columns = {shown.get(text, text): at for text, at in texts.items()}
        for head in heads:
            if head not in columns:
                fix = "Write the head again, or leave the column out of the catalogue itself."
                self.problem(
                    sheet,
                    "row of heads",
                    f'the column "{safe(head, 60)}" is gone: it was kept as it was.',
                    fix,
                )
        for head, at in columns.items():
            if head not in heads:
                self.heads[sheet].append(head)
                self.cells.append(Change(sheet, row[at].place, "head", head, "", head))
        return columns

    def _paired(
        self, body: Rows, lines: dict[int, dict[str, str]], columns: dict[str, int], name: str
    ) -> list[tuple[list[_Cell], int | None]]:
        """Each row with the line that it was; by name first, then by what else it holds."""
        left, open_ = dict(lines), []
        pairs: dict[int, int | None] = {}
        for at, row in enumerate(body):
            text = row[columns[name]].text if name in columns else ""
            mine = [n for n, sent in left.items() if _same(text, sent.get(name, ""))]
            best = max(mine, key=lambda n: _alike(row, left[n], columns), default=None)
            if best is None:
                open_.append(at)
            else:
                pairs[at] = best
                del left[best]
        for at in open_:
            best = max(left, key=lambda n: _alike(body[at], left[n], columns), default=None)
            alike = best is not None and _alike(body[at], left[best], columns) > 0.6
            pairs[at] = best if alike else None
            if alike and best is not None:
                del left[best]
        return [(row, pairs[at]) for at, row in enumerate(body)]

    def _row(
        self,
        sheet: str,
        row: Sequence[_Cell],
        columns: dict[str, int],
        line: int,
        sent: dict[str, str],
        name: str,
    ) -> None:
        for head, at in columns.items():
            cell, was = row[at] if at < len(row) else _Cell("", ""), sent.get(head, "")
            if not _same(cell.text, was) or (cell.problem and cell.text != was):
                self.take(
                    Change(sheet, cell.place, sent.get(name, ""), head, was, cell.text, line), cell
                )

    def _new(self, sheet: str, row: Sequence[_Cell], columns: dict[str, int]) -> None:
        texts: dict[str, str] = {}
        name = next(iter(columns))
        for head, at in columns.items():
            cell = row[at]
            if cell.text:
                of = row[columns[name]].text
                if self.take(Change(sheet, cell.place, of, head, "", cell.text), cell):
                    texts[head] = cell.text
        self.added.setdefault(sheet, []).append(texts)

    # ---- car ------------------------------------------------------------

    def car(self) -> None:
        """Compare the profile key by key."""
        sent = {place: typed for s, place, _, _, typed in self.sent if s == CAR}
        rows = self.reader.rows(CAR, len(sent) + SPARE_ROWS, 5)
        for row in rows:
            place = f"{row[0].text}.{row[1].text}" if len(row) > 2 else ""
            if place not in sent:
                if (
                    len(row) > 2
                    and row[0].text
                    and row[1].text
                    and row[2].text
                    and row[0].text != "section"
                ):
                    self.take(
                        Change(CAR, row[2].place, row[0].text, row[1].text, "", row[2].text), row[2]
                    )
                continue
            cell, was = row[2], sent.pop(place)
            now = "" if cell.text.casefold() in ("", "?", NOT_KNOWN) else cell.text
            if not _same(now, was):
                section, key = place.split(".", 1)
                self.take(Change(CAR, cell.place, section, key, was, now), cell)

    # ---- boxes ------------------------------------------------------------

    def boxes(self) -> None:
        """The boxes that were filled in, with who and when."""
        mine = [(place, of, what) for s, place, of, what, _ in self.sent if s == LIST]
        last = max((int(re.sub(r"\D", "", place)) for place, *_ in mine), default=0)
        cells = {c.place: c for row in self.reader.rows(LIST, last, 8) for c in row}
        text = lambda place: cells[place].text if place in cells else ""
        who = {what: text(place) for place, of, what in mine if of == "who"}
        filled: dict[str, dict[str, str]] = {}
        for place, of, what in mine:
            if of in ("value", "with"):
                filled.setdefault(what, {})[of] = place
        for key, places in filled.items():
            owner, dimension = key.split("\t")
            cell = cells.get(places["value"])
            if cell is None or not cell.text:
                continue
            change = Change(LIST, cell.place, owner, dimension, "", cell.text)
            if self.take(change, cell):
                self.cells.pop()
                self.measured.append(
                    Measured(
                        who.get("on", ""),
                        who.get("by", ""),
                        owner,
                        dimension,
                        cell.text,
                        text(places["with"]),
                        cell.place,
                    )
                )


def _head_row(rows: Rows, heads: Sequence[str]) -> int | None:
    wanted = {safe(h, 200).strip() for h in heads}
    for at, row in enumerate(rows[:40]):
        if len(wanted & {c.text for c in row}) >= max(1, len(wanted) / 2):
            return at
    return None


def _alike(row: Sequence[_Cell], sent: dict[str, str], columns: dict[str, int]) -> float:
    """Share of the cells that were filled when sent and still hold the same."""
    filled = [h for h, t in sent.items() if t and h in columns]
    same = sum(_same(row[columns[h]].text, sent[h]) for h in filled if columns[h] < len(row))
    return same / len(filled) if filled else 0.0


# ---- texts of files ------------------------------------------------------------


def table_text(changes: Changes, sheet: str) -> str:
    """A whole table as CSV, as it is now."""
    out = io.StringIO()
    write = csv.writer(out, lineterminator="\n")
    heads = changes.heads[sheet]
    write.writerow(heads)
    gone = set(changes.removed.get(sheet, []))
    edits = {(c.line, c.what): c.now for c in changes.cells if c.sheet == sheet and c.line}
    for (name, line), sent in changes.sent.items():
        if name == sheet and line not in gone:
            write.writerow([edits.get((line, h), sent.get(h, "")) for h in heads])
    for row in changes.added.get(sheet, []):
        write.writerow([row.get(h, "") for h in heads])
    return out.getvalue()


def edited_csv(text: str, changes: Changes, sheet: str, delimiter: str = ",") -> str:
    """A CSV file with the changed cells written in; comments and all other lines stay as they are.

    A changed row must stand on one line. Raises ValueError where the file is not the one that was sent.
    """
    lines = (
        text.splitlines(keepends=True)
        if "\r" not in text
        else re.findall(r"[^\r\n]*(?:\r\n|\n|\r|$)", text)[:-1]
    )
    end = "\r\n" if "\r\n" in text else "\n"
    by_line: dict[int, dict[str, str]] = {}
    for change in changes.cells:
        if change.sheet == sheet and change.line:
            by_line.setdefault(change.line, {})[change.what] = change.now
    first = min((line for name, line in changes.sent if name == sheet), default=0)
    head_at = next(
        i
        for i in range(first - 2, -1, -1)
        if lines[i].strip() and not lines[i].lstrip().startswith("#")
    )
    heads = next(csv.reader([lines[head_at]], delimiter=delimiter))
    new = [h for h in changes.heads[sheet] if h not in heads]
    join = lambda cells: _row_text(cells, delimiter) + end
    for (name, line), sent in changes.sent.items():
        if name != sheet or (line not in by_line and not new):
            continue
        cells = next(csv.reader([lines[line - 1]], delimiter=delimiter))
        if [sent.get(h, "") for h in heads] != [c.strip() for c in cells]:
            raise ValueError(f"line {line} is not what was sent")
        edits = by_line.get(line, {})
        lines[line - 1] = join(
            [
                edits.get(h, c)
                for h, c in zip([*heads, *new], [*cells, *("" for _ in new)], strict=True)
            ]
        )
    if new:
        lines[head_at] = join([*heads, *new])
    for line in changes.removed.get(sheet, []):
        lines[line - 1] = ""
    if lines and lines[-1] and not lines[-1].endswith(("\n", "\r")):
        lines[-1] += end
    added = changes.added.get(sheet, [])
    return "".join(lines) + "".join(join([row.get(h, "") for h in [*heads, *new]]) for row in added)


def _row_text(cells: Iterable[str], delimiter: str) -> str:
    out = io.StringIO()
    csv.writer(out, delimiter=delimiter, lineterminator="").writerow(list(cells))
    return out.getvalue()


def toml_value(text: str) -> str:
    """A typed text as a TOML value.

    >>> toml_value("612"), toml_value("true"), toml_value("24 1/8 in"), toml_value("[lathe, mill]")
    ('612', 'true', '"24 1/8 in"', '["lathe", "mill"]')
    """
    if re.fullmatch(r"[-+]?(?:0|[1-9]\d*)(?:\.\d+)?|true|false", text):
        return text
    if text.startswith(("[", "{")):
        try:
            tomllib.loads(f"x = {text}")
            return text
        except tomllib.TOMLDecodeError:
            pass
        if text.startswith("[") and text.endswith("]") and not set("[]{}") & set(text[1:-1]):
            return (
                "["
                + ", ".join(toml_value(t.strip()) for t in text[1:-1].split(",") if t.strip())
                + "]"
            )
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")


def edited_car(text: str, changes: Changes) -> str:
    """A profile with the changed keys written in; comments and all other lines stay as they are.

    Raises ValueError where the result would not hold what was typed.
    """
    for change in (c for c in changes.cells if c.sheet == CAR):
        text = _with_key(
            text, change.of, change.what, toml_value(change.now) if change.now else None
        )
    try:
        data = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise ValueError(f"the profile could not be edited: {error}") from None
    for change in (c for c in changes.cells if c.sheet == CAR):
        held = data.get(change.of, {}).get(change.what)
        wanted = tomllib.loads(f"x = {toml_value(change.now)}")["x"] if change.now else None
        if held != wanted:
            raise ValueError(f"{change.of}.{change.what} could not be edited")
    return text


def _with_key(text: str, section: str, key: str, value: str | None) -> str:
    """The text with one key set, or taken out."""
    lines = text.split("\n")
    head = re.compile(rf"\s*\[\s*{re.escape(section)}\s*\]\s*(#.*)?$")
    start = next((i for i, line in enumerate(lines) if head.match(line)), None)
    if start is None:
        return text if value is None else text.rstrip("\n") + f"\n\n[{section}]\n{key} = {value}\n"
    stop = next(
        (
            i
            for i in range(start + 1, len(lines))
            if re.match(r"\s*\[", lines[i]) and not _inside(lines, start, i)
        ),
        len(lines),
    )
    pattern = re.compile(rf'\s*"?{re.escape(key)}"?\s*=')
    at = next((i for i in range(start + 1, stop) if pattern.match(lines[i])), None)
    if at is None:
        while stop > start + 1 and not lines[stop - 1].strip():
            stop -= 1
        return (
            text if value is None else "\n".join([*lines[:stop], f"{key} = {value}", *lines[stop:]])
        )
    last = at
    while last + 1 < stop and _inside(lines, at - 1, last + 1):
        last += 1
    note = re.search(r'(?<=["\d\]\w])(\s+#[^"\']*)$', lines[last])
    new = [] if value is None else [f"{key} = {value}{note[1] if note else ''}"]
    return "\n".join([*lines[:at], *new, *lines[last + 1 :]])


def _inside(lines: Sequence[str], after: int, at: int) -> bool:
    """Whether line `at` still belongs to a value begun after line `after`: brackets are open."""
    open_ = 0
    for line in lines[after + 1 : at]:
        bare = re.sub(r'"(?:[^"\\]|\\.)*"|\'[^\']*\'', "", line).split("#")[0]
        if re.match(r"\s*\[[^=]*\]\s*$", bare) and not open_:
            continue
        open_ += sum(bare.count(c) for c in "[{") - sum(bare.count(c) for c in "]}")
    return open_ > 0
