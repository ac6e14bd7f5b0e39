"""Blank forms and pages, all made from the vocabulary and the rulebook: `start`, `add`, `reference`."""

from __future__ import annotations

import csv
import io
import math
import re
from collections.abc import Sequence
from pathlib import Path

from compare import saving
from compare.judge.rules import AtLeast, AtMost, Own, Rule, Rulebook
from compare.judge.value import DEFAULT_WEIGHTS, MEANINGS
from compare.problems import CellError, InputError, Problem, did_you_mean, visible
from compare.read.catalogue import load_catalogue, read_choice, read_sheet, split_head
from compare.read.cells import find_unit, parse
from compare.topics import all_topics
from compare.vocabulary import (
    CAR_KEYS,
    CATALOGUE_COLUMNS,
    CRITERIA,
    DEFAULT_HALF_WIDTH,
    OUTCOMES,
    PART_COLUMNS,
    SECTIONS,
    SOURCES,
    UNDO_STEPS,
    Term,
    catalogue_terms,
)

__all__ = ["add", "blank_car", "blank_catalogue", "blank_parts", "measuring_guide", "reference_page", "start"]

FILES = ("catalogue.csv", "catalogue.xlsx", "parts.csv", "car.toml", "measuring.md")
FIRST_COLUMNS = ("name", "source", "price", "ratio_1", "ratio_2", "ratio_3", "ratio_4", "ratio_5", "ratio_6", "ratio_reverse", "torque_rating")


def _ordered_columns() -> list[Term]:
    by_name = catalogue_terms()
    first = [by_name[n] for n in FIRST_COLUMNS]
    rest = [t for t in CATALOGUE_COLUMNS if t.name not in FIRST_COLUMNS and t.name not in ("ratio_7", "ratio_8")]
    return [*first, *rest]


def _head(term: Term) -> str:
    return f"{term.name} [{term.unit}]" if term.unit else term.name


def blank_catalogue() -> str:
    """A catalogue with heads and comments and no row."""
    lines = [
        "# One row per gearbox. Only name and one ratio are needed; every number more answers another question.",
        "# Write numbers as you measure them: 612, 24 1/8 in, 612 ±3. Empty or ? is not known.",
        f"# source says how the dimensions were had: {', '.join(SOURCES)}. It sets the doubt where you state none.",
        "# bellhousing: own, car or a name. adapter: none, bought or to make. What each column is: measuring.md.",
    ]
    return "\n".join([*lines, ",".join(_head(t) for t in _ordered_columns())]) + "\n"


def blank_parts() -> str:
    """A parts file with heads and comments and no row."""
    kept = [t for t in _ordered_columns() if t.name not in ("name", "family")]
    heads = [t.name for t in PART_COLUMNS] + [_head(t) for t in kept]
    lines = [
        "# Parts that change a gearbox: another input shaft, tail housing, adapter plate, bellhousing.",
        "# fits: the name or the family of the gearboxes. Every cell that you fill in replaces the gearbox's own.",
    ]
    return "\n".join([*lines, ",".join(heads)]) + "\n"


def blank_car() -> str:
    """A car profile with every key explained and commented out."""
    lines = [
        "# The car. Take the # away from a line when you know its value; what stays out leaves its checks unmeasured.",
        '# Numbers are mm, N·m, kg, degrees, unless a text says otherwise: "5 3/8 in", "55 lb ft", "612 ±3".',
        "# x counts rearward from the block's rear face, as the engine sits today. Left and right as seen from the seat.",
    ]
    for section in SECTIONS:
        lines += ["", f"[{section}]"]
        if section == "gearbox":
            lines += ["# What is in the car today, with the same names as the catalogue's columns; at least the ratios:", "# ratio_1 = 3.6", "# ratio_4 = 1.0", "# length = 700"]
        elif section == "limits":
            lines += ["# Any limit of the reference page, for instance:", "# end_gap_tight = 2"]
        elif section == "weights":
            lines += [f"# {c} = {DEFAULT_WEIGHTS[c]:g}    # {MEANINGS[c]}" for c in CRITERIA]
        else:
            for term in CAR_KEYS:
                if term.section == section:
                    unit = f" [{term.unit}]" if term.unit and term.kind not in ("tyre",) else ""
                    how = f" {term.measure}" if term.measure else ""
                    lines.append(f"# {term.key} = {_example(term)}    # {term.meaning}{unit}.{how}")
    return "\n".join(lines) + "\n"


