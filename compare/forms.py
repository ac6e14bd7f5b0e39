"""Blank forms and pages, all made from the vocabulary and the rulebook:

`start`, `add`, `reference`.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from pathlib import Path

from compare import saving
from compare.judge.rules import Rule, Rulebook
from compare.problems import CellError, InputError, Problem, did_you_mean, visible
from compare.read.catalogue import catalogue_table, mark_term, parts_table
from compare.read.cells import find_unit, is_unknown, parse, read_choice
from compare.read.sheet import Sheet, read_bytes, sheet_of, split_head
from compare.topics import all_topics
from compare.vocabulary import (
    CAR_KEYS,
    CATALOGUE_COLUMNS,
    PART_COLUMNS,
    SECTIONS,
    SOURCES,
    STAGES,
    Term,
    catalogue_terms,
)

__all__ = [
    "add", "blank_car", "blank_catalogue", "blank_parts", "car_line", "measuring_guide", "mend", "start",
]  # fmt: skip

FILES = ("catalogue.csv", "catalogue.xlsx", "parts.csv", "car.toml", "measuring.md")
FIRST_COLUMNS = (
    "name",
    "source",
    "price",
    "ratio_1",
    "ratio_2",
    "ratio_3",
    "ratio_4",
    "ratio_5",
    "ratio_6",
    "ratio_reverse",
    "torque_rating",
)


def _ordered_columns() -> list[Term]:
    """The columns of the blank forms, stage by stage: what is worth having first stands first."""
    by_name = catalogue_terms()
    first = [by_name[n] for n in FIRST_COLUMNS]
    rest = [
        t
        for t in CATALOGUE_COLUMNS
        if t.name not in FIRST_COLUMNS and t.name not in ("ratio_7", "ratio_8")
    ]
    return sorted([*first, *rest], key=lambda t: t.stage)


def _by_group() -> list[Term]:
    """The same columns with each group together, the groups by their first stage."""
    columns = _ordered_columns()
    first: dict[str, int] = {}
    for term in columns:
        first.setdefault(term.group, len(first))
    return sorted(columns, key=lambda t: first[t.group])


def _stage_words() -> list[str]:
    """Which columns belong to which stage, a comment line each."""
    lines = []
    columns = _ordered_columns()
    for number, stage in enumerate(STAGES, 1):
        mine = [t.name for t in columns if t.stage == number]
        lines.append(f"# Stage {number}, {stage}: {mine[0]} to {mine[-1]}.")
    return lines


def _head(term: Term) -> str:
    return f"{term.name} [{term.unit}]" if term.unit else term.name


def blank_catalogue() -> str:
    """A catalogue with heads and comments and no row."""
    lines = [
        "# One row per gearbox. Only name and one ratio are needed; every number more answers "
        "another question.",
        "# Write numbers as you measure them: 612, 24 1/8 in, 612 ±3. Empty or ? is not known.",
        f"# source says how the dimensions were had: {', '.join(SOURCES)}. It sets the doubt "
        f"where you state none.",
        "# bellhousing: own, car or a name. adapter: none, bought or to make. What each column "
        "is: measuring.md.",
        *_stage_words(),
    ]
    return "\n".join([*lines, ",".join(_head(t) for t in _ordered_columns())]) + "\n"


def blank_parts() -> str:
    """A parts file with heads and comments and no row."""
    kept = [t for t in _ordered_columns() if t.name not in ("name", "family")]
    heads = [t.name for t in PART_COLUMNS] + [_head(t) for t in kept]
    lines = [
        "# Parts that change a gearbox: another input shaft, tail housing, adapter plate, "
        "bellhousing.",
        "# fits: the name or the family of the gearboxes. Every cell that you fill in replaces "
        "the gearbox's own.",
    ]
    return "\n".join([*lines, ",".join(heads)]) + "\n"


def blank_car() -> str:
    """A car profile with every key explained and commented out."""
    lines = [
        "# The car. Take the # away from a line when you know its value; what stays out leaves "
        "its checks unmeasured.",
        '# Numbers are mm, N·m, kg, degrees, unless a text says otherwise: "5 3/8 in", "55 lb '
        'ft", "612 ±3".',
        "# x counts rearward from the block's rear face, as the engine sits today. Left and right "
        "as seen from the seat.",
    ]
    stage = 0
    for section in sorted(SECTIONS, key=_stage_of_section):
        if _stage_of_section(section) > stage:
            stage = _stage_of_section(section)
            lines += ["", f"# ---- Stage {stage}: {STAGES[stage - 1]} ----"]
        lines += ["", f"[{section}]"]
        if section == "gearbox":
            lines += [
                "# What is in the car today, with the same names as the catalogue's columns; at "
                "least the ratios:",
                "# ratio_1 = 3.6",
                "# ratio_4 = 1.0",
                "# length = 700",
            ]
        elif section == "limits":
            lines += ["# Any limit of the reference page, for instance:", "# end_gap_tight = 2"]
        elif section == "weights":
            lines += [f"# {c.name} = {c.weight:g}    # {c.meaning}" for c in _criteria()]
        else:
            mine = [t for t in CAR_KEYS if t.section == section]
            lines += [car_line(term) for term in sorted(mine, key=lambda t: t.stage)]
    return "\n".join(lines) + "\n"


def car_line(term: Term) -> str:
    """The line of a key in the blank profile, commented out.

    >>> from compare.vocabulary import car_terms_by_name
    >>> car_line(car_terms_by_name()["axle_ratio"])
    '# ratio = "?"    # final drive ratio. Turn the propeller shaft, count.'
    """
    unit = f" [{term.unit}]" if term.unit and term.kind not in ("tyre",) else ""
    how = f" {term.measure}" if term.measure else ""
    later = f" Stage {term.stage}." if term.stage > _stage_of_section(term.section) else ""
    return f"# {term.key} = {_example(term)}    # {term.meaning}{unit}.{how}{later}"


def _stage_of_section(section: str) -> int:
    """The first stage that a section of the car is asked for in; limits and weights come last."""
    stages = [t.stage for t in CAR_KEYS if t.section == section]
    return min(stages, default=1 if section == "gearbox" else len(STAGES))


def _criteria() -> list[Rule]:
    return Rulebook.from_topics(all_topics()).criteria


def _example(term: Term) -> str:
    special = {
        "text": '"my car"',
        "tyre": '"165/80R13"',
        "flag": "true",
        "pair": "[760, 830]",
        "curve": "[[1000, 80], [2500, 105], [4500, 80]]",
        "stations": "[{x = 200, left = 190, right = 190, top = 200}, "
        "{x = 900, left = 95, right = 95, top = 118}]",
        "words": '["lathe"]',
        "names": '["cruise_rpm"]',
        "pieces": "[{start = 200, end = 900, removable = true}]",
    }
    if term.kind in special:
        return special[term.kind]
    if term.choices:
        return f'"{term.default or term.choices[0]}"'
    if isinstance(term.default, float) and not math.isinf(term.default):
        return f"{term.default:g}"
    return '"?"'  # not known: no example can be taken for a value


SHAFT_DRAWING = """
         crankshaft            clutch                gearbox
      |<- bore_depth ->|                        front face
      +----------------+ flange                     |
      |   [ bush ]     |   |  friction face         |
  ----|===journal======|---|------[  hub  ]---------|------ axis
      |   [      ]     |   |  ######splines####>    |
      +----------------+                            |
      tip                                           |
      |<------------------ shaft_stickout --------->|
      |<-pilot_length->|
      |<---- spline_start --->|
      |<------------- spline_end -------------->|    > run-out begins
