"""What several commands share: exit codes, inputs, saving."""

from __future__ import annotations

import argparse
from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Any

from compare.cli.streams import err, progress

if TYPE_CHECKING:
    from compare.answer.compare import Assessment
    from compare.problems import InputError

__all__ = [
    "ALL_RULED_OUT", "DONE", "FAULT", "STOPPED", "UNUSABLE", "assess", "code_of", "common", "file_name", "files_of", "in_folder", "inputs", "inputs_of",
    "resolve", "save_all", "set_aside", "whole", "written", "xlsx",
]  # fmt: skip

DONE, ALL_RULED_OUT, UNUSABLE, FAULT, STOPPED = 0, 1, 2, 3, 130


def inputs(one: argparse.ArgumentParser, here: bool = False) -> None:
    """The argument CATALOGUE; where `here`, it may be left out."""
    about = "catalogue of candidates (CSV or .xlsx), a folder that start made, or a workbook of rank that came back"
    if here:
        one.add_argument(
            "catalogue",
            metavar="CATALOGUE",
            nargs="?",
            default=".",
            help=f"{about} (default: here)",
        )
    else:
        one.add_argument("catalogue", metavar="CATALOGUE", help=about)


def common(one: argparse.ArgumentParser) -> None:
    """The options of every comparison."""
    one.add_argument("--car", metavar="CAR", help="car profile (TOML); in a folder its car.toml")
    one.add_argument("--parts", metavar="PARTS", help="interchangeable parts (CSV or .xlsx)")
    one.add_argument(
        "--measured", metavar="LOG", help="log of what was measured or made since (CSV)"
    )
    one.add_argument(
        "--units", choices=("metric", "inch"), default="metric", help="units of the reports"
    )
    one.add_argument(
        "--draws", type=whole(1, 100_000), metavar="N",
        help="random draws; left out, as many as the percentages need; 1 judges nominal values alone",
    )  # fmt: skip
    one.add_argument(
        "--seed", type=whole(0, 2**31), default=1, metavar="N", help="seed of the draws (default 1)"
    )


def whole(low: int, high: int) -> Callable[[str], int]:
    def read(text: str) -> int:
        if not (text.isascii() and text.isdigit() and low <= int(text) <= high):
            raise argparse.ArgumentTypeError(
                f'"{text[:40]}" is not a whole number from {low} to {high}'
            )
        return int(text)

    return read


def file_name(text: str) -> str:
    """The name of a file to write, as an option gives it."""
    if not text.strip():
        raise argparse.ArgumentTypeError("it names no file; leave the option out, or type a name")
    return text


def resolve(options: argparse.Namespace) -> None:
    """A folder stands for the files in it. Raises InputError where no car is known."""
    from pathlib import Path

    from compare.problems import InputError, Problem
    from compare.read.sheet import has_rows, read_sheet

    place = Path(options.catalogue)
    options.project = options.returned = None
    if place.suffix.lower() == ".xlsx" and not place.is_dir():
        _resolve_returned(options)
        if options.returned is not None:
            return
    if place.is_dir():
        options.project = place
        options.catalogue = str(place / "catalogue.csv")
        options.car = options.car or str(place / "car.toml")
        for name, file in (("parts", "parts.csv"), ("measured", "measured.csv")):
            if getattr(options, name) is None and has_rows(place / file):
                setattr(options, name, str(place / file))
        if not Path(options.catalogue).exists() and not Path(options.car).exists():
            fix = "Name a catalogue and --car CAR, or a folder that holds them; start FOLDER makes one."
            raise InputError([Problem(str(place), "holds no catalogue.csv and no car.toml.", fix)])
    if options.car is None:
        read_sheet(options.catalogue)  # one that is damaged or not there is named first
        fix = "Add --car CAR, or name a folder that holds catalogue.csv and car.toml."
        raise InputError([Problem(options.catalogue, "is a catalogue, and no car is named.", fix)])


def _resolve_returned(options: argparse.Namespace) -> None:
    """A workbook of rank that came back brings catalogue, parts and car with it."""
    from compare.answer.returned import returned
    from compare.answer.take_in import was_sent
    from compare.problems import InputError, Problem

    if not was_sent(options.catalogue):
        return
    given = [f"--{name}" for name in ("car", "parts") if getattr(options, name) is not None]
    if given:
        found = f"is a workbook that rank wrote and brings its own: {' and '.join(given)} cannot be named too."
        fix = "Leave that out; or take it in first, with take-in, and name the files."
        raise InputError([Problem(options.catalogue, found, fix)])
    options.returned = returned(options.catalogue)


