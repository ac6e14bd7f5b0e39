"""Other axles, tyres and cruising speeds."""

from __future__ import annotations

import argparse

from compare.cli.common import (
    DONE,
    assess,
    common,
    file_name,
    inputs,
    inputs_of,
    save_all,
    whole,
    xlsx,
)
from compare.cli.streams import out, out_json, screen

HELP = "try other axles, tyres and cruising speeds"


def arguments(one: argparse.ArgumentParser) -> None:
    """Its options."""
    inputs(one)
    common(one)
    one.add_argument("--axle", nargs="+", default=[], metavar="RATIO", help="axle ratios to try")
    one.add_argument(
        "--tyre",
        nargs="+",
        default=[],
        metavar="SIZE",
        help="tyre sizes or rolling circumferences to try (a bare number: in the units of --units)",
    )
    one.add_argument(
        "--cruise",
        nargs="+",
        default=[],
        metavar="SPEED",
        help="cruising speeds to try (a bare number: in the units of --units)",
    )
    one.add_argument(
        "--top",
        type=whole(1, 100_000),
        default=5,
        metavar="N",
        help="candidates per combination (default 5)",
    )
    one.add_argument(
        "--workbook", type=file_name, metavar="FILE", help="write the table as a workbook too"
    )
    one.add_argument(
        "--json",
        type=file_name,
        metavar="FILE",
        help="write the table for scripts; - for standard output, and nothing else there",
    )


def run(options: argparse.Namespace) -> int:
    from pathlib import Path

    from compare import saving
    from compare.answer.what_if import combinations
    from compare.report.as_json import as_json
    from compare.report.terminal import what_if_report

    target = xlsx(options.workbook) if options.workbook else None
    as_file = options.json if options.json and options.json != "-" else None
    inputs = inputs_of(options)
    saving.refuse([o for o in (target, as_file) if o], inputs)
    assessment = assess(options)
    rows = combinations(
        assessment, options.axle, options.tyre, options.cruise, top=options.top, units=options.units
    )
    text = (
        as_json({"what_if": [{k: None if v != v else v for k, v in row.items()} for row in rows]})
        if options.json
        else ""
    )
    outputs = []
    if target is not None:
        from compare.report.workbook import write_combinations

        outputs.append(
            saving.Output(
                target,
                lambda path: write_combinations(path, rows, assessment.car.name, options.units),
            )
        )
    if as_file:
        outputs.append(saving.Output(Path(as_file), saving.text_writer(text)))
    save_all(outputs, inputs)
    if options.json == "-":
        out_json(text)
        return DONE
    width, color = screen()
    out(what_if_report(rows, width=width, color=color, units=options.units))
    return DONE