"""

SIDE_DRAWING = """
  block                                          tunnel
   |      front face   ____________^^^^^^^^^^^^^^^^^^^^^^^^
   |          |########|                |lever
   |          |  case  |=======tail=====|====O output joint
   +---x----->|########|=================
   |          |        [mount pad]
   |          |<- case_length ->|
   |          |<------------- length --------------->|
   x = 0 at the block's rear face, rearward positive
"""


def measuring_guide() -> str:
    """The measuring guide in Markdown:

    where each dimension is taken, with what, and the common slips.
    """
    lines = [
        "# Measuring guide",
        "",
        "Gearbox on the bench: x and lengths count from the **front face** (where it meets "
        "bellhousing or plate), along the axis.",
        "On the input shaft everything counts from its **tip**. Distances left, right, top and "
        "bottom count from the **axis**.",
        "",
        "## The shaft",
        "```" + SHAFT_DRAWING + "```",
        "## The side",
        "```" + SIDE_DRAWING + "```",
        "## Common slips",
        "- Stick-out measured with the shaft pushed back: pull it forward first.",
        "- Splines measured to their visible end: the last full-depth spline comes earlier, where "
        "the root begins to climb.",
        "- Journal measured over a worn place: take two places and two directions.",
        "- Widths of the case without its bolts and webs.",
        "- The mount pad taken for level: lay a level on the pad and on the shaft.",
        "- Inches typed into a column of millimetres: write the unit in the cell.",
        "",
    ]
    group = ""
    for term in _by_group():
        if term.kind == "text":
            continue
        if term.group != group:
            group = term.group
            lines += [
                "",
                f"## {group[0].upper() + group[1:]}",
                "",
                "| column | what it is | how | tool |",
                "|---|---|---|---|",
            ]
        how = term.measure or ("one of: " + ", ".join(term.choices) if term.choices else "–")
        lines.append(f"| `{_head(term)}` | {term.meaning} | {how} | {term.tool or '–'} |")
    lines += ["", "## The car", "", "| key | what it is | how | tool |", "|---|---|---|---|"]
    for term in CAR_KEYS:
        unit = f" [{term.unit}]" if term.unit else ""
        lines.append(
            f"| `{term.section}.{term.key}`{unit} | {term.meaning} | {term.measure or '–'} | "
            f"{term.tool or '–'} |"
        )
    return "\n".join(lines) + "\n"


def _blank_workbook(path: Path) -> None:
    from openpyxl import Workbook
    from openpyxl.comments import Comment
    from openpyxl.styles import Alignment, Font, PatternFill
    from openpyxl.utils import get_column_letter
    from openpyxl.worksheet.datavalidation import DataValidation

    book = Workbook()
    sheet = book.active
    assert sheet is not None
    sheet.title = "Catalogue"
    for column, term in enumerate(_ordered_columns(), start=1):
        cell = sheet.cell(1, column, _head(term))
        cell.font = Font(name="Liberation Sans", bold=True)
        cell.fill = PatternFill("solid", fgColor="E9EDF1")
        cell.alignment = Alignment(wrap_text=True, vertical="bottom")
        cell.comment = Comment(
            ". ".join(p for p in (term.meaning, term.measure, term.tool) if p), "gearbox-compare"
        )
        letter = get_column_letter(column)
        sheet.column_dimensions[letter].width = 26 if term.name in ("name", "notes") else 12
        for row in range(2, 202):
            sheet.cell(row, column).number_format = "@"  # text, so that 5/8 does not become a date
        if term.choices and not term.other_text:
            rule = DataValidation(
                type="list", formula1='"' + ",".join(term.choices) + '"', allow_blank=True
            )
            sheet.add_data_validation(rule)
            rule.add(f"{letter}2:{letter}201")
    sheet.freeze_panes = "B2"
    book.save(path)


def start(directory: str) -> str:
    """Fill a folder with blank forms. Raises InputError when one of them is there already;

    then nothing is written.
    """
    folder = Path(directory)
    there = [name for name in FILES if (folder / name).exists()]
    if there:
        raise InputError(
            [
                Problem(
                    str(folder / name),
                    "is there already.",
                    "Name another folder, or move it away first.",
                )
                for name in there
            ]
        )
    if folder.exists() and not folder.is_dir():
        raise InputError([Problem(directory, "is a file, a folder is wanted.", "Name a folder.")])
    texts = {
        "catalogue.csv": blank_catalogue(),
        "parts.csv": blank_parts(),
        "car.toml": blank_car(),
        "measuring.md": measuring_guide(),
    }
    saving.save_all(
        [
            *(saving.Output(folder / n, saving.text_writer(t)) for n, t in texts.items()),
            saving.Output(folder / "catalogue.xlsx", _blank_workbook),
        ]
    )
    at = visible(folder, 200)
    return (
        f"Made in {at}: {', '.join(FILES)}.\n"
        f"1. Read {at}/measuring.md for where each dimension is taken.\n"
        f"2. Fill in {at}/catalogue.csv (or .xlsx, not both), or add a gearbox from here:\n"
        f'     gearbox-compare add {at}/catalogue.csv "My first box" --set ratio_1=3.5 ratio_4=1 '
        f'ratio_5=0.8 length="24 1/8 in"\n'
        f"3. Fill in {at}/car.toml: take the # away from each line that you know.\n"
        f"4. gearbox-compare check {at}/catalogue.csv {at}/car.toml\n"
        f"5. gearbox-compare rank {at}\n"
        f"6. gearbox-compare measure {at}/measured.csv NAME COLUMN VALUE, for what you measure later; rank again.\n"
    )


def add(catalogue: str, name: str, settings: Sequence[str], keep: bool = True) -> str:
    """Add one row in the file's own style; `keep` the file as it was under a numbered name.

    Raises InputError; then nothing is written.
    """
    path = Path(catalogue)
    data = read_bytes(path)
    saving.refuse([path])
    with saving.locked(path):
        data = read_bytes(path)  # again: another run may just have written
        sheet = sheet_of(catalogue, data)
        heads = [split_head(h)[0] for h in sheet.head]
        before = _problems(sheet)
        if sheet.problems or "name" not in heads:
            raise InputError(before)
        names = [row[heads.index("name")] for row in sheet.rows]
        cells = _settings(catalogue, name, settings, dict(map(split_head, sheet.head)), names)
        new_columns = [c for c in cells if c not in heads]
        row = [cells.get(n, "") for n in (*heads, *new_columns)]
        changed = sheet.changed({}, new_columns, [row])
        _must_read_back(catalogue, sheet, changed, cells, before)
        kept = None
        if keep:
            kept = saving.replace(path, changed)
        else:
            saving.save_bytes(path, changed)
    extra = f" New columns: {', '.join(new_columns)}." if new_columns else ""
    done = f"{visible(name, 60)} added to {visible(catalogue, 200)}.{extra}"
    return f"{done} The file as it was: {visible(kept, 400)}\n" if keep else f"{done}\n"


def mend(file: str) -> list[str]:
    """Type what alone can be meant into the cells of a table that `check` asks about;

    gives what was done, line by line.

    The file as it was is kept under a numbered name; everything else in it stays. Raises InputError
    where it cannot be written.
    """
    path = Path(file)
    saving.refuse([path])
    with saving.locked(path):
        sheet = sheet_of(file, read_bytes(path))
        heads = [split_head(h)[0] for h in sheet.head]
        before = _problems(sheet, parts="name" not in heads)
        found = [p for p in before if p.mend and p.line in sheet.lines and p.column in sheet.head]
        if not found or sheet.problems:
            return []
        cells = {
            (sheet.lines.index(p.line or 0), sheet.head.index(p.column)): p.mend for p in found
        }
        changed = sheet.changed(cells)
        after = _problems(sheet_of(file, changed), parts="name" not in heads)
        if len(after) != len(before) - len(found):
            return []
        kept = saving.replace(path, changed)
    done = [
        f"  {p.place()}: {visible(sheet.rows[row][column], 40)} → {visible(p.mend, 40)}"
        for p, (row, column) in zip(found, cells, strict=True)
    ]
    return [
        f"{visible(file, 200)}: {len(found)} cells mended. The file as it was: "
        f"{visible(kept, 400)}",
        *done,
    ]


def _settings(
    catalogue: str,
    name: str,
    settings: Sequence[str],
    units: Mapping[str, str | None],
    names: Sequence[str],
) -> dict[str, str]:
    """The new row's cells by column, each read as `rank` will read it. Raises InputError."""
    terms = catalogue_terms()
    problems: list[Problem] = []
    cells: dict[str, str] = {"name": name.strip()}

    def say(found: str, fix: str, column: str = "", options: Sequence[str] = ()) -> None:
        problems.append(
            Problem(catalogue, found, fix, row=name, column=column, options=tuple(options))
        )

    if not name.strip():
        say("the new candidate has no name.", "Type a name.")
    elif _cannot_be_kept(name.strip()) or name.strip().startswith("#"):
        say(
            "the name begins with # or holds characters that cannot be kept.",
            "Type a name in plain letters.",
        )
    if any(_folded(n) == _folded(name) for n in names):
        say("the name is in the catalogue already.", "Type another name.")
    for setting in settings:
        column, equals, value = setting.partition("=")
        column = re.sub(r"[\s-]+", "_", column.strip().casefold())
        term = terms.get(column) or mark_term(column)
        if not equals:
            say(
                f'"{visible(setting, 40)}" sets nothing.',
                'Type column=value, such as length="24 1/8 in".',
            )
        elif term is None and column not in units:
            near = did_you_mean(column, [*terms, *units])
            say(
                f'there is no column "{visible(column, 40)}".',
                f"Did you mean {near}?"
                if near
                else "Run gearbox-compare reference for the columns.",
            )
        elif column in cells:
            say(f"{column} is set twice.", "Set it once.")
        elif _cannot_be_kept(value):
            say(
                f'"{visible(value, 40)}" holds characters that cannot be kept.',
                "Type plain text.",
                column,
            )
        else:
            cells[column] = value.strip()
            try:
                _would_read(value, term, units.get(column))
            except CellError as error:
                say(error.found, error.fix, column, error.options)
    if not any(re.fullmatch(r"ratio_[1-8]", c) and not is_unknown(v) for c, v in cells.items()):
        say("the new candidate has no ratio.", "Set at least one, such as ratio_4=1.")
    if problems:
        raise InputError(problems)
    return cells


