"""Values written into the files of a folder, one by one: cells of the catalogue, keys of the car
profile.

Each file is read anew, changed, read as `rank` reads it, and only then put in place: what could not
be read
afterwards is never written.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping
from pathlib import Path

from compare import saving
from compare.answer.edited import edited_car, toml_value
from compare.forms import car_line
from compare.problems import InputError, Problem, did_you_mean, visible
from compare.read.car import read_car
from compare.read.catalogue import Table, catalogue_table
from compare.read.sheet import Sheet, decode, read_bytes, sheet_of, split_head
from compare.vocabulary import CAR_KEYS

__all__ = ["set_cells", "set_keys", "set_status"]


def set_status(catalogue: str | Path, name: str, status: str) -> str:
    """Write how far one is with a candidate; the file as it was is kept. Raises InputError."""
    whose, kept = set_cells(catalogue, name, {"status": status})
    return f"{visible(whose, 60)}: {status}. The file as it was: {visible(kept, 400)}\n"


def set_cells(
    catalogue: str | Path, name: str, cells: Mapping[str, str], keep: bool = True
) -> tuple[str, Path | None]:
    """Write some cells of one candidate; (its name as it stands there, the backup).

    keep: whether the file as it was is kept under a numbered name. Raises InputError with what the
    changed file would be asked about; then nothing is written.
    """
    path = Path(catalogue)
    saving.refuse([path])
    with saving.locked(path):
        sheet = sheet_of(str(path), read_bytes(path))
        table = catalogue_table(sheet)
        at = _row_of(table, name)
        heads = [split_head(h)[0] for h in sheet.head]
        new = [c for c in cells if c not in heads]
        if new:
            sheet = sheet_of(str(path), sheet.changed({}, new))
            heads += new
        row = sheet.lines.index(table.lines[at])
        data = sheet.changed({(row, heads.index(c)): value for c, value in cells.items()})
        _reads(sheet_of(str(path), data))
        return table.names[at], _put(path, data, keep)


def _row_of(table: Table, name: str) -> int:
    folded = [" ".join(n.casefold().split()) for n in table.names]
    wanted = " ".join(name.casefold().split())
    if wanted in folded:
        return folded.index(wanted)
    near = did_you_mean(name, table.names)
    fix = f"Did you mean {near}?" if near else f"Candidates: {', '.join(table.names[:8])}."
    raise InputError([Problem(table.file, f'there is no candidate "{visible(name, 60)}".', fix)])


def _reads(sheet: Sheet) -> None:
    """Raise InputError where the changed catalogue cannot be used."""
    catalogue_table(sheet)


def _put(path: Path, data: bytes, keep: bool) -> Path | None:
    if keep:
        return saving.replace(path, data)
    saving.save_bytes(path, data)
    return None


def set_keys(
    car: str | Path, keys: Mapping[tuple[str, str], str], keep: bool = True
) -> Path | None:
    """Write some keys of the car, (section, key) -> text; gives the backup.

    A line that the blank form has for the key is taken; everything else stays as it is. Raises
    InputError.
    """
    path = Path(car)
    saving.refuse([path])
    with saving.locked(path):
        text, _, mark, _ = decode(str(path), read_bytes(path))
        for place, value in keys.items():
            text = _with_form_line(text, *place, value)
        try:
            text = edited_car(text, [(s, k, v) for (s, k), v in keys.items()])
        except ValueError as error:
            fix = "Write the key into the file by hand."
            raise InputError([Problem(str(path), f"{error}.", fix)]) from None
        read_car(text, str(path))
        return _put(path, mark + text.encode("utf-8"), keep)


def _with_form_line(text: str, section: str, key: str, value: str) -> str:
    """The text with the key's line of the blank form filled in, where that line stands in its
    section.
    """
    term = next((t for t in CAR_KEYS if (t.section, t.key) == (section, key)), None)
    if term is None or not value:
        return text
    blank = car_line(term)
    filled = f"{key} = {toml_value(value)}{blank[blank.index('    #') :]}"
    head = re.search(rf"(?m)^\[{re.escape(section)}\]", text)
    if head is None:
        return text
    at = text.find(f"\n{blank}\n", head.end())
    between = text[head.end() : max(at, head.end())]
    if at < 0 or re.search(r"(?m)^\[\w", between):
        return text
    changed = text[: at + 1] + filled + text[at + 1 + len(blank) :]
    held = tomllib.loads(changed).get(section, {}).get(key)
    return changed if held is not None else text
