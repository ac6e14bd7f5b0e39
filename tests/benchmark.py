"""Speed of whole commands, as a user starts them: CPU seconds as ratios to one reference job, and peak memory.

Each command is run in turn with the reference (in-place arithmetic on a million doubles), a ratio each time, and
the median of the ratios is what counts. Warm caches: every command has run once before. `--small` runs every case
at a size that proves it works and judges no times; `--json FILE` writes the table.
"""

from __future__ import annotations

import argparse
import csv
import json
import os
import platform
import resource
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
DEMO = ["catalogs/demo.csv", "--car", "catalogs/pellow-van.toml", "--parts", "catalogs/demo-parts.csv"]
REFERENCE = "import numpy as n\na=n.full(10**6,.5)\nfor _ in range(500):\n a*=.999\n a+=.001\n"


def command(*words: str, most: int = 0) -> tuple[float, float]:
    """(CPU seconds, peak MiB) of a fresh interpreter; raises SystemExit where it fails."""
    env = os.environ | {"PYTHONPATH": str(ROOT), "PYTHONDONTWRITEBYTECODE": ""}
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    child = subprocess.Popen([sys.executable, *words], cwd=ROOT, env=env, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE)
    _, error = child.communicate()
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    if child.returncode not in (0, 1, most):
        raise SystemExit(f"{words}: {error.decode()}")
    cpu = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    return cpu, after.ru_maxrss / 1024


def catalogue_of(count: int, place: Path, name: str = "c") -> str:
    """A catalogue of `count` rows from the demo's, each a little different, every name its own."""
    lines = [x for x in (ROOT / "catalogs/demo.csv").read_text(encoding="utf-8").splitlines() if not x.startswith("#")]
    head, *rows = list(csv.reader(lines))
    at = {h.split(" ")[0]: i for i, h in enumerate(head)}
    path = place / f"{name}{count}.csv"
    with path.open("w", encoding="utf-8", newline="") as out:
        writer = csv.writer(out)
        writer.writerow(head)
        for i in range(count):
            row = list(rows[i % len(rows)])
            row[0] = f"{row[0]} {i}"
            for column in ("length", "shaft_stickout", "mount_position"):
                row[at[column]] = f"{float(row[at[column]]) + (i // len(rows)) % 7 * 0.25:g}" if row[at[column]] else ""
            writer.writerow(row)
    return str(path)


def cases(place: Path, small: bool) -> list[tuple[str, tuple[str, ...], float]]:
    """(what, words after `python -m compare`, goal as a ratio to the reference)."""
    many, large = ("40", "200") if small else ("1000", "10000")
    car = ("--car", "catalogs/pellow-van.toml")
    thousand, ten_thousand = catalogue_of(int(many), place), catalogue_of(int(large), place)
    book = ("--workbook", str(place / "book.xlsx"))
    return [
        ("--help", ("--help",), 0.1),
        ("a usage error", ("rnak",), 0.1),
        ("demo, terminal only", ("rank", *DEMO, "--no-workbook"), 1.5),
        ("demo with workbook", ("rank", *DEMO, *book), 2.7),
        ("demo, everything as JSON", ("rank", *DEMO, "--no-workbook", "--json", str(place / "all.json")), 6.7),
        ("papers of one candidate", ("papers", DEMO[0], "Keld 5", *DEMO[1:], "--folder", str(place)), 1.7),
        (f"{many} rows × 400 draws, terminal", ("rank", thousand, *car, "--draws", "400", "--no-workbook"), 6.7),
        (f"{large} rows nominal, --top 5", ("rank", ten_thousand, *car, "--draws", "1", "--top", "5", "--no-workbook"), 10.0),
        (f"{large} rows read and checked", ("check", ten_thousand), 0.4),
        (f"workbook of {many} builds, nominal", ("rank", thousand, *car, "--draws", "1", *book), 3.3),
    ]


def main() -> int:
    options = argparse.ArgumentParser()
    options.add_argument("--small", action="store_true")
    options.add_argument("--pairs", type=int, default=7)
    options.add_argument("--only", default="")
    options.add_argument("--json", default="")
    arguments = options.parse_args()
    rows = []
    with tempfile.TemporaryDirectory() as folder:
        for what, words, goal in cases(Path(folder), arguments.small):
            if arguments.only not in what:
                continue
            usual = 2 if what == "a usage error" else 0
            if not arguments.small:
                command("-m", "compare", *words, most=usual)
            ratios, seconds, peak = [], [], 0.0
            for _ in range(1 if arguments.small else arguments.pairs):
                floor, _ = command("-c", REFERENCE)
                began = time.monotonic()
                cpu, peak = command("-m", "compare", *words, most=usual)
                ratios.append(cpu / floor)
                seconds.append(time.monotonic() - began)
            ratio = statistics.median(ratios)
            row = {"what": what, "ratio": round(ratio, 2), "goal": goal, "met": ratio <= goal}
            rows.append(row | {"wall_seconds": round(statistics.median(seconds), 2), "peak_mib_so_far": round(peak)})
            note = "" if arguments.small else "met" if row["met"] else "MISSED"
            print(f"{what:<44} {ratio:8.2f} × reference (goal {goal:g}) {note}", flush=True)
    if arguments.json:
        result = {"python": platform.python_version(), "cores": os.cpu_count(), "small": arguments.small, "rows": rows}
        Path(arguments.json).write_text(json.dumps(result, indent=1) + "\n", encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main())