def _folded(name: str) -> str:
    return " ".join(name.casefold().split())


def _cannot_be_kept(text: str) -> bool:
    """Control characters and halves of characters do not survive in a file that others open."""
    return any(
        (ord(c) < 32 and c not in "\t\n\r") or ord(c) == 127 or 0xD800 <= ord(c) <= 0xDFFF
        for c in text
    )


def _would_read(value: str, term: Term | None, unit_text: str | None) -> None:
    """Raise CellError where this cell would be asked about."""
    if term is None or term.kind == "text":
        return
    if term.kind == "choice":
        read_choice(value, term)
    else:
        parse(value, term, find_unit(term.kind, unit_text) if unit_text else None)


def _problems(sheet: Sheet, parts: bool = False) -> tuple[Problem, ...]:
    try:
        (parts_table if parts else catalogue_table)(sheet)
    except InputError as error:
        return error.problems
    return ()


def _must_read_back(
    catalogue: str,
    sheet: Sheet,
    changed: bytes,
    cells: Mapping[str, str],
    before: Sequence[Problem],
) -> None:
    """The changed file, read as `rank` will: the old cells as they were, the new one as asked for.

    Raises InputError.

    Problems that other rows had before are their own affair.
    """
    again = sheet_of(catalogue, changed)
    known = {p.text() for p in before}
    new = [p for p in _problems(again) if p.text() not in known]
    if new:
        raise InputError(new)
    heads = [split_head(h)[0] for h in again.head]
    wide = len(sheet.head)
    shown = {h: " ".join(t.split()) for h, t in zip(heads, again.rows[-1], strict=True)}
    old = [r[:wide] for r in again.rows[:-1]]
    if (
        old != sheet.rows
        or any(any(r[wide:]) for r in again.rows[:-1])
        or any(shown[c] != " ".join(v.split()) for c, v in cells.items())
    ):
        raise InputError(
            [
                Problem(
                    catalogue,
                    "the new row does not read back as it was asked for.",
                    "Type its texts without quotes, comment marks and line breaks.",
                )
            ]
        )
