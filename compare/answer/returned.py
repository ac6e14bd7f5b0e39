"""What a friend changed, in words, and written into the files that are named: all of them or none."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from compare import saving
from compare.answer.log import decision_units
from compare.answer.take_in import CAR, Changes, edited_car, read_back
from compare.figures import safe
from compare.problems import InputError, Problem
from compare.read.car import read_car
from compare.read.catalogue import load_catalogue, load_parts
from compare.read.measured import append
from compare.read.sheet import as_text, read_bytes, sheet_of

__all__ = ["Files", "told", "write"]


@dataclass(frozen=True)
class Files:
    """Where to write: paths, None for what stays as it is."""

    catalogue: str | None = None
    car: str | None = None
    parts: str | None = None
    measured: str | None = None


def told(book: str) -> tuple[list[str], Changes]:
    """Each change as a line, and the changes. Raises InputError where the workbook cannot be read."""
    changes = read_back(book)
    if changes.problems:
        raise InputError(changes.problems)
    lines = [
        f"{c.sheet} {c.cell}: {safe(c.of, 60)}, {safe(c.what, 60)}: was {_shown(c.was)}, is {_shown(c.now)}"
        for c in changes.cells
    ]
    for sheet, rows in changes.added.items():
        lines += [f"{sheet}: new row {safe(next(iter(row.values()), ''), 60)}" for row in rows]
    for sheet, gone in changes.removed.items():
        lines += [f"{sheet}: the row of line {line} is gone" for line in gone]
    lines += [
        f"Measuring list {m.cell}: {safe(m.of, 60)}, {safe(m.dimension, 60)}: {safe(m.value, 60)}"
        + (f" with {safe(m.tool, 40)}" if m.tool else "")
        + (f", by {safe(m.by, 40)}" if m.by else "")
        for m in changes.measured
    ]
    return lines or ["Nothing was changed."], changes


def _shown(text: str) -> str:
    return safe(text, 60) if text else "empty"


def write(book: str, changes: Changes, files: Files) -> list[str]:
    """Write the changes into the files; a line for each file. Raises InputError, and then nothing is written."""
    work: list[tuple[str, bytes]] = []
    problems: list[Problem] = []
    tables: tuple[tuple[str, str | None, Callable[[str], object]], ...] = (
        ("Catalogue", files.catalogue, load_catalogue), ("Parts", files.parts, load_parts)
    )  # fmt: skip
    for sheet, path, _ in tables:
        if path:
            try:
                data = _table(path, sheet, changes)
            except InputError as error:
                problems += error.problems
                continue
            work += [(path, data)] if data is not None else []
    if files.car and any(c.sheet == CAR for c in changes.cells):
        try:
            text = edited_car(read_bytes(files.car).decode("utf-8-sig"), changes)
            read_car(text)
            work.append((files.car, text.encode("utf-8")))
        except (ValueError, InputError) as error:
            problems += error.problems if isinstance(error, InputError) else [
                Problem(files.car, f"{error}.", "Change it by hand, as the list says.")
            ]  # fmt: skip
    if problems:
        raise InputError(problems)
    saving.refuse([path for path, _ in work], [book])
    lines = []
    if files.measured and changes.measured:
        rows = [
            {"on": m.on, "by": m.by, "of": m.of, "dimension": m.dimension, "value": m.value, "with": m.tool}
            for m in changes.measured
        ]
        append(files.measured, rows, decision_units())
        lines.append(f"Noted in {safe(files.measured, 200)}: {len(rows)}")
    for path, data in work:
        kept = saving.replace(path, data)
        lines.append(f"Written: {safe(path, 200)}; as it was: {safe(kept, 200)}")
    return lines


def _table(path: str, sheet: str, changes: Changes) -> bytes | None:
    """The new bytes of a table; None where nothing in it was changed."""
    mine = [c for c in changes.cells if c.sheet == sheet and c.line]
    added, removed = changes.added.get(sheet, []), changes.removed.get(sheet, [])
    if not (mine or added or removed):
        return None
    if removed:
        fix = f"Delete it by hand, or give it the status rejected: line {removed[0]}."
        raise InputError([Problem(path, "a row is gone in the workbook.", fix)])
    old = sheet_of(path, read_bytes(path))
    heads = [h.strip() for h in old.head]
    cells, strange = {}, []
    for change in mine:
        row = old.lines.index(change.line) if change.line in old.lines else -1
        column = heads.index(change.what) if change.what in heads else -1
        if row < 0 or column < 0 or as_text(old.cells[row][column]).strip() != change.was.strip():
            strange.append(change)
            continue
        cells[row, column] = change.now
    if strange:
        one = strange[0]
        found = f"does not hold what was sent: {safe(one.of, 60)}, {safe(one.what, 60)}."
        raise InputError([Problem(path, found, "Name the file that the workbook was made from.", one.line)])
    new = [h for h in changes.heads[sheet] if h not in heads and any(r.get(h) for r in added)]
    rows = [[row.get(h, "") for h in (*heads, *new)] for row in added]
    return old.changed(cells, new, rows)
