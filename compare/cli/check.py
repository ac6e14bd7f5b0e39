"""What is wrong, missing or suspicious in files."""

from __future__ import annotations

import argparse

from compare.cli.common import DONE, UNUSABLE, file_name, files_of
from compare.cli.streams import out_json, out_lines

HELP = "read files and say what is wrong, missing or suspicious in them"


def arguments(one: argparse.ArgumentParser) -> None:
    """Its options."""
    one.add_argument(
        "files",
        nargs="+",
        metavar="FILE",
        help="catalogues, parts files, car profiles, measured logs, or a folder that start made",
    )
    one.add_argument(
        "--json",
        type=file_name,
        metavar="OUT",
        help="write problems and readings for scripts; - for standard output, and nothing else there",
    )
    one.add_argument(
        "--fix",
        action="store_true",
        help="type into tables what alone can be meant; the file as it was is kept",
    )


def run(options: argparse.Namespace) -> int:
    from compare import saving
    from compare.answer.inspection import inspection

    options.files = [file for named in options.files for file in files_of(named)]
    if options.json and options.json != "-":
        saving.refuse([options.json], options.files)
    done: list[str] = []
    if options.fix:
        from compare.forms import mend

        for file in options.files:
            if not file.lower().endswith(".toml"):
                done += mend(file)
    found = inspection(options.files, keep_readings=bool(options.json))
    if options.json:
        from compare.report.as_json import as_json

        text = as_json(found.document())
        if options.json == "-":
            out_json(text)
            return DONE if found.sound else UNUSABLE
        saving.save_text(options.json, text)
    out_lines("\n".join([*done, found.text()]) if done else found.text())
    return DONE if found.sound else UNUSABLE