def _example(term: Term) -> str:
    special = {
        "text": '"my car"',
        "tyre": '"165/80R13"',
        "flag": "true",
        "pair": "[760, 830]",
        "curve": "[[1000, 80], [2500, 105], [4500, 80]]",
        "stations": "[{x = 200, left = 190, right = 190, top = 200}, {x = 900, left = 95, right = 95, top = 118}]",
        "words": '["lathe"]',
    }
    if term.kind in special:
        return special[term.kind]
    if term.choices:
        return f'"{term.default or term.choices[0]}"'
    if isinstance(term.default, float) and not math.isinf(term.default):
        return f"{term.default:g}"
    low = 0.0 if math.isinf(term.low) else max(term.low, 0.0)
    high = 1000.0 if math.isinf(term.high) else term.high
    return f"{low + (high - low) / 4:.3g}"


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
    """The measuring guide in Markdown: where each dimension is taken, with what, and the common slips."""
    lines = [
        "# Measuring guide",
        "",
        "Gearbox on the bench: x and lengths count from the **front face** (where it meets bellhousing or plate), along the axis.",
        "On the input shaft everything counts from its **tip**. Distances left, right, top and bottom count from the **axis**.",
        "",
        "## The shaft",
        "```" + SHAFT_DRAWING + "```",
        "## The side",
        "```" + SIDE_DRAWING + "```",
        "## Common slips",
        "- Stick-out measured with the shaft pushed back: pull it forward first.",
        "- Splines measured to their visible end: the last full-depth spline comes earlier, where the root begins to climb.",
        "- Journal measured over a worn place: take two places and two directions.",
        "- Widths of the case without its bolts and webs.",
        "- The mount pad taken for level: lay a level on the pad and on the shaft.",
        "- Inches typed into a column of millimetres: write the unit in the cell.",
        "",
    ]
    group = ""
    for term in _ordered_columns():
        if term.kind == "text":
            continue
        if term.group != group:
            group = term.group
            lines += ["", f"## {group[0].upper() + group[1:]}", "", "| column | what it is | how | tool |", "|---|---|---|---|"]
        how = term.measure or ("one of: " + ", ".join(term.choices) if term.choices else "–")
        lines.append(f"| `{_head(term)}` | {term.meaning} | {how} | {term.tool or '–'} |")
    lines += ["", "## The car", "", "| key | what it is | how | tool |", "|---|---|---|---|"]
    for term in CAR_KEYS:
        unit = f" [{term.unit}]" if term.unit else ""
        lines.append(f"| `{term.section}.{term.key}`{unit} | {term.meaning} | {term.measure or '–'} | {term.tool or '–'} |")
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
        cell.comment = Comment(". ".join(p for p in (term.meaning, term.measure, term.tool) if p), "gearbox-compare")
        letter = get_column_letter(column)
        sheet.column_dimensions[letter].width = 26 if term.name in ("name", "notes") else 12
        for row in range(2, 202):
            sheet.cell(row, column).number_format = "@"  # text, so that 5/8 does not become a date
        if term.choices and not term.other_text:
            rule = DataValidation(type="list", formula1='"' + ",".join(term.choices) + '"', allow_blank=True)
            sheet.add_data_validation(rule)
            rule.add(f"{letter}2:{letter}201")
    sheet.freeze_panes = "B2"
    book.save(path)


def start(directory: str) -> str:
    """Fill a folder with blank forms. Raises InputError when one of them is there already; then nothing is written."""
    folder = Path(directory)
    there = [name for name in FILES if (folder / name).exists()]
    if there:
        raise InputError([Problem(str(folder / name), "is there already.", "Name another folder, or move it away first.") for name in there])
    if folder.exists() and not folder.is_dir():
        raise InputError([Problem(directory, "is a file, a folder is wanted.", "Name a folder.")])
    saving.save_text(folder / "catalogue.csv", blank_catalogue())
    saving.save_text(folder / "parts.csv", blank_parts())
    saving.save_text(folder / "car.toml", blank_car())
    saving.save_text(folder / "measuring.md", measuring_guide())
    saving.save(folder / "catalogue.xlsx", _blank_workbook)
    at = visible(folder, 200)
    return (
        f"Made in {at}: {', '.join(FILES)}.\n"
        f"1. Read {at}/measuring.md for where each dimension is taken.\n"
        f"2. Fill in {at}/catalogue.csv (or .xlsx, not both), or add a gearbox from here:\n"
        f'     gearbox-compare add {at}/catalogue.csv "My first box" --set ratio_1=3.5 ratio_4=1 ratio_5=0.8 length="24 1/8 in"\n'
        f"3. Fill in {at}/car.toml: take the # away from each line that you know.\n"
        f"4. gearbox-compare check {at}/catalogue.csv {at}/car.toml\n"
        f"5. gearbox-compare rank {at}/catalogue.csv --car {at}/car.toml\n"
    )


