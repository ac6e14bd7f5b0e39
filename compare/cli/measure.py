"""Note what was measured or made."""

from __future__ import annotations

import argparse

from compare.cli.common import DONE, in_folder
from compare.cli.streams import out

HELP = "note what was measured, or made, in a log; the files stay as they are"


def arguments(one: argparse.ArgumentParser) -> None:
    """Its options."""
    one.add_argument(
        "log",
        metavar="LOG",
        nargs="?",
        default=".",
        help="the log (CSV), begun where it is not there; of a folder its measured.csv (default: here)",
    )
    one.add_argument("of", metavar="OF", help="a gearbox, a part, or car")
    one.add_argument(
        "dimension", metavar="DIMENSION", help="a column, section.key of the car, or a decision"
    )
    one.add_argument("value", metavar="VALUE", help='what it is, such as "24 1/8 in"')
    for name, about in (
        ("by", "who"),
        ("on", "when (today)"),
        ("with", "the tool"),
        ("note", "a remark"),
    ):
        one.add_argument(
            f"--{name}", dest=f"note_{name}", metavar=name.upper(), default="", help=about
        )


def run(options: argparse.Namespace) -> int:
    import datetime

    from compare.answer.log import decision_units
    from compare.problems import visible
    from compare.read.measured import append

    row = {
        "on": options.note_on or datetime.date.today().isoformat(), "by": options.note_by, "of": options.of,
        "dimension": options.dimension, "value": options.value, "with": options.note_with, "note": options.note_note,
    }  # fmt: skip
    log = in_folder(options.log, "measured.csv")
    append(log, [row], decision_units())
    out(
        f"{visible(log, 200)}: {visible(options.of, 60)}, {visible(options.dimension, 40)} = {visible(options.value, 60)}\n"
    )
    return DONE
