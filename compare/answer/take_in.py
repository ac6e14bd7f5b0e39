"""A friend's workbook comes back: which cells were changed, against what was sent.

What was sent is carried in a hidden sheet. Nothing is written here and nothing is judged: `brought`
makes tables, profile and log of it, `effects` says what each change did, `returned` writes.
"""

from __future__ import annotations

import datetime
import hashlib
import io
import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from pathlib import Path
from typing import Any

from compare.figures import safe
from compare.problems import InputError, Problem
from compare.read.book import Book, BookError
from compare.read.sheet import read_bytes

__all__ = ["CAR", "LIST", "LOG", "TABLES", "Change", "Changes", "Measured", "read_back", "was_sent"]

SENT, CAR, LIST, LOG = "Sent", "Car", "Measuring list", "Measured"
TABLES = {"Catalogue": "name", "Parts": "part"}
TRIED, TRIED_ROWS = "What-if", 40
NOT_KNOWN = "not known"
SPARE_ROWS, SPARE_COLUMNS = (
    500,
    30,
)  # read beyond what was sent; what lies further out is not looked at
PLAIN = re.compile(r"-?\d+(?:\.\d+)?")


@dataclass(frozen=True)
class Change:
    """One changed cell: what it is about, what was sent, what it holds now; line 0 is a new row.

    number: what the cell holds where it is a number and no text.
    """

    sheet: str
    cell: str
    of: str
    what: str
    was: str
    now: str
    line: int = 0
    number: float | None = None


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
    """What came back. problems: what cannot be taken in as it stands, each with what to type
    instead;
    notes: what was not taken in and need not be.

    added: sheet -> rows (head -> change) that are new; removed: sheet -> lines whose rows are gone;
    heads: sheet -> its heads; sent: (sheet, line) -> head -> text as typed before it was sent; car:
    section.key -> text; log: rows of the measured log that were counted; places: (sheet, line or
    section.key) -> row of the workbook.
    """

    file: str
    digest: str
    cells: tuple[Change, ...] = ()
    measured: tuple[Measured, ...] = ()
    problems: tuple[Problem, ...] = ()
    notes: tuple[str, ...] = ()
    added: dict[str, list[dict[str, Change]]] = field(default_factory=dict)
    removed: dict[str, list[int]] = field(default_factory=dict)
    heads: dict[str, list[str]] = field(default_factory=dict)
    sent: dict[tuple[str, int], dict[str, str]] = field(default_factory=dict)
    car: dict[str, str] = field(default_factory=dict)
    log: tuple[tuple[str, ...], ...] = ()
    places: dict[tuple[str, str], int] = field(default_factory=dict)

    @property
    def car_keys(self) -> list[tuple[str, str, str]]:
        """The changed keys of the car: (section, key, text)."""
        return [(c.of, c.what, c.now) for c in self.cells if c.sheet == CAR]

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
    number: float | None = None

    @property
    def row(self) -> int:
        return int(re.sub(r"\D", "", self.place))


Rows = list[list[_Cell]]


def was_sent(path: str | Path) -> bool:
    """Whether a file is a workbook of this program that can be taken in."""
    try:
        data = Path(path).read_bytes()
    except (OSError, ValueError):
        return False
    if data[:4] != b"PK\x03\x04":
        return False
    try:
        return SENT in Book(data).sheets
    except BookError:
        return False


MEANT = (
    "Name a workbook that rank wrote (report.xlsx in a folder that start made, else "
    "reports/<catalogue>.xlsx), as it came back."
)


