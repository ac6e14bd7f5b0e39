"""How far one is with a candidate."""

from __future__ import annotations

import argparse
from collections.abc import Iterator

from compare.cli.common import DONE, in_folder, inputs
from compare.cli.streams import out

HELP = "note that a candidate is bought, sold or rejected, or considered again"


class _Statuses:
    """What the vocabulary allows, looked up when it is asked for: the help of all commands does
    without.
    """

    def __iter__(self) -> Iterator[str]:
        from compare.vocabulary import catalogue_terms

        return iter(catalogue_terms()["status"].choices)


def arguments(one: argparse.ArgumentParser) -> None:
    """Its options."""
    inputs(one, here=True)
    one.add_argument("name", metavar="NAME", help="the candidate's name")
    one.add_argument(
        "status",
        metavar="STATUS",
        choices=_Statuses(),
        help="considering, bought, sold or rejected",
    )


def run(options: argparse.Namespace) -> int:
    from compare.filling import set_status

    out(set_status(in_folder(options.catalogue, "catalogue.csv"), options.name, options.status))
    return DONE
