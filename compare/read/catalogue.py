"""Catalogue and parts files -> columns of numbers, each cell with its origin.

Numbers are read a column at a time, plain ones in one stroke and only odd cells one by one. What a
single cell leaves open, its neighbours may settle: the file's decimal mark, the gears before and
behind, the size of the others.
"""

from __future__ import annotations

import datetime
import difflib
import math
import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

import numpy as np

from compare.kinds import KINDS
from compare.problems import MEANT, CellError, InputError, Problem, did_you_mean, visible
from compare.read.book import Cell, Formula
from compare.read.cells import Value, factor, find_unit, parse, parse_number, read_choice, read_flag
from compare.read.ledger import ASKED, READ, UNKNOWN, entry
from compare.read.numbers import DECIMAL_HABIT
from compare.read.sheet import Sheet, as_text, read_sheet, split_head
from compare.vocabulary import (
    CAR_KEYS,
    GEARS,
    KEEP,
    LOWEST_FROM_BELL,
    PART_COLUMNS,
    PART_KINDS,
    STATION_SIDES,
    Term,
    catalogue_terms,
)  # fmt: skip

__all__ = [
    "RESERVED", "Column", "Sheet", "Table", "catalogue_table", "load_catalogue", "load_parts", "mark_term",
    "part_terms", "parts_table",
    "read_choice", "read_sheet", "read_table", "split_head",
]  # fmt: skip

MARK = "mark_"
# What reports and logs call the car and what is driven today.
RESERVED = ("car", KEEP)
CAR_HEAD = "car."
# Every kind with a unit that is kept, and the bare numbers.
NUMERIC = tuple(
    k.name for k in KINDS.values() if k.kept or k.name in ("fraction", "number", "ratio")
)
REPLACEABLE = (*NUMERIC, "count", "counts", "money", "choice", "flag")


@dataclass
class Column:
    """Nominal, half-width and top of a free choice, each `(rows,)` in internal units;

    NaN is unknown.

    A choice column holds the index of the choice; a text beyond the listed choices counts one past
    the last.
    """

    nominal: np.ndarray
    half: np.ndarray
    high: np.ndarray


@dataclass(frozen=True)
class _Head:
    """What one head of a file means. `kind` is name, text, number, car, or note."""

    at: int
    name: str
    kind: str
    term: Term | None = None
    unit: str | None = None


@dataclass
class Table:
    """A catalogue or a parts file. `names` are the rows' own names;

    `texts` holds text columns as typed.

    `car_columns` (parts only) are the car's keys that a part replaces, by the name that rules know
    them by.
    """

    file: str
    names: list[str]
    lines: list[int]
    columns: dict[str, Column]
    texts: dict[str, list[str]]
    head: list[str]
    rows: list[list[str]]
    warnings: list[str] = field(default_factory=list)
    digest: str = ""
    car_columns: dict[str, Column] = field(default_factory=dict)
    heads: list[_Head] = field(default_factory=list, repr=False)
    asked: set[tuple[int, int]] = field(default_factory=set, repr=False)

    def __len__(self) -> int:
        return len(self.names)

    def text(self, column: str, row: int) -> str:
        found = self.texts.get(column)
        return found[row] if found else ""

    @property
    def readings(self) -> list[dict[str, Any]]:
        """The reading ledger: one row per cell that holds something."""
        return list(self.each_reading())

    def each_reading(self) -> Iterator[dict[str, Any]]:
        """The same, row after row: a large table's ledger need not be held at once."""
        for row, typed in enumerate(self.rows):
            for head in self.heads:
                if typed[head.at].strip():
                    yield self.reading(row, head)

    def held(self, head: _Head) -> list[list[float]]:
        """Values, half-widths, highest values of a column of numbers, 0 where not known, and which
        values are not.
        """
        assert head.term is not None
        column = self._column(head, head.term)
        known = (np.nan_to_num(a).tolist() for a in (column.nominal, column.half, column.high))
        return [*known, np.isnan(column.nominal).tolist()]

    def _column(self, head: _Head, term: Term) -> Column:
        return self.car_columns[term.name] if head.kind == "car" else self.columns[head.name]

    def reading(self, row: int, head: _Head) -> dict[str, Any]:
        """The row of the ledger for one cell."""
        term, text = head.term, self.rows[row][head.at].strip()
        kind = term.kind if term is not None else "text"
        column = head.name if head.kind != "note" else self.head[head.at]
        value: Value | str | float | None = text
        state = READ
        if (row, head.at) in self.asked:
            value, state = None, ASKED
        elif term is not None and head.kind in ("number", "car"):
            held = self._column(head, term)
            if math.isnan(held.nominal[row]):
                value, state = None, UNKNOWN
            elif kind == "choice":
                at = int(held.nominal[row])
                value = term.choices[at] if at < len(term.choices) else text
            elif kind == "flag":
                value = float(held.nominal[row])
            else:
                value = Value(
                    float(held.nominal[row]), float(held.half[row]), float(held.high[row])
                )
        return entry(self.file, self.lines[row], self.names[row], column, text, kind, value, state)


