"""A conversation that fills in the files of a folder."""

from __future__ import annotations

import argparse

from compare.cli.common import DONE
from compare.cli.streams import line_in, out, screen

HELP = "be asked for one number after the other, the most worth knowing first"


def arguments(one: argparse.ArgumentParser) -> None:
    """Its options."""
    one.add_argument(
        "folder",
        metavar="FOLDER",
        nargs="?",
        default=".",
        help="the folder to fill; made where it is not there (default: here)",
    )


def run(options: argparse.Namespace) -> int:
    from compare.asking.talk import Talk

    width, color = screen()
    talk = Talk(options.folder, width, color)
    out(talk.begin())
    while not talk.over:
        out(talk.prompt())
        line, echo = line_in()
        if line is None:
            out("\n" + talk.end())
            break
        out((line + "\n" if echo else "") + talk.answer(line))
    return DONE