def add(catalogue: str, name: str, settings: Sequence[str]) -> str:
    """Add one row in the file's own style, with a backup beside it. Raises InputError; then nothing is written."""
    path = Path(catalogue)
    sheet = read_sheet(path)
    if sheet.encoding == "workbook":
        raise InputError([Problem(catalogue, "is a workbook.", "Add the row in your spreadsheet program, or save the sheet as CSV.")])
    terms = catalogue_terms()
    heads = [split_head(h) for h in sheet.head]
    names = [h for h, _ in heads]
    if "name" not in names:
        load_catalogue(path)
    problems: list[Problem] = []
    cells: dict[str, str] = {"name": name.strip()}
    if not name.strip():
        problems.append(Problem(catalogue, "the new candidate has no name.", "Type a name."))
    at = names.index("name") if "name" in names else 0
    if any(row[at].strip().casefold() == name.strip().casefold() for row in sheet.rows):
        problems.append(Problem(catalogue, "the name is in the catalogue already.", "Type another name.", row=name))
    for setting in settings:
        column, equals, value = setting.partition("=")
        column = column.strip().casefold().replace(" ", "_").replace("-", "_")
        if not equals:
            problems.append(Problem(catalogue, f'"{visible(setting, 40)}" sets nothing.', 'Type column=value, such as length="24 1/8 in".', row=name))
            continue
        if column not in terms and column not in names:
            near = did_you_mean(column, [*terms, *names])
            problems.append(Problem(catalogue, f'there is no column "{visible(column, 40)}".', f"Did you mean {near}?" if near else "Run gearbox-compare reference for the columns.", row=name))
            continue
        if column in cells:
            problems.append(Problem(catalogue, f"{column} is set twice.", "Set it once.", row=name))
            continue
        term = terms.get(column)
        unit_text = dict(heads).get(column)
        try:
            if term is not None and term.kind == "choice":
                read_choice(value, term)
            elif term is not None and term.kind != "text":
                parse(value, term, find_unit(term.kind, unit_text) if unit_text else None)
        except CellError as error:
            problems.append(Problem(catalogue, error.found, error.fix, row=name, column=column))
        cells[column] = value.strip()
    if not any(re.fullmatch(r"ratio_[1-8]", c) for c in cells):
        problems.append(Problem(catalogue, "the new candidate has no ratio.", "Set at least one, such as ratio_4=1.", row=name))
    if problems:
        raise InputError(problems)
    new_columns = [c for c in cells if c not in names]
    _append_row(path, sheet.delimiter, sheet.encoding, [cells.get(n, "") for n in names], new_columns, cells)
    extra = f" New columns: {', '.join(new_columns)}." if new_columns else ""
    return f"{visible(name, 60)} added to {visible(catalogue, 200)}.{extra} The file as it was: {visible(_backup(path), 200)}\n"


def _backup(path: Path) -> Path:
    return path.with_name(path.name + ".bak")


def _append_row(path: Path, delimiter: str, encoding: str, row: list[str], new_columns: list[str], cells: dict[str, str]) -> None:
    data = path.read_bytes()
    text = data.decode(encoding)
    newline = "\r\n" if "\r\n" in text else "\n"
    if new_columns:
        text = _with_columns(text, delimiter, new_columns)
    out = io.StringIO()
    csv.writer(out, delimiter=delimiter, lineterminator="").writerow([*row, *(cells[c] for c in new_columns)])
    text = text if text.endswith(("\n", "\r")) or not text else text + newline
    text += out.getvalue() + newline
    saving.save_bytes(_backup(path), data)
    saving.save_bytes(path, text.encode(encoding))


def _with_columns(text: str, delimiter: str, new_columns: Sequence[str]) -> str:
    """Add heads at the right of the head line, and empty cells to every row below it."""
    lines = text.splitlines(keepends=True)
    headed = False
    quoted = False
    for i, line in enumerate(lines):
        body = line.rstrip("\r\n")
        bare = body.strip()
        if not quoted and (not bare or bare.startswith("#") or re.fullmatch(r"sep=.", bare, re.IGNORECASE)):
            continue
        if (body.count('"') % 2 and body.lstrip().startswith('"')) or (quoted and body.count('"') % 2):
            quoted = not quoted
        if quoted:
            continue
        addition = new_columns if not headed else [""] * len(new_columns)
        lines[i] = body + delimiter + delimiter.join(addition) + line[len(body) :]
        headed = True
    return "".join(lines)


