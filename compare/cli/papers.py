"""What to take along for one candidate."""

from __future__ import annotations

import argparse
from collections.abc import Sequence

from compare.cli.common import DONE, assess, common, inputs, inputs_of, save_all, set_aside
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
        "--folder",
        metavar="F",
        help="folder for the page (default: the folder that is named, else here)",
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
    assessment = assess(options)
    report = in_depth(assessment, leave=leave, of=[options.name] if options.name else [])
    names = [r["candidate"] for r in report.ranking if r["candidate"] != KEEP]
    if options.name and not names:
        raise set_aside(assessment, options.name)
    files = _file_names(assessment.builds.catalogue.names)
    folder, outputs = Path(options.folder or options.project or "."), []
    for name in names:
        only = ("seller", "cautions") if options.seller else ()
        text = write_papers(rows_of(report, name, options.units), only)
        path = folder / f"{files[name]}{'-seller' if options.seller else ''}.html"
        outputs.append(saving.Output(path, saving.text_writer(text)))
    inputs = inputs_of(options)
    saving.refuse([o.path for o in outputs], inputs)
    save_all(outputs, inputs)
    out("".join(f"Papers: {o.path}\n" for o in outputs))
    return DONE


def _file_names(names: Sequence[str]) -> dict[str, str]:
    """For each candidate the name of its file, none twice: a name is the same whoever is printed.

    >>> list(_file_names(["Keld 5", "keld-5", "Коробка 5", "+++"]).values())
    ['keld-5', 'keld-5-2', 'коробка-5', 'candidate-4']
    """
    found: dict[str, str] = {}
    for row, name in enumerate(names, 1):
        plain = _letters(name) or f"candidate-{row}"
        known, count, free = set(found.values()), 1, plain
        while free in known:
            count += 1
            free = f"{plain}-{count}"
        found[name] = free
    return found


def _letters(name: str) -> str:
    """A name in letters and digits of any script, not too long for a disk that counts bytes."""
    import unicodedata

    folded = unicodedata.normalize("NFC", name.casefold())
    kept = [c if unicodedata.category(c)[0] in "LNM" else " " for c in folded]
    short = "-".join("".join(kept).split())[:60]
    return short.encode()[:180].decode(errors="ignore").strip("-")
