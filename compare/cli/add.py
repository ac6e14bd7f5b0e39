"""One more candidate."""

from __future__ import annotations

import argparse

from compare.cli.common import DONE, in_folder, inputs
from compare.cli.streams import out

HELP = "add a candidate to a catalogue, in the file's own style"


def arguments(one: argparse.ArgumentParser) -> None:
    """Its options."""
    inputs(one)
    one.add_argument("name", metavar="NAME", help="the new candidate's name")
    one.add_argument(
        "--set",
        nargs="+",
        action="extend",
        default=[],
        metavar="COLUMN=VALUE",
        help='values, such as length="24 1/8 in"',
    )


def run(options: argparse.Namespace) -> int:
    from compare.forms import add

    out(add(in_folder(options.catalogue, "catalogue.csv"), options.name, options.set))
    return DONE