def load_catalogue(path: str | Path) -> Table:
    """Read a catalogue (CSV or workbook). Raises InputError with every problem of the file."""
    return catalogue_table(read_sheet(path))


def load_parts(path: str | Path) -> Table:
    """Read a parts file. Raises InputError with every problem of the file."""
    return parts_table(read_sheet(path))


def catalogue_table(sheet: Sheet) -> Table:
    """A sheet as a catalogue. Raises InputError."""
    return read_table(sheet, "name", catalogue_terms())


def parts_table(sheet: Sheet) -> Table:
    """A sheet as a parts file. Raises InputError."""
    table = read_table(sheet, "part", part_terms(), {f"{t.section}.{t.key}": t for t in CAR_KEYS})
    for name, line, kind in zip(table.names, table.lines, table.texts["kind"], strict=True):
        if " ".join(kind.casefold().split()) not in PART_KINDS:
            near = did_you_mean(kind, PART_KINDS)
            hint = f"; did you mean {near}?" if near else ""
            who = f"{visible(name, 40)} (line {line} of {visible(table.file, 80)})"
            table.warnings.append(
                f'{who} is a "{visible(kind, 40)}", a kind that is not known, taken as one of its own{hint}'
            )
    return table


def part_terms() -> dict[str, Term]:
    """The columns that a parts file may have."""
    return {t.name: t for t in PART_COLUMNS} | {
        n: t for n, t in catalogue_terms().items() if n not in ("name", "family")
    }


def mark_term(name: str) -> Term | None:
    """The term of an owner's mark, `mark_NAME`; None for another name.

    >>> mark_term("mark_feel").high, mark_term("length")
    (10, None)
    """
    if name.startswith(MARK) and len(name) > len(MARK):
        return Term(
            name,
            "number",
            "the owner's mark, 0 to 10: what no sum can know",
            low=0,
            high=10,
            exact=True,
        )
    return None