def in_folder(named: str, file: str) -> str:
    """The file itself; of a folder that one of its files."""
    from pathlib import Path

    return str(Path(named) / file) if Path(named).is_dir() else named


def files_of(named: str) -> list[str]:
    """The file itself; of a folder those of its files that hold something."""
    from pathlib import Path

    from compare.read.sheet import has_rows

    place = Path(named)
    if not place.is_dir():
        return [named]
    tables = [place / name for name in ("catalogue.csv", "parts.csv", "measured.csv")]
    found = [str(t) for t in tables if has_rows(t)]
    return [*found, *([str(place / "car.toml")] if (place / "car.toml").exists() else [])] or [
        named
    ]


# Files that this run has finished, so that a later fault can say truly what was written.
finished: list[str] = []


def written() -> str:
    from compare.problems import visible

    return (
        f" Written before that: {', '.join(visible(f, 200) for f in finished)}." if finished else ""
    )


def save_all(outputs: Sequence[Any], inputs: Sequence[Any]) -> None:
    """Write all files of a run or none, and say where a workbook went that somebody had changed."""
    from compare import saving

    kept = saving.save_all(outputs, inputs)
    finished.extend(str(o.path) for o in outputs)
    for backup in kept:
        err(f"The workbook that was there had been changed by hand; it is kept as {backup}")


def inputs_of(options: argparse.Namespace) -> list[str]:
    """The files that a comparison reads."""
    return [i for i in (options.catalogue, options.car, options.parts, options.measured) if i]


def assess(options: argparse.Namespace, only: Sequence[str] = ()) -> Assessment:
    """Read what the options name and judge it. Raises InputError with the problems of all files."""
    from compare.answer.compare import compare

    catalogue, car, parts, measured = _loaded(options)
    assessment = compare(
        catalogue, car, parts, draws=options.draws, seed=options.seed, only=only, measured=measured,
        progress=progress("builds"),
    )  # fmt: skip
    from compare.figures import safe

    for warning in assessment.warnings:
        err(f"Note: {safe(warning)}")
    return assessment


def _loaded(options: argparse.Namespace) -> tuple[Any, Any, Any, Any]:
    """(catalogue, car, parts, log): from the files, or from a workbook that came back."""
    from compare.answer.log import read_log
    from compare.problems import InputError, Problem
    from compare.read.car import load_car
    from compare.read.catalogue import load_catalogue, load_parts

    if options.returned is not None:
        brought = options.returned.inputs
        logged = read_log(options.measured) if options.measured else []
        return brought.catalogue, brought.car, brought.parts, [*logged, *brought.measured]
    problems: list[Problem] = []
    loaded: list[Any] = []
    readers: tuple[tuple[Any, str | None], ...] = (
        (load_catalogue, options.catalogue), (load_car, options.car), (load_parts, options.parts),
        (read_log, options.measured),
    )  # fmt: skip
    for read, path in readers:
        try:
            loaded.append(read(path) if path else None)
        except InputError as error:
            problems += error.problems
    if problems:
        raise InputError(problems)
    catalogue, car, parts, measured = loaded
    return catalogue, car, parts, measured or ()


def set_aside(assessment: Assessment, name: str) -> InputError:
    """What is said of a candidate that is sold or rejected where one that is judged is wanted."""
    from compare.problems import InputError, Problem, visible

    table = assessment.builds.catalogue
    found = f"{visible(name, 60)} is set aside (sold or rejected), so it is not judged."
    fix = f'To look at it again: gearbox-compare status {visible(table.file, 200)} "{visible(name, 60)}" considering.'
    return InputError([Problem(table.file, found, fix)])


def code_of(report: Any) -> int:
    from compare.answer.report import KEEP

    rows = [row for row in report.ranking if row["candidate"] != KEEP]
    return ALL_RULED_OUT if all(row["outcome"] == "ruled out" for row in rows) else DONE


def xlsx(name: Any) -> Any:
    """The path of a workbook to write. Raises InputError when it is not called one."""
    from pathlib import Path

    from compare.problems import InputError, Problem

    target = Path(name)
    if target.is_dir():
        fix = f"Type --workbook {target / 'report.xlsx'}."
        raise InputError([Problem(str(target), "is a folder, and a workbook is a file.", fix)])
    if target.suffix.lower() != ".xlsx":
        raise InputError(
            [
                Problem(
                    str(target),
                    "a workbook's name ends in .xlsx.",
                    f"Type --workbook {target.with_suffix('.xlsx')}.",
                )
            ]
        )
    return target
