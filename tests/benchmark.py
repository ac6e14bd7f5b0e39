"""Speed, honestly measured: ratios to a floor run on the same machine in the same process run, never seconds as such.

`python tests/benchmark.py` prints the table and writes it as JSON (`--json FILE`); `--small` runs every case at a
size that proves it works and compares no times.
"""

from __future__ import annotations

import argparse
import csv
import json
import os
import platform
import resource
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
sys.path[:0] = [str(ROOT), str(ROOT / "tests")]
DEMO = ["catalogs/demo.csv", "--car", "catalogs/pellow-van.toml", "--parts", "catalogs/demo-parts.csv"]


def timed(function, repeat=3):
    """Median seconds of a few runs."""
    took = []
    for _ in range(repeat):
        start = time.perf_counter()
        function()
        took.append(time.perf_counter() - start)
    return statistics.median(took)


def process(*words, repeat=5):
    """Median seconds of a fresh interpreter."""
    env = os.environ | {"PYTHONPATH": str(ROOT), "PYTHONDONTWRITEBYTECODE": ""}
    return timed(lambda: subprocess.run([sys.executable, *words], cwd=ROOT, env=env, check=False, capture_output=True), repeat)


def catalogue_of(count, place, bare=False):
    """A catalogue of `count` rows from the demo's, each a little different, every name its own."""
    lines = [x for x in (ROOT / "catalogs/demo.csv").read_text(encoding="utf-8").splitlines() if not x.startswith("#")]
    head, *rows = list(csv.reader(lines))
    at = {h.split(" ")[0]: i for i, h in enumerate(head)}
    path = Path(place) / f"c{count}.csv"
    with path.open("w", encoding="utf-8", newline="") as out:
        writer = csv.writer(out)
        writer.writerow(head)
        for i in range(count):
            row = list(rows[i % len(rows)])
            row[0] = f"{row[0]} {i}"
            for column in ("length", "shaft_stickout", "mount_position"):
                row[at[column]] = f"{float(row[at[column]]) + (i // len(rows)) % 7 * 0.25:g}" if row[at[column]] else ""
            writer.writerow(row)
    return path


def main() -> int:
    options = argparse.ArgumentParser()
    options.add_argument("--small", action="store_true")
    options.add_argument("--json", default="")
    arguments = options.parse_args()
    small = arguments.small
    rows = []

    def say(what, took, floor, goal, note="", at_most=True):
        ratio = took / floor
        met = ratio <= goal if at_most else ratio >= goal
        rows.append({"what": what, "seconds": round(took, 4), "floor_seconds": round(floor, 4), "ratio": round(ratio, 2), "goal": goal, "at_most": at_most, "met": met, "note": note})
        print(f"{what:<62} {ratio:8.2f} × (goal {'≤' if at_most else '≥'} {goal:g}) {'' if small else 'met' if met else 'MISSED'} {note}", flush=True)

    with tempfile.TemporaryDirectory() as place:
        run_all(Path(place), small, say)
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    result = {"python": platform.python_version(), "cores": os.cpu_count(), "small": small, "peak_mib": round(peak), "rows": rows}
    if arguments.json:
        Path(arguments.json).write_text(json.dumps(result, indent=1) + "\n", encoding="utf-8")
    print(f"peak memory of this process {peak:.0f} MiB")
    return 0


