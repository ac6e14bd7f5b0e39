"""A folder with blank forms."""

from __future__ import annotations

import argparse

from compare.cli.common import DONE
from compare.cli.streams import out_lines

HELP = "make a folder with a blank catalogue, parts file, car profile and measuring guide"


def arguments(one: argparse.ArgumentParser) -> None:
    """Its options."""
    one.add_argument(
        "directory", metavar="FOLDER", help="folder to fill; nothing in it is overwritten"
    )


def run(options: argparse.Namespace) -> int:
    from compare.forms import start

    out_lines(start(options.directory))
    return DONE