def read_table(
    sheet: Sheet,
    name_column: str,
    terms: Mapping[str, Term],
    car_terms: Mapping[str, Term] | None = None,
) -> Table:
    """Give a sheet its meaning: every cell read, every problem collected. Raises InputError.

    `car_terms` are the car's keys that a part may replace, by `section.key`.
    """
    warnings = list(sheet.warnings)
    heads, problems = _heads(sheet, name_column, terms, car_terms, warnings)
    _need_name_column(sheet, name_column, heads, problems)
    raw: list[tuple[Cell, ...]] = (
        list(zip(*sheet.cells, strict=True)) if sheet.cells else [()] * len(sheet.head)
    )
    shown: list[Sequence[str]] = (
        list(zip(*sheet.rows, strict=True)) if sheet.rows else [()] * len(sheet.head)
    )
    name_head = next(h for h in heads if h.kind == "name")
    names = [t.strip() for t in shown[name_head.at]]
    problems += _name_problems(sheet.file, names, sheet.lines, name_column)
    table = Table(
        sheet.file,
        names,
        sheet.lines,
        {},
        {name_column: names},
        sheet.head,
        sheet.rows,
        warnings,
        sheet.digest,
        heads=heads,
    )
    habit = _Habit(sheet, heads)
    wrong: list[tuple[int, _Head, CellError]] = []
    for head in heads:
        if head.kind == "note":
            table.texts[f"note: {sheet.head[head.at]}"] = [t.strip() for t in shown[head.at]]
        if (
            head.kind in ("text", "number")
            and head.term is not None
            and head.term.kind in ("text", "choice")
        ):
            table.texts[head.name] = [t.strip() for t in shown[head.at]]
        if head.kind in ("number", "car") and head.term is not None:
            column, mistakes = _read_column(raw[head.at], head.term, head.unit, habit)
            if head.term.name in LOWEST_FROM_BELL and head.kind == "number":
                column, mistakes = _from_bell(raw, heads, head, habit, column, mistakes)
            (table.car_columns if head.kind == "car" else table.columns)[head.term.name] = column
            wrong += [(row, head, error) for row, error in mistakes]
    wrong = [w for w in wrong if not _settled_by_gears(table, *w)]
    wrong += _inches_asked(table, sheet)
    table.asked = {(row, head.at) for row, head, _ in wrong}
    problems += [
        Problem(
            sheet.file,
            e.found,
            e.fix,
            sheet.lines[row],
            names[row],
            sheet.head[head.at],
            options=e.options,
            mend=e.mend,
        )
        for row, head, e in wrong
    ]
    problems += _whole_table_problems(table, name_column, wrong, bool(sheet.problems))
    if problems or sheet.problems:
        raise InputError([*sheet.problems, *problems], table.each_reading)
    return table


# ---- heads ---------------------------------------------------------------------------------------


def _heads(
    sheet: Sheet,
    name_column: str,
    terms: Mapping[str, Term],
    car_terms: Mapping[str, Term] | None,
    warnings: list[str],
) -> tuple[list[_Head], list[Problem]]:
    """The meaning of every head, and what is wrong with heads."""
    heads: list[_Head] = []
    problems: list[Problem] = []
    names = {split_head(h)[0] for h in sheet.head}
    for at, head in enumerate(sheet.head):
        name, unit_text = split_head(head)
        if not name:
            problems.append(
                Problem(
                    sheet.file,
                    f"column {at + 1} has no head.",
                    "Give it a name, or delete the column.",
                    sheet.head_line,
                )
            )
            continue
        if any(h.name == name for h in heads):
            problems.append(
                Problem(
                    sheet.file,
                    f'the head "{visible(name)}" stands twice.',
                    "Keep one of the two columns.",
                    column=head,
                )
            )
            continue
        if name.startswith(CAR_HEAD):
            found = _car_head(sheet.file, at, head, name, unit_text, car_terms)
        else:
            term = terms.get(name) or mark_term(name)
            found = (
                _known_head(sheet.file, at, head, name, unit_text, term)
                if term
                else _unknown_head(sheet, at, name, terms, names, warnings)
            )
            if name == name_column and isinstance(found, _Head):
                found = _Head(at, name, "name")
        if isinstance(found, Problem):
            problems.append(found)
        else:
            heads.append(found)
    return heads, problems


def _known_head(
    file: str, at: int, head: str, name: str, unit_text: str | None, term: Term
) -> _Head | Problem:
    kind = "text" if term.kind == "text" else "number"
    unit = find_unit(term.kind, unit_text) if unit_text else None
    if unit_text and unit is None and term.kind not in ("money", "text"):
        return Problem(
            file,
            f'"{visible(unit_text, 20)}" is no unit for {name}.',
            f"Write {name} [{term.unit or 'no unit'}].",
            column=head,
        )
    return _Head(at, name, kind, term, unit)


