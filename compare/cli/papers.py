"""What to take along for one candidate."""

from __future__ import annotations

import argparse

from compare.cli.common import DONE, assess, common, inputs, inputs_of, save_all
from compare.cli.streams import out

# Parts of the whole report that no sheet shows.
NOT_ON_PAPER = ("windows", "places")
NOT_FOR_THE_SELLER = (*NOT_ON_PAPER, "gates", "orders", "money")
HELP = "write what to take along for one candidate: an HTML page that prints"


def arguments(one: argparse.ArgumentParser) -> None:
    """Its options."""
    inputs(one)
    one.add_argument(
        "name",
        metavar="NAME",
        nargs="?",
        help="the candidate's name; with --seller left out: all not yet bought",
    )
    common(one)
    one.add_argument(
        "--folder", metavar="F", default=".", help="folder for the page (default: here)"
    )
    one.add_argument("--seller", action="store_true", help="the seller's sheet only")


def run(options: argparse.Namespace) -> int:
    from pathlib import Path

    from compare import saving
    from compare.answer.complete import in_depth
    from compare.answer.report import KEEP
    from compare.problems import InputError, Problem
    from compare.report.papers.papers import write_papers
    from compare.report.papers.rows import rows_of

    if options.name is None and not options.seller:
        fix = "Name one, or ask for --seller to have a seller's sheet for every candidate."
        raise InputError([Problem("papers", "no candidate is named.", fix)])
    leave = NOT_FOR_THE_SELLER if options.seller else NOT_ON_PAPER
    report = in_depth(assess(options), leave=leave, of=[options.name] if options.name else [])
    names = [r["candidate"] for r in report.ranking if r["candidate"] != KEEP]
    outputs = []
    for name in names:
        only = ("seller", "cautions") if options.seller else ()
        text = write_papers(rows_of(report, name, options.units), only)
        path = (
            Path(options.folder) / f"{_file_name(name)}{'-seller' if options.seller else ''}.html"
        )
        outputs.append(saving.Output(path, saving.text_writer(text)))
    inputs = inputs_of(options)
    saving.refuse([o.path for o in outputs], inputs)
    save_all(outputs, inputs)
    out("".join(f"Papers: {o.path}\n" for o in outputs))
    return DONE


def _file_name(name: str) -> str:
    """A candidate's name as the name of a file: letters and digits only, never empty, not too long."""
    import re

    plain = re.sub(r"[^a-z0-9]+", "-", name.casefold()).strip("-")
    return plain[:60] or "candidate"