# ---- reference ----------------------------------------------------------------------------------------


def _limit_words(rule: Rule) -> str:
    if isinstance(rule.limit, AtLeast):
        return f"clear ≥ {rule.limit.clear:g}, tight ≥ {rule.limit.tight:g}"
    if isinstance(rule.limit, AtMost):
        return f"clear ≤ {rule.limit.clear:g}, tight ≤ {rule.limit.tight:g}"
    assert isinstance(rule.limit, Own)
    return rule.limit.words


def _possible(term: Term) -> str:
    if term.choices:
        return ", ".join(term.choices) + (", or a name" if term.other_text else "")
    if math.isinf(term.low) and math.isinf(term.high):
        return "–"
    low = "" if math.isinf(term.low) else f"{term.low:g}"
    high = "" if math.isinf(term.high) else f"{term.high:g}"
    return f"{low} to {high}"


def reference_page() -> str:
    """Every column, key, check, limit and operation, as Markdown."""
    book = Rulebook.from_topics(all_topics())
    lines = ["# Reference", "", "Made by `gearbox-compare reference`; do not edit by hand.", "", "## Catalogue columns", "", "| column | kind | unit | possible | what it is |", "|---|---|---|---|---|"]
    for term in CATALOGUE_COLUMNS:
        lines.append(f"| `{term.name}` | {term.kind} | {term.unit or '–'} | {_possible(term)} | {term.meaning} |")
    lines += ["", "## Columns of a parts file", "", "| column | what it is |", "|---|---|"]
    lines += [f"| `{t.name}` | {t.meaning} |" for t in PART_COLUMNS]
    lines += ["| any catalogue column | replaces the candidate's |", "", "## Keys of a car profile", "", "| key | kind | unit | possible | default | what it is |", "|---|---|---|---|---|---|"]
    for term in CAR_KEYS:
        default = "–" if term.default is None else str(term.default)
        lines.append(f"| `{term.section}.{term.key}` | {term.kind} | {term.unit or '–'} | {_possible(term)} | {default} | {term.meaning} |")
    lines += ["", "`[gearbox]` takes the catalogue's columns, `[limits]` the limits below, `[weights]` the criteria.", "", "## Checks", ""]
    for rule in book.checks:
        feeds = ", ".join(f"`{n}`" for n in sorted(book.feeds(rule.name)))
        lines += [
            f"### {rule.title}",
            "",
            f"{rule.question} {rule.reason}",
            "",
            f"- limit: {_limit_words(rule)}{' [' + rule.unit + ']' if rule.unit else ''}",
            f"- unmeasured: {'measure first' if rule.decides else 'said, but does not decide'}",
            f"- put right by: {', '.join(book.rules[w].meaning.lower() for w in rule.resolved_by) or 'nothing'}",
            f"- fed by: {feeds}",
            "",
        ]
    lines += ["## Limits", "", "| limit | default | unit | why |", "|---|---|---|---|"]
    lines += [f"| `{limit.name}` | {limit.default:g} | {limit.unit or '–'} | {limit.why} |" for limit in book.limits.values()]
    lines += ["", "## Operations", "", "Hours and money are common practice, no source.", "", "| operation | on | undo | tool | hours | material |", "|---|---|---|---|---|---|"]
    for rule in book.works:
        hours = f"{rule.hours:g}" + (f" + {rule.hours_per_mm:g} per mm" if rule.hours_per_mm else "")
        lines.append(f"| {rule.meaning} | {rule.on} | {rule.undo} | {rule.tool} | {hours} | {rule.cost:g} |")
    lines += ["", "## Words", "", f"- undo scale: {' · '.join(UNDO_STEPS)}", f"- outcomes: {' · '.join(OUTCOMES)}"]
    for kind, halves in DEFAULT_HALF_WIDTH.items():
        unit = "°" if kind == "angle" else "mm"
        lines.append(f"- doubt of a {kind} that states none: " + ", ".join(f"{s} ±{h:g} {unit}" for s, h in halves.items()))
    lines += [f"- `{c}` (weight {DEFAULT_WEIGHTS[c]:g}): {MEANINGS[c]}" for c in CRITERIA]
    return "\n".join(lines) + "\n"