def run_all(place, small, say):
    many, builds, draws = (200, 60, 50) if small else (10_000, 1_000, 1_000)
    repeat = 1 if small else 5
    say("--help, against an empty interpreter", process("-m", "compare", "--help", repeat=repeat * 2), process("-c", "pass", repeat=repeat * 2), 4)
    say("a usage error, against an empty interpreter", process("-m", "compare", "rnak", repeat=repeat * 2), process("-c", "pass", repeat=repeat * 2), 4)
    say("demo rank without workbook, against importing pandas and pint", process("-m", "compare", "rank", *DEMO, "--no-workbook", repeat=repeat),
        process("-c", "import pandas, pint; pint.UnitRegistry()", repeat=repeat), 1.6)  # fmt: skip

    import numpy as np
    import pandas as pd

    from compare.answer.report import Tables
    from compare.judge.engine import compare
    from compare.read.car import load_car
    from compare.read.catalogue import load_catalogue
    from compare.report.workbook import write_workbook

    car = load_car(ROOT / "catalogs/pellow-van.toml")
    path = catalogue_of(many, place)
    floor = timed(lambda: pd.read_csv(path, dtype=str), repeat)
    say(f"{many} candidates read and checked, against read_csv", timed(lambda: load_catalogue(path), repeat), floor, 6)
    table = load_catalogue(path)
    say(f"{many} builds, nominal, all checks and ranking, against the same", timed(lambda: compare(table, car, draws=1), repeat), floor, 6)
    million = np.random.default_rng(1).uniform(size=10_000 if small else 1_000_000)
    other = million[::-1].copy()

    def multiply_adds():
        total = million.copy()
        for _ in range(300):
            total = total * 0.999 + other
        return total

    thousand = load_catalogue(catalogue_of(builds, place))
    say(f"{builds} builds × {draws} draws, checks and solved seat, against 300 multiply-adds", timed(lambda: compare(thousand, car, draws=draws), 1 if small else 2),
        timed(multiply_adds, 1 if small else 3), 8, f"peak {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024:.0f} MiB")  # fmt: skip

    growth_small, growth_large = (many // 10, many) if small else (1_000, 100_000)
    few = load_catalogue(catalogue_of(growth_small, place))
    lots = load_catalogue(catalogue_of(growth_large, place))
    say(f"growth from {growth_small} to {growth_large} builds, nominal", timed(lambda: compare(lots, car, draws=1), 1), timed(lambda: compare(few, car, draws=1), repeat), 110 if not small else 30)

    tables = Tables(compare(thousand, car, draws=1))
    book = place / "b.xlsx"
    took = timed(lambda: write_workbook(book, tables, [], []), 1 if small else 2)
    cells = count_cells(book)

    def plain():
        import openpyxl

        plain_book = openpyxl.Workbook(write_only=True)
        sheet = plain_book.create_sheet()
        for start in range(0, cells, 30):
            sheet.append([f"cell {start}" if i % 2 else float(start + i) for i in range(min(30, cells - start))])
        plain_book.save(place / "plain.xlsx")

    say(f"workbook of {builds} builds ({cells} cells), against openpyxl writing as many plain ones", took, timed(plain, 1 if small else 2), 1.8)
    if shutil.which("soffice"):
        sheet_rows = 100 if small else 10_000
        sheet = formulas_sheet(tables, place, sheet_rows)
        from libreoffice import convert

        recalculated = timed(lambda: convert("soffice", sheet, "csv", place), 1)
        scored = load_catalogue(catalogue_of(sheet_rows, place)) if sheet_rows != many else table
        say(f"LibreOffice recalculating {sheet_rows} rows of What-if, against scoring them with all checks", recalculated, timed(lambda: compare(scored, car, draws=1), 1 if small else 3), 10, at_most=False)
    else:
        print("LibreOffice is not on the path: its row is left out")


def count_cells(path):
    import openpyxl

    book = openpyxl.load_workbook(path, read_only=True)
    return sum(1 for sheet in book.worksheets for row in sheet.iter_rows() for cell in row if cell.value is not None)


def formulas_sheet(tables, place, count):
    """The What-if sheet's formulas for `count` rows."""
    from openpyxl import Workbook

    import compare.report.what_if_sheet as module
    from compare.report.sheets import Styles

    kept = module.MOST_ROWS
    shown = list(tables.shown)
    many = Tables_like(tables, [shown[i % len(shown)] for i in range(count)])
    module.MOST_ROWS = count
    module.GEARING_SPAN, span = (0.5, 2.0, 3), module.GEARING_SPAN
    try:
        book = Workbook()
        book.remove(book.active)
        module.write_what_if(book, Styles(book), many)
        book.save(place / "formulas.xlsx")
    finally:
        module.MOST_ROWS, module.GEARING_SPAN = kept, span
    return place / "formulas.xlsx"


def Tables_like(tables, shown):
    from compare.answer.report import Tables

    class Repeated(Tables):
        @property
        def ranking(self):
            return [{"rank": i + 1, "outcome": "bolts in"} for i in range(len(shown))]

    many = Repeated(tables.assessment)
    many.__dict__["shown"] = shown
    return many


if __name__ == "__main__":
    sys.exit(main())