def _car_head(
    file: str,
    at: int,
    head: str,
    name: str,
    unit_text: str | None,
    car_terms: Mapping[str, Term] | None,
) -> _Head | Problem:
    if car_terms is None:
        return Problem(
            file,
            f'"{visible(head, 40)}" is a key of the car.',
            "Only a part may replace one: put the column into the parts file.",
            column=head,
        )
    key = name[len(CAR_HEAD) :]
    term = car_terms.get(key)
    if term is None:
        near = did_you_mean(key, car_terms)
        fix = (
            f"Did you mean {CAR_HEAD}{near}?"
            if near
            else "It takes car.section.key, with the keys of the car profile."
        )
        return Problem(file, f'"{visible(key, 40)}" is no key of a car profile.', fix, column=head)
    if term.kind not in REPLACEABLE:
        return Problem(
            file,
            f"{visible(key, 40)} cannot be replaced by a part.",
            "Change it in the car profile.",
            column=head,
        )
    found = _known_head(file, at, head, name, unit_text, term)
    return found if isinstance(found, Problem) else _Head(at, name, "car", term, found.unit)


def _unknown_head(
    sheet: Sheet,
    at: int,
    name: str,
    terms: Mapping[str, Term],
    names: set[str],
    warnings: list[str],
) -> _Head | Problem:
    """A column of the owner's own is a note;

    one that resembles a column is a slip, or made to look like none.
    """
    head = sheet.head[at]
    near = "" if name.startswith("note") else _resembles(name, [t for t in terms if t not in names])
    if near:
        return Problem(
            sheet.file, f'column "{visible(head, 40)}" is not known.',
            f"Did you mean {near}? To keep it as a note of your own, begin its head with note.",
            sheet.head_line, column=head,
        )  # fmt: skip
    warnings.append(
        f'{visible(sheet.file, 200)}: column "{visible(head, 40)}" is not known; kept as a note.'
    )
    return _Head(at, name, "note")


def _resembles(name: str, terms: Sequence[str]) -> str:
    """The column that an unknown head was probably meant to be, "" where there is none.

    >>> known = ["length", "shaft_stickout", "ratio_1", "source", "case_left"]
    >>> [_resembles(n, known) for n in ("lenght", "stickout", "year", "colour", "phone")]
    ['length', 'shaft_stickout', '', '', '']
    """
    if MEANT.get(name) in terms:
        return MEANT[name]
    within = [t for t in terms if len(name) >= 6 and f"_{name}_" in f"_{t}_"]
    if len(within) == 1:
        return within[0]
    near = difflib.get_close_matches(name, terms, n=1, cutoff=0.78)
    return near[0] if near else ""


def _need_name_column(
    sheet: Sheet, name_column: str, heads: Sequence[_Head], problems: list[Problem]
) -> None:
    names = [h.name for h in heads]
    if name_column in names:
        return
    file = sheet.file
    other, words = {
        "name": ("part", "This looks like a parts file: name it after --parts."),
        "part": ("name", "This looks like a catalogue: name it in the catalogue's place."),
    }[name_column]
    found = f'there is no column "{name_column}".'
    everything = [split_head(h)[0] for h in sheet.head]
    if other in everything and ("fits" in everything) == (name_column == "name"):
        raise InputError([Problem(file, found, words)])
    near = did_you_mean(name_column, everything)
    fix = (
        f"Rename {visible(near)} to {name_column}."
        if near
        else f"Add a column {name_column}; "
        "if the file uses another separator, say so in its head line."
    )
    kept = [p for p in problems if f"Did you mean {name_column}?" not in p.fix]
    raise InputError([*kept, Problem(file, found, fix)])


# ---- rows ----------------------------------------------------------------------------------------


