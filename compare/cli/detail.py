"""One candidate in depth."""

from __future__ import annotations

import argparse

from compare.cli.common import assess, code_of, common, inputs, set_aside
from compare.cli.streams import out, screen

HELP = "show one candidate in depth, with drawings"


def arguments(one: argparse.ArgumentParser) -> None:
    """Its options."""
    inputs(one)
    one.add_argument("name", metavar="NAME", help="the candidate's name")
    common(one)


def run(options: argparse.Namespace) -> int:
    from compare.answer.complete import in_depth
    from compare.answer.report import KEEP
    from compare.report.terminal import detail_report

    assessment = assess(options)
    report = in_depth(assessment, of=[options.name])
    name = next((row["candidate"] for row in report.ranking if row["candidate"] != KEEP), None)
    if name is None:
        raise set_aside(assessment, options.name)
    width, color = screen()
    out(detail_report(report, name, width=width, color=color, units=options.units))
    return code_of(report)
