"""The measured log: what was measured when, by whom, with what;

rows are only ever added, the last of a dimension counts.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from compare import saving
from compare.kinds import kind_of_unit
from compare.problems import MEANT, CellError, InputError, Problem, did_you_mean, visible
from compare.read.catalogue import mark_term
from compare.read.cells import (
    Value,
    is_unknown,
    parse,
    parse_number,
    parse_tyre,
    read_choice,
    read_flag,
)
from compare.read.ledger import ASKED, READ, UNKNOWN, entry
from compare.read.sheet import Sheet, as_text, read_bytes, sheet_of, split_head
from compare.vocabulary import CAR_KEYS, Term, catalogue_terms

__all__ = [
    "COLUMNS",
    "Entry",
    "Log",
    "append",
    "latest",
    "like_dimension",
    "load_measured",
    "measured_log",
    "one_row",
]

COLUMNS = ("on", "by", "of", "dimension", "value", "with", "note")
CAR, PRESENT = "car", "gearbox."
NO_CELL = ("pair", "curve", "stations", "pieces", "words", "names")


@dataclass(frozen=True)
class Entry:
    """One row of the log.

    `value` is a Value in internal units, a text for names and choices, None for not known.
    """

    on: str
    by: str
    of: str
    dimension: str
    value: Value | str | None
    tool: str
    note: str
    line: int


@dataclass
class Log:
    """A measured log:

    its entries in the order of the file, and one row of the reading ledger for each.
    """

    file: str
    entries: list[Entry]
    readings: list[dict[str, Any]]
    warnings: list[str]
    digest: str = ""


def load_measured(path: str | Path, decisions: Mapping[str, str] | None = None) -> Log:
    """Read a measured log; `decisions` are names of decisions with their units.

    Raises InputError with every problem.
    """
    return measured_log(sheet_of(str(path), read_bytes(path)), decisions)


def latest(entries: Iterable[Entry]) -> dict[tuple[str, str], Entry]:
    """(of, dimension) -> the last entry: it is the one that counts.

    >>> values = Value(612.0), Value(613.0)
    >>> one, two = (Entry("", "", "Keld 5", "length", v, "tape", "", 2) for v in values)
    >>> latest([one, two])["Keld 5", "length"].value.nominal
    613.0
    """
    return {(e.of, e.dimension): e for e in entries}


def measured_log(sheet: Sheet, decisions: Mapping[str, str] | None = None) -> Log:
    """A sheet as a measured log. Raises InputError."""
    heads = {split_head(h)[0]: at for at, h in enumerate(sheet.head)}
    problems = list(sheet.problems)
    for name in ("of", "dimension", "value"):
        if name not in heads:
            near = did_you_mean(name, heads)
            fix = (
                f"Rename {visible(near, 30)} to {name}."
                if near
                else f"The columns are {', '.join(COLUMNS)}."
            )
            problems.append(
                Problem(sheet.file, f'there is no column "{name}".', fix, sheet.head_line)
            )
    if any(name not in heads for name in ("of", "dimension", "value")):
        raise InputError(problems)
    log = Log(sheet.file, [], [], list(sheet.warnings), sheet.digest)
    terms = _terms(decisions or {})
    for row, cells in enumerate(sheet.cells):
        texts = {n: as_text(cells[at]).strip() for n, at in heads.items()}
        try:
            found, term, value = _entry(texts, cells[heads["value"]], terms, sheet.lines[row])
        except CellError as error:
            column = (
                "value"
                if texts["of"] and _find(texts["dimension"], texts["of"], terms)
                else "dimension"
            )
            problems.append(
                Problem(
                    sheet.file,
                    error.found,
                    error.fix,
                    sheet.lines[row],
                    texts["of"],
                    column,
                    options=error.options,
                )
            )
            if texts["value"]:
                log.readings.append(
                    entry(
                        sheet.file,
                        sheet.lines[row],
                        texts["of"],
                        texts["dimension"],
                        texts["value"],
                        "text",
                        None,
                        ASKED,
                    )
                )
            continue
        log.entries.append(found)
        if texts["value"]:
            state = UNKNOWN if value is None else READ
            log.readings.append(
                entry(
                    sheet.file,
                    found.line,
                    found.of,
                    found.dimension,
                    texts["value"],
                    term.kind,
                    value,
                    state,
                )
            )
    if problems:
        raise InputError(problems, lambda: log.readings)
    return log


def _terms(decisions: Mapping[str, str]) -> dict[str, Term]:
    """Every dimension that a row may name: columns, `section.key` of the car, decisions."""
    terms = {t.name: t for t in catalogue_terms().values() if t.name != "name"}
    terms |= {f"{t.section}.{t.key}": t for t in CAR_KEYS}
    for name, unit in decisions.items():
        terms.setdefault(
            name, Term(name, kind_of_unit(unit), "a decision that has been carried out")
        )
    return terms


def _find(dimension: str, of: str, terms: Mapping[str, Term]) -> Term | None:
    """The term of a dimension:

    what is said of the car may be a key of it, a decision, or a column of its present gearbox.
    """
    name = re.sub(r"[\s-]+", "_", dimension.casefold())
    if of.casefold() != CAR:
        return terms.get(name) or mark_term(name)
    if name.startswith(PRESENT):
        return terms.get(name) or terms.get(name.removeprefix(PRESENT))
    return terms[name] if name in _own(of, terms) else None


def _own(of: str, terms: Mapping[str, Term]) -> list[str]:
    """The dimensions that this owner can have: keys and decisions of the car, columns and decisions
    of any other.
    """
    if of.casefold() != CAR:
        return [n for n in terms if "." not in n]
    columns = catalogue_terms()
    both = {t.name for t in CAR_KEYS} | {"adapter_thickness"}
    return [n for n in terms if n not in columns or n in both]


def like_dimension(dimension: str, own: Iterable[str]) -> str:
    """The dimension of an owner's own that another word was probably meant to be, or "".

    >>> like_dimension("weight", ["car.mass", "car.name"]), like_dimension("lenght", ["length"])
    ('car.mass', 'length')
    """
    name, known = re.sub(r"[\s-]+", "_", dimension.casefold()), list(own)
    by_end = {n.rpartition(".")[2]: n for n in reversed(known)}
    word = MEANT.get(name, name)
    near = by_end.get(word) or did_you_mean(word, known)
    return near or by_end.get(did_you_mean(word, by_end), "")


def _entry(
    texts: Mapping[str, str], cell: Any, terms: Mapping[str, Term], line: int
) -> tuple[Entry, Term, Value | str | None]:
    """One row taken in. Raises CellError."""
    of, dimension = texts["of"], texts["dimension"]
    if not of:
        raise CellError(
            "the row does not say of what.", "Type the name of a gearbox or a part, or car."
        )
    term = _find(dimension, of, terms)
    if term is None:
        near = like_dimension(dimension, _own(of, terms))
        fix = (
            f"Did you mean {near}?"
            if near
            else "Type a column of the catalogue, section.key of the car, or a decision."
        )
        raise CellError(
            f'"{visible(dimension, 40)}" is no dimension of {_whose(of)}.'
            if dimension
            else "the row names no dimension.",
            fix,
        )
    value = _value(cell, term)
    name = re.sub(r"[\s-]+", "_", dimension.casefold())
    found = Entry(
        texts.get("on", ""),
        texts.get("by", ""),
        of,
        name,
        value,
        texts.get("with", ""),
        texts.get("note", ""),
        line,
    )
    return found, term, value


def _whose(of: str) -> str:
    return "the car" if of.casefold() == CAR else "a gearbox or a part"


def _value(cell: Any, term: Term) -> Value | str | None:
    text = as_text(cell).strip()
    if term.kind in NO_CELL:
        raise CellError(
            f"{term.section}.{term.key} does not go into one cell.", "Write it in the car profile."
        )
    if term.kind == "text":
        return text or None
    if term.kind == "choice":
        at = read_choice(text, term)
        return None if at != at else term.choices[int(at)] if at < len(term.choices) else text
    if term.kind == "flag":
        flag = read_flag(text, term)
        return None if flag != flag else Value(flag, 0.0)
    if is_unknown(text):
        return None
    if term.kind == "tyre":
        parse_tyre(text)
        return text
    return parse_number(cell, term) if isinstance(cell, int | float) else parse(text, term)


def one_row(
    path: str | Path, row: Mapping[str, str], decisions: Mapping[str, str] | None = None
) -> Log:
    """A row as a log that holds nothing else. Raises InputError with what is wrong with it."""
    blank = sheet_of(str(path), ",".join(COLUMNS).encode() + b"\n")
    data = blank.changed({}, (), [[row.get(name, "").strip() for name in COLUMNS]])
    try:
        return measured_log(sheet_of(str(path), data), decisions)
    except InputError as error:
        # It stands in no file yet, so it has no line.
        raise InputError([replace(p, line=None) for p in error.problems]) from None


def append(
    path: str | Path, rows: Sequence[Mapping[str, str]], decisions: Mapping[str, str] | None = None
) -> Path | None:
    """Add rows, each a mapping of COLUMNS to texts, to the log; a log that is not there is begun.

    What stands in the file stays as it is and is kept under a numbered name, which is given (None
    for a new log). Two that append at once wait for each other. Raises InputError when a row cannot
    be read back; then nothing is written.
    """
    path = Path(path)
    for row in rows:
        strange = [name for name in row if name not in COLUMNS]
        if strange:
            raise InputError(
                [
                    Problem(
                        str(path),
                        f'"{visible(strange[0], 40)}" is no column of the log.',
                        f"The columns are {', '.join(COLUMNS)}.",
                    )
                ]
            )
    saving.refuse([path])
    if not path.parent.exists():
        raise InputError(
            [Problem(str(path), "the folder is not there.", "Name a file in a folder that exists.")]
        )
    with saving.locked(path):
        began = path.exists() and path.stat().st_size > 0
        sheet = sheet_of(
            str(path), read_bytes(path) if began else ",".join(COLUMNS).encode() + b"\n"
        )
        heads = [split_head(h)[0] for h in sheet.head]
        new = [c for c in COLUMNS if c not in heads and any(row.get(c, "").strip() for row in rows)]
        cells = [[row.get(name, "").strip() for name in (*heads, *new)] for row in rows]
        data = sheet.changed({}, new, cells)
        before = len(measured_log(sheet, decisions).entries)
        log = measured_log(sheet_of(str(path), data), decisions)
        if len(log.entries) != before + len(rows):
            raise InputError(
                [
                    Problem(
                        str(path),
                        "the new rows do not read back as they were given.",
                        "Write them without comment marks or line breaks.",
                    )
                ]
            )
        if began:
            return saving.replace(path, data)
        saving.save_bytes(path, data)
        return None
