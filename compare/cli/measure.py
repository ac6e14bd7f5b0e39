"""Note what was measured or made."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING

from compare.cli.common import DONE, in_folder
from compare.cli.streams import out

if TYPE_CHECKING:
    from pathlib import Path

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
    one.add_argument(
        "--catalogue", metavar="CATALOGUE", help="where the gearbox stands; in a folder its own"
    )
    one.add_argument("--parts", metavar="PARTS", help="where the part stands; in a folder its own")


def run(options: argparse.Namespace) -> int:
    import datetime
    from pathlib import Path

    from compare.answer.log import note
    from compare.problems import visible

    today = datetime.date.today()
    row = {
        "on": options.note_on or today.isoformat(), "by": options.note_by, "of": options.of,
        "dimension": options.dimension, "value": options.value, "with": options.note_with, "note": options.note_note,
    }  # fmt: skip
    log = in_folder(options.log, "measured.csv")
    beside = Path(options.log) if Path(options.log).is_dir() else None
    note(
        log, row, today,
        catalogue=options.catalogue or _there(beside, "catalogue.csv"),
        parts=options.parts or _there(beside, "parts.csv"),
        car=_there(beside, "car.toml"),
    )  # fmt: skip
    out(
        f"{visible(log, 200)}: {visible(options.of, 60)}, {visible(options.dimension, 40)} = {visible(options.value, 60)}\n"
    )
    return DONE


def _there(folder: Path | None, name: str) -> str | None:
    """A file of a folder that holds something, None where there is none."""
    from compare.read.sheet import has_rows

    if folder is None or not (folder / name).exists():
        return None
    return str(folder / name) if name.endswith(".toml") or has_rows(folder / name) else None
