"""A workbook that came back."""

from __future__ import annotations

import argparse

from compare.cli.common import DONE
from compare.cli.streams import out

HELP = "say what a friend changed in a workbook, and write it into the files that are named"


def arguments(one: argparse.ArgumentParser) -> None:
    """Its options."""
    one.add_argument("workbook", metavar="BOOK", help="a workbook of rank that came back")
    for name, about in (("catalogue", "the catalogue"), ("car", "the car profile"), ("parts", "the parts file")):
        one.add_argument(f"--{name}", metavar=name.upper(), help=f"write the changes into {about}; the file as it was is kept")
    one.add_argument("--measured", metavar="LOG", help="append what was measured to this log")


def run(options: argparse.Namespace) -> int:
    from compare.answer.returned import Files, told, write

    files = Files(options.catalogue, options.car, options.parts, options.measured)
    lines, changes = told(options.workbook)
    kept = write(options.workbook, changes, files)
    out("\n".join([*lines, *kept]) + "\n")
    return DONE