def _name_problems(
    file: str, names: Sequence[str], lines: Sequence[int], column: str
) -> list[Problem]:
    problems = []
    seen: dict[str, int] = {}
    for name, line in zip(names, lines, strict=True):
        if not name:
            problems.append(
                Problem(
                    file,
                    "the row has no name.",
                    "Give it one; the reports speak of it by name.",
                    line,
                    column=column,
                )
            )
            continue
        key = " ".join(name.casefold().split())
        if key in RESERVED:
            other = f"{name} {'gearbox' if column == 'name' else 'part'}"
            words = "the program's own word; it cannot be a name."
            fix = f"Type another name, such as {visible(other, 60)}."
            problems.append(
                Problem(file, f'"{visible(name, 40)}" is {words}', fix, line, column=column)
            )
        if key in seen:
            problems.append(
                Problem(
                    file,
                    f"the name stands in line {seen[key]} already.",
                    "Give one of the two another name.",
                    line,
                    name,
                )
            )
        seen.setdefault(key, line)
    return problems


def _whole_table_problems(
    table: Table, name_column: str, wrong: Sequence[tuple[int, _Head, CellError]], rows_lost: bool
) -> list[Problem]:
    file = table.file
    problems: list[Problem] = []
    if name_column == "name":
        tried = {row for row, head, _ in wrong if head.name in GEARS}
        problems += _ratio_problems(table, tried)
    else:
        problems += [
            Problem(file, f"the part names no {column}.", fix, line, name)
            for column, fix in (
                ("kind", "Type what it is, such as input shaft."),
                ("fits", "Type the name or the family of the gearboxes it fits."),
            )
            for line, name, text in zip(
                table.lines, table.names, table.texts.get(column, [""] * len(table)), strict=True
            )
            if not text
        ]
    if not table.names and not problems and not rows_lost:
        fix = "Add one row per gearbox." if name_column == "name" else "Add one row per part."
        problems.append(Problem(file, "has a head and no rows.", fix))
    return problems


def _ratio_problems(table: Table, tried: set[int]) -> list[Problem]:
    if not len(table):
        return []
    known = np.zeros(len(table), dtype=bool)
    for gear in GEARS:
        if gear in table.columns:
            known |= np.isfinite(table.columns[gear].nominal)
    return [
        Problem(
            table.file,
            "no ratio is known.",
            "Type at least one, such as ratio_4 = 1.",
            table.lines[row],
            table.names[row],
        )
        for row in np.flatnonzero(~known)
        if row not in tried
    ]


# ---- cells ---------------------------------------------------------------------------------------


class _Habit:
    """The file's decimal mark, as its own unmistakable numbers show it;

    looked for only when a cell asks.
    """

    def __init__(self, sheet: Sheet, heads: Sequence[_Head]) -> None:
        self.rows, self.heads = sheet.rows, heads
        self.mark: str | None = None

    def __call__(self) -> str:
        if self.mark is None:
            counts = {".": 0, ",": 0}
            for head in self.heads:
                if (
                    head.kind in ("number", "car")
                    and head.term is not None
                    and head.term.kind in NUMERIC
                ):
                    for row in self.rows:
                        for found in DECIMAL_HABIT.findall(row[head.at]):
                            counts["," if "," in found else "."] += 1
            shown = [mark for mark, count in counts.items() if count]
            self.mark = shown[0] if len(shown) == 1 and counts[shown[0]] >= 2 else ""
        return self.mark


_PLAIN = re.compile(r"(?:\d{1,7}(?:\.(?:\d{1,2}|\d{4,6}))?)?", re.ASCII)
_PLAIN_FREE = re.compile(r"(?:\d{1,7}(?:\.\d{1,6})?)?", re.ASCII)
_BARE = re.compile(r"[-+]?\d+(?:[.,]\d+)?", re.ASCII)


