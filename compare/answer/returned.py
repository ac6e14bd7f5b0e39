"""What a friend changed, in words, and written into the files that are named: all of them or none."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from compare import saving
from compare.answer.brought import Inputs, Step, inputs_of, steps_of
from compare.answer.edited import edited_car
from compare.answer.effects import DRAWS, Effect, altogether, effects
from compare.answer.log import decision_units
from compare.answer.take_in import Changes, read_back
from compare.figures import safe
from compare.problems import InputError, Problem
from compare.read.car import read_car
from compare.read.catalogue import Table, catalogue_table, parts_table
from compare.read.measured import append
from compare.read.sheet import Sheet, as_text, read_bytes, sheet_of

__all__ = ["Files", "Returned", "returned", "told", "write"]


MOST_NAMED = 4  # boxes of which one reads what was in them


@dataclass(frozen=True)
class Files:
    """Where to write: paths, None for what stays as it is."""

    catalogue: str | None = None
    car: str | None = None
    parts: str | None = None
    measured: str | None = None


@dataclass(frozen=True)
class Returned:
    """A workbook that came back: its changes, each as a step, and its inputs with all of them made."""

    changes: Changes
    steps: list[Step]
    inputs: Inputs


def returned(book: str) -> Returned:
    """Read a workbook that came back. Raises InputError with everything that cannot be used."""
    changes = read_back(book)
    if changes.problems:
        raise InputError(changes.problems)
    steps = steps_of(changes)
    return Returned(changes, steps, inputs_of(changes, steps))


def told(
    one: Returned,
    draws: int = DRAWS,
    seed: int = 1,
    progress: Callable[[int, int], None] | None = None,
) -> list[Effect]:
    """Each change and what it did by itself, then what all did together, then what was not taken."""
    notes = [Effect(f"Not taken in: {text}") for text in one.changes.notes]
    if not one.steps:
        return [Effect("Nothing was changed."), *notes]
    found = effects(one.changes, one.steps, draws, seed, progress)
    if len(one.steps) > 1:
        found.append(altogether(one.changes, one.steps, draws, seed))
    return [*found, *notes]


def write(book: str, changes: Changes, files: Files) -> list[str]:
    """Write the changes into the files; a line for each file. Raises InputError, and then nothing
    is written.
    """
    work: list[tuple[str, bytes]] = []
    problems: list[Problem] = []
    tables: tuple[tuple[str, str | None, Callable[[Sheet], Table]], ...] = (
        ("Catalogue", files.catalogue, catalogue_table), ("Parts", files.parts, parts_table)
    )  # fmt: skip
    for sheet, path, read in tables:
        if path:
            try:
                data = _table(path, sheet, changes)
                if data is not None:
                    read(sheet_of(path, data))
                    work.append((path, data))
            except InputError as error:
                problems += error.problems
    keys = changes.car_keys
    if files.car and keys:
        try:
            text = edited_car(read_bytes(files.car).decode("utf-8-sig"), keys)
            read_car(text)
            work.append((files.car, text.encode("utf-8")))
        except (ValueError, InputError) as error:
            problems += error.problems if isinstance(error, InputError) else [
                Problem(files.car, f"{error}.", "Change it by hand, as the list says.")
            ]  # fmt: skip
    if problems:
        raise InputError(problems)
    saving.refuse([path for path, _ in work], [book])
    lines: list[str] = []
    if files.measured and changes.measured:
        rows = [
            {
                "on": m.on,
                "by": m.by,
                "of": m.of,
                "dimension": m.dimension,
                "value": m.value,
                "with": m.tool,
            }
            for m in changes.measured
        ]
        append(files.measured, rows, decision_units())
        lines.append(f"Noted in {safe(files.measured, 200)}: {len(rows)}")
    elif changes.measured and any((files.catalogue, files.car, files.parts)):
        boxes = [f"{m.of} {m.dimension} = {m.value}" for m in changes.measured]
        named = ", ".join(safe(box, 80) for box in boxes[:MOST_NAMED])
        more = f" and {len(boxes) - MOST_NAMED} more" if len(boxes) > MOST_NAMED else ""
        lines.append(
            f"Not written, what was measured: {named}{more}. Add --measured LOG to have it noted."
        )
    for path, data in work:
        kept = saving.replace(path, data)
        lines.append(f"Written: {safe(path, 200)}; as it was: {safe(kept, 200)}")
    for sheet, path, _ in tables:
        for line in changes.removed.get(sheet, ()) if path else ():
            name = safe(next(iter(changes.sent[sheet, line].values())), 60)
            lines.append(
                f"Not done: the row of {name}, line {line} of {safe(path, 200)}, is gone in the "
                "workbook. Delete it there, or give it the status rejected."
            )
    return lines


def _table(path: str, sheet: str, changes: Changes) -> bytes | None:
    """The new bytes of a table; None where nothing in it was changed."""
    mine = [c for c in changes.cells if c.sheet == sheet and c.line]
    added = changes.added.get(sheet, [])
    if not (mine or added):
        return None
    old = sheet_of(path, read_bytes(path))
    heads = [h.strip() for h in old.head]
    used = {c.what for c in mine} | {h for row in added for h in row}
    new = [h for h in changes.heads[sheet] if h not in heads and h in used]
    if new:
        old = sheet_of(path, old.changed({}, new))
        heads += new
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
        raise InputError(
            [Problem(path, found, "Name the file that the workbook was made from.", one.line)]
        )
    text = lambda row, head: row[head].now if head in row else ""
    return old.changed(cells, (), [[text(row, h) for h in heads] for row in added])
