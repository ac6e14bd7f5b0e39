"""Rank every candidate: the first page, the workbook, the report for scripts."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING, Any

from compare.cli.common import (
    assess,
    code_of,
    common,
    file_name,
    inputs,
    inputs_of,
    save_all,
    whole,
    xlsx,
)
from compare.cli.streams import err, out, out_json, progress, screen

if TYPE_CHECKING:
    from pathlib import Path

    from compare.answer.effects import Effect


HELP = "rank every candidate, on the terminal and in a workbook"


def arguments(one: argparse.ArgumentParser) -> None:
    """Its options."""
    inputs(one, here=True)
    common(one)
    book = one.add_mutually_exclusive_group()
    book.add_argument(
        "--workbook",
        type=file_name,
        metavar="FILE",
        help="where the workbook goes (default reports/<catalogue>.xlsx)",
    )
    book.add_argument("--no-workbook", action="store_true", help="write no workbook")
    one.add_argument(
        "--json",
        type=file_name,
        metavar="FILE",
        help="write the report for scripts; - for standard output, and nothing else there",
    )
    one.add_argument(
        "--top", type=whole(1, 100_000), default=0, metavar="N", help="show the best N only"
    )
    one.add_argument("--only", nargs="+", default=[], metavar="NAME", help="only these candidates")
    one.add_argument(
        "--compare-with", metavar="OLD.json", help="say what changed since an earlier --json report"
    )


def run(options: argparse.Namespace) -> int:
    from pathlib import Path

    from compare import saving

    target = _workbook(options)
    last = (
        None
        if options.project is None or options.only or options.top
        else options.project / "last-report.json"
    )
    past = None if last is None else options.project / "history.txt"
    as_file = options.json if options.json and options.json != "-" else None
    inputs = [*inputs_of(options), *([options.compare_with] if options.compare_with else [])]
    saving.refuse([o for o in (target, as_file, last, past) if o], inputs)
    old = _earlier(options.compare_with, last)
    from compare.answer.changes import NOTHING
    from compare.answer.complete import first_page, in_depth
    from compare.report.as_json import as_json, document
    from compare.report.terminal import rank_report

    assessment = assess(options, options.only)
    report = (
        in_depth(assessment, options.top) if options.json else first_page(assessment, options.top)
    )
    content = document(report) if options.json or old is not None or last is not None else {}
    changes = _changes(old, content, options.compare_with)
    outputs = []
    if target is not None:
        from compare.report.workbook import write_workbook

        outputs.append(
            saving.Output(target, lambda path: write_workbook(path, report, units=options.units))
        )
    if as_file:
        outputs.append(saving.Output(Path(as_file), saving.text_writer(as_json(content))))
    if last is not None and changes != [NOTHING]:
        outputs.append(saving.Output(last, saving.text_writer(as_json(content))))
    if past is not None and changes != [NOTHING]:
        outputs.append(saving.Output(past, saving.text_writer(_history(past, changes))))
    save_all(outputs, inputs)
    if options.json == "-":
        out_json(as_json(content))
    else:
        width, color = screen()
        out(rank_report(
            report, width=width, color=color, units=options.units, changes=changes, kept=past.name if past is not None else "",
            came_back=_came_back(options),
        ))  # fmt: skip
    if target is not None:
        err(f"Workbook: {target}")
    return code_of(report)


def _workbook(options: argparse.Namespace) -> Path | None:
    """Where the workbook goes: for one that came back only where that is named."""
    from pathlib import Path

    if options.no_workbook or (options.returned is not None and not options.workbook):
        return None
    usual = (
        options.project / "report.xlsx"
        if options.project
        else Path("reports") / (Path(options.catalogue).stem + ".xlsx")
    )
    return xlsx(options.workbook or usual)


def _came_back(options: argparse.Namespace) -> list[Effect]:
    """What a friend changed in the workbook that is ranked, and what each change did."""
    from compare.answer.effects import DRAWS
    from compare.answer.returned import told

    if options.returned is None or options.json == "-":
        return []
    return told(options.returned, options.draws or DRAWS, options.seed, progress("changes"))


def _history(path: Any, changes: list[str]) -> str:
    """What the folder's history holds after this run: the day, and what changed."""
    import datetime

    before = path.read_text(encoding="utf-8", errors="replace") if path.exists() else ""
    lines = [
        f"{datetime.date.today().isoformat()}",
        *(f"  {line}" for line in changes or ["First run."]),
    ]
    return before + ("\n" if before else "") + "\n".join(lines) + "\n"


def _earlier(named: str | None, last: Path | None) -> dict[str, Any] | None:
    """The report to compare with: the one that is named, else the folder's last one.

    Nobody typed the folder's own: one that cannot be read is said, and made anew.
    """
    from compare.problems import InputError

    if named or last is None or not last.exists():
        return _old_report(named) if named else None
    try:
        return _old_report(str(last))
    except InputError:
        _cannot_compare(str(last))
        return None


def _cannot_compare(path: str) -> None:
    from compare.problems import visible

    err(
        f"Note: {visible(path, 200)} cannot be read as a report; this run is compared with nothing and writes a new one."
    )


def _changes(old: dict[str, Any] | None, content: dict[str, Any], named: str | None) -> list[str]:
    """What changed since the older report. Raises InputError where one that is named is damaged."""
    from compare.answer.changes import changes_between
    from compare.problems import InputError, Problem

    if old is None:
        return []
    try:
        return changes_between(old, content)
    except (LookupError, TypeError, AttributeError, ValueError):
        if named:
            fix = "Name a report written earlier with --json."
            raise InputError([Problem(named, "is not a report of this program.", fix)]) from None
        _cannot_compare("last-report.json")
        return []


def _old_report(path: str) -> dict[str, Any]:
    import json
    from pathlib import Path

    from compare.problems import InputError, Problem

    try:
        found = json.loads(Path(path).read_text(encoding="utf-8-sig"))
        if not (
            isinstance(found, dict)
            and isinstance(found.get("ranking"), list)
            and isinstance(found.get("checks"), list)
        ):
            raise ValueError("no report")
    except OSError as error:
        raise InputError(
            [
                Problem(
                    path,
                    f"cannot be read: {error.strerror}.",
                    "Name a report written earlier with --json.",
                )
            ]
        ) from None
    except (ValueError, RecursionError):
        raise InputError(
            [
                Problem(
                    path,
                    "is not a report of this program.",
                    "Name a report written earlier with --json.",
                )
            ]
        ) from None
    return found
