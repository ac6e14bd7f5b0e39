"""How far one is with a candidate."""

from __future__ import annotations

import argparse

from compare.cli.common import DONE, inputs
from compare.cli.streams import out
from compare.vocabulary import catalogue_terms

HELP = "note that a candidate is bought, sold or rejected, or considered again"


def arguments(one: argparse.ArgumentParser) -> None:
    """Its options."""
    inputs(one, here=True)
    one.add_argument("name", metavar="NAME", help="the candidate's name")
    one.add_argument("status", metavar="STATUS", choices=catalogue_terms()["status"].choices, help="considering, bought, sold or rejected")


def run(options: argparse.Namespace) -> int:
    from pathlib import Path

    from compare.filling import set_status

    place = Path(options.catalogue)
    out(set_status(place / "catalogue.csv" if place.is_dir() else place, options.name, options.status))
    return DONE