def _read_column(
    cells: Sequence[Cell], term: Term, unit: str | None, habit: Callable[[], str] = lambda: ""
) -> tuple[Column, list[tuple[int, CellError]]]:
    """Read one column: plain numbers once per text, the odd cells one by one."""
    if term.kind in ("choice", "flag"):
        return _read_words(cells, term)
    if term.kind not in REPLACEABLE:
        raise TypeError(f"{term.kind} is no kind for a column")
    nan = np.full(len(cells), math.nan)
    half, high = nan.copy(), nan.copy()
    scale = 1.0
    if term.kind in NUMERIC and term.kind not in ("ratio", "number", "fraction"):
        scale = (
            factor(term.kind, unit)
            if unit
            else factor("angle", "degree")
            if term.kind == "angle"
            else 1.0
        )
    # Each cell is looked at once: plain numbers are done with then, odd ones are read one by one
    # below.
    one = _PLAIN_FREE if term.kind in ("ratio", "fraction", "number") else _PLAIN
    counted = term.kind in ("count", "counts")
    different = set(cells)
    numbers: dict[Cell, float] = {}
    for cell in different:
        if isinstance(cell, str):
            if one.fullmatch(cell) and (not counted or not cell):
                numbers[cell] = float(cell) if cell else math.nan
        elif isinstance(cell, int | float) and not counted:
            numbers[cell] = float(cell)
    nominal = np.array([numbers.get(c, math.nan) for c in cells], dtype=float) * scale
    odd_cells = different - numbers.keys()
    odd = [row for row, c in enumerate(cells) if c in odd_cells] if odd_cells else []
    limit = factor("angle", "degree") if term.kind == "angle" else 1.0
    with np.errstate(invalid="ignore"):
        out = np.flatnonzero(
            (nominal < term.low * limit - 1e-9)
            | (nominal > term.high * limit + 1e-9)
            | np.isinf(nominal)
        )
    wrong: list[tuple[int, CellError]] = []
    seen: dict[Cell, Any] = {}
    for row in [*odd, *out.tolist()]:
        cell = cells[row]
        if cell not in seen:
            seen[cell] = _read_cell(cell, term, unit, habit)
        value = seen[cell]
        if isinstance(value, CellError):
            wrong.append((row, value))
            nominal[row] = math.nan
        elif value is not None:
            nominal[row], half[row], high[row] = value.nominal, value.half, value.high
    return Column(nominal, half, high), wrong


def _from_bell(
    raw: Sequence[Sequence[Cell]],
    heads: Sequence[_Head],
    head: _Head,
    habit: Callable[[], str],
    column: Column,
    mistakes: list[tuple[int, CellError]],
) -> tuple[Column, list[tuple[int, CellError]]]:
    """Rows typed from an integral bell's front may stand behind it: there the number is negative."""
    assert head.term is not None
    said = next(
        (raw[h.at] for h in heads if h.name == "measured_from" and h.kind == "number"), None
    )
    if said is None or not mistakes:
        return column, mistakes
    wide = replace(head.term, low=LOWEST_FROM_BELL[head.term.name])
    again, wrong = _read_column(raw[head.at], wide, head.unit, habit)
    refused, kept = {row for row, _ in wrong}, []
    for row, error in mistakes:
        if str(said[row]).strip().casefold() != "bell" or row in refused:
            kept.append((row, error))
            continue
        for mine, theirs in zip(
            (column.nominal, column.half, column.high),
            (again.nominal, again.half, again.high),
            strict=True,
        ):
            mine[row] = theirs[row]
    return column, kept


def _read_cell(
    cell: Cell, term: Term, unit: str | None, habit: Callable[[], str]
) -> Value | CellError | None:
    try:
        if isinstance(cell, str):
            try:
                return parse(cell, term, unit)
            except CellError as error:
                if len(error.readings) > 1 and habit():
                    return parse(cell, term, unit, habit())
                raise
        if isinstance(cell, Formula):
            raise CellError(
                f'"={visible(cell.text, 40)}" is a formula for which the file holds no value.',
                "Open the file in a spreadsheet program and save it again, or type the number.",
            )
        if isinstance(cell, datetime.datetime | datetime.time):
            shown = (
                cell.strftime("%Y-%m-%d")
                if isinstance(cell, datetime.datetime)
                else cell.strftime("%H:%M")
            )
            raise CellError(
                f'"{shown}" is a date: a spreadsheet program made it out of a number or a '
                f"fraction.",
                "Format the column as text, then type the number again.",
            )
        if not isinstance(cell, int | float):
            return parse(as_text(cell), term, unit)
        return parse_number(float(cell), term, unit)
    except CellError as error:
        return error


