"""Every column, key, check, limit and operation."""

from __future__ import annotations

import argparse

from compare.cli.common import DONE, file_name
from compare.cli.streams import out_lines

HELP = "print every column, key, check, limit and operation"


def arguments(one: argparse.ArgumentParser) -> None:
    """Its options."""
    one.add_argument("--write", type=file_name, metavar="FILE", help="write the page to a file")


def run(options: argparse.Namespace) -> int:
    from compare import saving
    from compare.reference import reference_page

    page = reference_page()
    if options.write:
        saving.save_text(options.write, page)
    else:
        out_lines(page)
    return DONE
