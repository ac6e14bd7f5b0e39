"""A workbook that came back."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING

from compare.cli.common import DONE
from compare.cli.streams import out, progress, screen

if TYPE_CHECKING:
    from compare.answer.returned import Files

HELP = "say what a friend changed in a workbook and what each change did, and write it into the files that are named"


def arguments(one: argparse.ArgumentParser) -> None:
    """Its options."""
    one.add_argument("workbook", metavar="BOOK", help="a workbook of rank that came back")
    for name, about in (
        ("catalogue", "the catalogue"),
        ("car", "the car profile"),
        ("parts", "the parts file"),
    ):
        one.add_argument(
            f"--{name}",
            metavar=name.upper(),
            help=f"write the changes into {about}; the file as it was is kept",
        )
    one.add_argument("--measured", metavar="LOG", help="append what was measured to this log")
    one.add_argument(
        "--into", metavar="FOLDER", help="a folder that start made: write into its files"
    )


def run(options: argparse.Namespace) -> int:
    from compare.answer.returned import returned, told, write
    from compare.report.terminal import take_in_report

    files = _files(options)
    one = returned(options.workbook)
    lines = told(one, progress=progress("changes"))
    kept = write(options.workbook, one.changes, files)
    width, color = screen()
    out(take_in_report(lines, kept, width=width, color=color))
    return DONE


def _files(options: argparse.Namespace) -> Files:
    """Where to write. Raises InputError where --into names no folder."""
    from pathlib import Path

    from compare.answer.returned import Files
    from compare.problems import InputError, Problem

    if options.into is None:
        return Files(options.catalogue, options.car, options.parts, options.measured)
    folder = Path(options.into)
    if not folder.is_dir():
        fix = (
            "Name a folder that start made, or the files: --catalogue, --car, --parts, --measured."
        )
        raise InputError([Problem(str(folder), "is no folder.", fix)])
    there = lambda name: str(folder / name) if (folder / name).exists() else None
    return Files(
        options.catalogue or there("catalogue.csv"),
        options.car or there("car.toml"),
        options.parts or there("parts.csv"),
        options.measured or str(folder / "measured.csv"),
    )