def read_back(path: str | Path) -> Changes:
    """Compare a workbook with what was sent in it. Raises InputError where it cannot be read."""
    import openpyxl

    file, books = str(path), []
    data = read_bytes(path)
    if data[:4] != b"PK\x03\x04":
        raise InputError([Problem(file, "is no workbook (.xlsx).", MEANT)])
    for values in (True, False):
        try:
            books.append(openpyxl.load_workbook(io.BytesIO(data), read_only=True, data_only=values))
        except Exception:  # openpyxl raises many kinds on broken files
            broken = "is a workbook that is damaged: it cannot be opened."
            raise InputError([Problem(file, broken, f"Have it sent again. {MEANT}")]) from None
    if SENT not in books[0].sheetnames:
        other = "is a workbook, but it does not hold what was sent: rank did not write it."
        raise InputError([Problem(file, other, MEANT)])
    try:
        found = _Found(_Reader(file, *books), _sent(books[0][SENT]))
        found.everything()
    except (ValueError, KeyError, TypeError, IndexError):
        changed = "holds what was sent, but that was changed and cannot be read any more."
        raise InputError([Problem(file, changed, f"Have it sent again. {MEANT}")]) from None
    for book in books:
        book.close()
    return found.changes(hashlib.sha256(data).hexdigest()[:16])


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
        plain = "?/" not in shape and not shape.endswith("%")
        return _Cell(place, _number(float(value), shape), "", float(value) if plain else None)
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
    notes: list[str] = field(default_factory=list)
    added: dict[str, list[dict[str, Change]]] = field(default_factory=dict)
    removed: dict[str, list[int]] = field(default_factory=dict)
    heads: dict[str, list[str]] = field(default_factory=dict)
    sent_rows: dict[tuple[str, int], dict[str, str]] = field(default_factory=dict)
    places: dict[tuple[str, str], int] = field(default_factory=dict)

    def everything(self) -> None:
        """Compare every sheet that may come back changed."""
        for sheet, key in TABLES.items():
            if any(row[0] == sheet for row in self.sent):
                self.table(sheet, key)
        self.car()
        self.boxes()
        self.tried()

    def tried(self) -> None:
        """Say which inputs of What-if were changed: they are for trying and are not read back."""
        sheet = self.reader.formulas
        if TRIED not in sheet.sheetnames:
            return
        for name, was, now in sheet[TRIED].iter_rows(
            max_row=TRIED_ROWS, max_col=3, values_only=True
        ):
            changed = isinstance(was, int | float) and now != was and now is not None
            if changed and not str(now).startswith("="):
                self.notes.append(
                    f"{TRIED}: {safe(str(name), 60)} is {safe(str(now), 40)} and was {was:g}. That sheet is for "
                    f"trying and is not read back; what is to count goes into {CAR}."
                )

    def changes(self, digest: str) -> Changes:
        """What was found, as it is handed on."""
        return Changes(
            self.reader.file,
            digest,
            tuple(self.cells),
            tuple(self.measured),
            tuple(self.problems),
            tuple(self.notes),
            self.added,
            self.removed,
            self.heads,
            self.sent_rows,
            {place: typed for s, place, _, _, typed in self.sent if s == CAR and typed},
            tuple(row[1:] for row in self.sent if row[0] == LOG),
            self.places,
        )

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
            self.notes.append(
                f"{sheet}: the sheet or its head line is gone; as it was sent counts."
            )
            self.removed[sheet] = []
            return
        columns = self._columns(sheet, rows[top], heads)
        name = next((h for h in heads if h.split("[")[0].strip().casefold() == key), heads[0])
        body = [r for r in rows[top + 1 :] if any(c.text for c in r)]
        for row, before in self._paired(body, lines, columns, name):
            if before is None:
                self._new(sheet, row, columns, name)
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
                gone = f'the column "{safe(head, 60)}" is gone; as it was sent counts.'
                self.notes.append(f"{sheet}: {gone}")
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
            self.places[sheet, str(line)] = row[0].row
            if not _same(cell.text, was) or (cell.problem and cell.text != was):
                self.take(
                    Change(
                        sheet,
                        cell.place,
                        sent.get(name, ""),
                        head,
                        was,
                        cell.text,
                        line,
                        cell.number,
                    ),
                    cell,
                )

    def _new(self, sheet: str, row: Sequence[_Cell], columns: dict[str, int], name: str) -> None:
        found: dict[str, Change] = {}
        of = row[columns[name]].text if name in columns else ""
        for head, at in columns.items():
            cell = row[at]
            if cell.text:
                one = Change(sheet, cell.place, of, head, "", cell.text, 0, cell.number)
                if self.take(one, cell):
                    found[head] = one
        self.added.setdefault(sheet, []).append(found)

    # ---- car ------------------------------------------------------------

    def car(self) -> None:
        """Compare the profile key by key."""
        sent = {place: typed for s, place, _, _, typed in self.sent if s == CAR}
        rows = self.reader.rows(CAR, len(sent) + SPARE_ROWS, 5)
        for row in rows:
            if len(row) < 3 or not row[0].text or not row[1].text or row[0].text == "section":
                continue
            section, key, cell = row[0].text, row[1].text, row[2]
            place = f"{section}.{key}"
            if place not in sent and not cell.text:
                continue
            self.places[CAR, place] = cell.row
            was = sent.pop(place, "")
            now = "" if cell.text.casefold() in ("", "?", NOT_KNOWN) else cell.text
            if not _same(now, was) or (cell.problem and cell.text != was):
                self.take(Change(CAR, cell.place, section, key, was, now, 0, cell.number), cell)
        for place in (p for p, typed in sent.items() if typed):
            self.notes.append(f"Car: the row of {safe(place, 60)} is gone; as it was sent counts.")

    # ---- boxes ------------------------------------------------------------

    def boxes(self) -> None:
        """The boxes that were filled in, with who and when."""
        mine = [(place, of, what) for s, place, of, what, _ in self.sent if s == LIST]
        units = {what: unit for s, _, of, what, unit in self.sent if s == LIST and of == "value"}
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
                        _with_unit(cell.text, units.get(key, "")),
                        text(places["with"]),
                        cell.place,
                    )
                )


def _with_unit(text: str, unit: str) -> str:
    """A number from a box with the unit that the list shows, where nobody typed one.

    >>> _with_unit("3 1/16", "in"), _with_unit("77.5 mm", "in"), _with_unit("77.5", "")
    ('3 1/16 in', '77.5 mm', '77.5')
    """
    return f"{text} {unit}" if unit and re.fullmatch(r"[-+±\d\s.,/½¼¾⅛⅜⅝⅞]+", text) else text


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