def _read_words(cells: Sequence[Cell], term: Term) -> tuple[Column, list[tuple[int, CellError]]]:
    """A column of choices or of yes and no."""
    read = read_choice if term.kind == "choice" else read_flag
    codes: dict[Cell, float] = {}
    errors: dict[Cell, CellError] = {}
    for cell in set(cells):
        try:
            codes[cell] = read(as_text(cell), term)
        except CellError as error:
            codes[cell], errors[cell] = math.nan, error
    nominal = np.array([codes[c] for c in cells], dtype=float)
    wrong = [(row, errors[c]) for row, c in enumerate(cells) if c in errors] if errors else []
    return Column(nominal, np.zeros(len(cells)), np.full(len(cells), math.nan)), wrong


# ---- neighbours ----------------------------------------------------------------------------------


def _settled_by_gears(table: Table, row: int, head: _Head, error: CellError) -> bool:
    """A gear pair that can be read in either order is settled by the gears before and behind it."""
    if head.name not in GEARS or len(error.readings) < 2:
        return False
    at = GEARS.index(head.name)
    known = [table.columns[g].nominal[row] if g in table.columns else math.nan for g in GEARS]
    above = [r for r in known[:at] if not math.isnan(r)]
    below = [r for r in known[at + 1 :] if not math.isnan(r)]
    if not above or (not below and at > 4):
        return False
    fitting = [
        v for v in error.readings if v.nominal < above[-1] and all(v.nominal > b for b in below[:1])
    ]
    if len(fitting) != 1:
        return False
    column = table.columns[head.name]
    column.nominal[row], column.half[row] = fitting[0].nominal, fitting[0].half
    return True


ALONG = (
    "length",
    "case_length",
    "shaft_stickout",
    "mount_position",
    "bellhousing_depth",
    "shifter_position",
)
ACROSS = tuple(f"{box}_{side}" for box in ("case", "tail", "bell") for side in STATION_SIDES)
NARROW = 20.0


def _inches_asked(table: Table, sheet: Sheet) -> list[tuple[int, _Head, CellError]]:
    """Bare numbers in columns of millimetres that are possible, but that their neighbours show to
    be inches.
    """
    out = []
    for head in table.heads:
        if head.kind != "number" or head.unit is not None or "[" in table.head[head.at]:
            continue
        if head.name in ALONG:
            mask, why = (
                _a_25th_of_the_others(table.columns[head.name].nominal),
                "is about a 25th of the others",
            )
        elif head.name in ACROSS:
            mask, why = (
                _narrower_than_its_shaft(table, head.name),
                "is narrower than the shaft that it holds",
            )
        else:
            continue
        for row in np.flatnonzero(mask):
            cell = sheet.cells[row][head.at]
            typed = sheet.rows[row][head.at].strip()
            if isinstance(cell, float) or _BARE.fullmatch(typed):
                options = (f"{typed} in", f"{typed} mm")
                out.append(
                    (
                        int(row),
                        head,
                        CellError(
                            f'"{typed}" {why}: inches?',
                            f"Type {options[0]}, or {options[1]} if that is right.",
                            options,
                        ),
                    )
                )
                table.columns[head.name].nominal[row] = math.nan
    return out


def _a_25th_of_the_others(values: np.ndarray) -> np.ndarray:
    known = values[np.isfinite(values)]
    if len(known) < 4:
        return np.zeros(len(values), dtype=bool)
    middle = float(np.median(known))
    if middle <= 60:
        return np.zeros(len(values), dtype=bool)
    with np.errstate(invalid="ignore"):
        return np.abs(values * 25.4 / middle - 1.0) < 0.25


def _narrower_than_its_shaft(table: Table, name: str) -> np.ndarray:
    values = table.columns[name].nominal
    long = np.zeros(len(values), dtype=bool)
    with np.errstate(invalid="ignore"):
        for other in ("shaft_stickout", "length", "case_length"):
            if other in table.columns:
                long |= table.columns[other].nominal > 60.0
        return (values > 0) & (values < NARROW) & (values * 25.4 > 30.0) & long
