"""Speed of whole commands, as a user starts them: CPU seconds as ratios to one reference job, and peak memory.

Each command is run in turn with the reference (in-place arithmetic on a million doubles), a ratio each time, and
the median of the ratios is what counts. Warm caches: every command has run once before.

    python tests/benchmark.py              the whole table, seven pairs each (half an hour)
    python tests/benchmark.py --growth     how CPU and memory grow with candidates, draws, stations and parts
    python tests/benchmark.py --small      small cases, for CI: fails where one is half as large again as kept
    python tests/benchmark.py --renew      writes what the small form keeps, benchmark.json, on a quiet machine

Only ratios of CPU time are kept, so a slower machine has the same ones. Small cases compare the least of a few pairs
with the least of a few pairs, and stop at the first that is in order: a busy machine makes them slower, not false.
"""

from __future__ import annotations

import argparse
import csv
import json
import os
import platform
import re
import statistics
import subprocess
import sys
import tempfile
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
KEPT = Path(__file__).with_suffix(".json")
CAR = ("--car", "catalogs/pellow-van.toml")
DEMO = ("catalogs/demo.csv", *CAR, "--parts", "catalogs/demo-parts.csv")
REFERENCE = "import numpy as n\na=n.full(10**6,.5)\nfor _ in range(500):\n a*=.999\n a+=.001\n"
TOO_MUCH, TRIES, RENEWED = 1.5, 5, 2


@dataclass(frozen=True)
class Case:
    """What is measured: words after `python -m compare`, its goal as a ratio, its usual exit code, and how often it
    runs for one measurement (what is done in hundredths of a second runs often enough to be measured)."""

    what: str
    words: tuple[str, ...]
    goal: float = float("nan")
    code: int = 0
    times: int = 1


@dataclass(frozen=True)
class Used:
    """CPU seconds of one run, and its peak memory [MiB]."""

    cpu: float
    peak: float


def used(*words: str, code: int = 0) -> Used:
    """A fresh interpreter's own account; raises SystemExit where it fails."""
    env = os.environ | {"PYTHONPATH": str(ROOT), "PYTHONDONTWRITEBYTECODE": ""}
    with tempfile.TemporaryFile() as errors:
        child = subprocess.Popen([sys.executable, *words], cwd=ROOT, env=env, stdout=subprocess.DEVNULL, stderr=errors)
        _, status, account = os.wait4(child.pid, 0)
        child.returncode = os.waitstatus_to_exitcode(status)
        if child.returncode not in (0, 1, code):
            errors.seek(0)
            raise SystemExit(f"{words}: {errors.read().decode()}")
    return Used(account.ru_utime + account.ru_stime, account.ru_maxrss / 1024)


def pair(case: Case) -> tuple[float, Used]:
    """(ratio to the reference run just before, what one run used)."""
    floor = used("-c", REFERENCE)
    runs = [used("-m", "compare", *case.words, code=case.code) for _ in range(case.times)]
    mean = Used(sum(r.cpu for r in runs) / case.times, max(r.peak for r in runs))
    return mean.cpu / floor.cpu, mean


# ---- inputs ---------------------------------------------------------------------------------------------


def demo_rows() -> tuple[list[str], list[list[str]]]:
    lines = [x for x in (ROOT / "catalogs/demo.csv").read_text(encoding="utf-8").splitlines() if not x.startswith("#")]
    head, *rows = list(csv.reader(lines))
    return head, rows


def written(path: Path, rows: Sequence[Sequence[str]]) -> str:
    with path.open("w", encoding="utf-8", newline="") as out:
        csv.writer(out).writerows(rows)
    return str(path)


def catalogue_of(count: int, place: Path) -> str:
    """A catalogue of `count` rows from the demo's, each a little different, every name its own."""
    head, rows = demo_rows()
    at = {h.split(" ")[0]: i for i, h in enumerate(head)}
    found = [head]
    for i in range(count):
        row = list(rows[i % len(rows)])
        row[0] = f"{row[0]} {i}"
        for column in ("length", "shaft_stickout", "mount_position"):
            row[at[column]] = f"{float(row[at[column]]) + (i // len(rows)) % 7 * 0.25:g}" if row[at[column]] else ""
        found.append(row)
    return written(place / f"c{count}.csv", found)


def parts_of(candidates: int, shafts: int, tails: int, cases: int, place: Path) -> tuple[str, str]:
    """(catalogue, parts): each candidate with all combinations of its own shafts, tails and cases."""
    catalogue = catalogue_of(candidates, place)
    with open(catalogue, encoding="utf-8", newline="") as text:
        head, *rows = list(csv.reader(text))
    at = {h.split(" ")[0]: i for i, h in enumerate(head)}
    kinds = (("input shaft", "pilot_length", shafts), ("tail housing", "length", tails), ("case", "mount_drop", cases))
    found = [["part", "kind", "fits", "price", "source", *(column for _, column, _ in kinds)]]
    for row in rows:
        for place_, (kind, column, count) in enumerate(kinds):
            for number in range(1, count + 1):
                typed = row[at[column]] or "100"
                changed = ["", "", ""]
                changed[place_] = f"{float(re.findall(r'[0-9.]+', typed)[0]) + number:g}"
                found.append([f"{row[0]} {kind} {number}", kind, row[0], "50", "measured", *changed])
    return catalogue, written(place / f"parts{candidates}-{shafts}-{tails}-{cases}.csv", found)


def car_of(stations: int, place: Path) -> str:
    """The demo's car with its tunnel measured at that many stations, on straight lines between its own."""
    import numpy as np  # not above: a child counts the memory of whoever starts it

    text = (ROOT / CAR[1]).read_text(encoding="utf-8")
    found = re.search(r"stations = \[\n(.*?)\n\]", text, re.DOTALL)
    assert found
    own = [{k: float(v) for k, v in re.findall(r"(\w+) = ([\d.]+)", line)} for line in found[1].splitlines()]
    xs = np.linspace(own[0]["x"], own[-1]["x"], stations)
    columns = {k: np.interp(xs, [s["x"] for s in own], [s[k] for s in own]) for k in own[0]}
    lines = ["  {" + ", ".join(f"{k} = {columns[k][i]:.1f}" for k in columns) + "}," for i in range(stations)]
    path = place / f"car{stations}.toml"
    path.write_text(text[: found.start(1)] + "\n".join(lines) + text[found.end(1) :], encoding="utf-8")
    return str(path)


# ---- cases ----------------------------------------------------------------------------------------------


def cases(place: Path, small: bool) -> list[Case]:
    """The table; the small one proves the same ways with less of everything."""
    many, large, builds = (40, 200, (4, 1, 2, 1)) if small else (1000, 10_000, (12, 2, 3, 4))
    thousand, ten_thousand = catalogue_of(many, place), catalogue_of(large, place)
    some, parts = parts_of(*builds, place)
    each = (builds[1] + 1) * (builds[2] + 1) * (builds[3] + 1)
    book = ("--workbook", str(place / "book.xlsx"))
    nominal, drawn, page = ("--draws", "1"), ("--draws", "400"), ("--no-workbook",)
    return [
        Case("--help", ("--help",), 0.1, times=10),
        Case("a usage error", ("rnak",), 0.1, code=2, times=10),
        Case("demo, terminal only", ("rank", *DEMO, *page), 1.5),
        Case("demo with workbook", ("rank", *DEMO, *book), 2.7),
        Case("demo, everything as JSON", ("rank", *DEMO, *page, "--json", str(place / "all.json")), 6.7),
        Case("papers of one candidate", ("papers", DEMO[0], "Keld 5", *DEMO[1:], "--folder", str(place)), 1.7),
        Case(f"{builds[0]} candidates, {each} builds each, 400 draws, workbook",
             ("rank", some, *CAR, "--parts", parts, *drawn, *book), 6.7),
        Case(f"{many} rows × 400 draws, terminal", ("rank", thousand, *CAR, *drawn, *page), 6.7),
        Case(f"{large} rows nominal, --top 5", ("rank", ten_thousand, *CAR, *nominal, "--top", "5", *page), 10.0),
        Case(f"{large} rows read and checked", ("check", ten_thousand), 0.4),
        Case(f"workbook of {many} builds, nominal", ("rank", thousand, *CAR, *nominal, *book), 3.3),
    ]  # fmt: skip


def growth(place: Path) -> list[tuple[str, list[tuple[int, Case]]]]:
    """(what grows, (how much of it, the command)): nothing may grow faster than what it is given."""
    top = ("--top", "5", "--no-workbook")

    def grows(what: str, steps: Sequence[int], words: Callable[[int], tuple[str, ...]]) -> tuple[str, list[tuple[int, Case]]]:
        return what, [(n, Case(f"{n} {what}", words(n))) for n in steps]

    def builds_of(shafts: int) -> tuple[str, ...]:
        catalogue, parts = parts_of(12, shafts, 3, 2, place)
        return ("rank", catalogue, *CAR, "--parts", parts, "--draws", "400", *top)

    rank = lambda n, draws: ("rank", catalogue_of(n, place), *CAR, "--draws", draws, *top)
    return [
        grows("rows checked", (100, 1000, 10_000), lambda n: ("check", catalogue_of(n, place))),
        grows("rows nominal", (100, 1000, 10_000), lambda n: rank(n, "1")),
        grows("rows × 400 draws", (25, 100, 400), lambda n: rank(n, "400")),
        grows("draws of 40 rows", (200, 800, 3200), lambda n: rank(40, str(n))),
        grows("stations, 40 rows × 400 draws", (4, 8, 16, 32),
              lambda n: ("rank", catalogue_of(40, place), "--car", car_of(n, place), "--draws", "400", *top)),
        grows("shafts of each of 12 candidates, 12 builds for each and one more", (1, 4, 9), builds_of),
    ]  # fmt: skip


# ---- runs -----------------------------------------------------------------------------------------------


def whole_table(place: Path, only: str, pairs: int) -> list[dict[str, object]]:
    """Every case: the median of its ratios against its goal."""
    rows = []
    for case in cases(place, small=False):
        if only not in case.what:
            continue
        used("-m", "compare", *case.words, code=case.code)  # warm
        found = [pair(case) for _ in range(pairs)]
        ratio, peak = statistics.median(r for r, _ in found), max(u.peak for _, u in found)
        cpu = statistics.median(u.cpu for _, u in found)
        rows.append({"what": case.what, "ratio": round(ratio, 2), "goal": case.goal, "met": ratio <= case.goal,
                     "cpu_seconds": round(cpu, 3), "peak_mib": round(peak)})  # fmt: skip
        verdict = "met" if ratio <= case.goal else "MISSED"
        print(f"{case.what:<62} {ratio:8.2f} × reference (goal {case.goal:g}) {cpu:7.2f} s {peak:5.0f} MiB  {verdict}", flush=True)
    return rows


def growth_table(place: Path, only: str) -> list[dict[str, object]]:
    """CPU and memory of one run each, and what each one more costs."""
    rows = []
    for what, steps in growth(place):
        if only not in what:
            continue
        before: tuple[int, float] | None = None
        for count, case in steps:
            ratio, run = pair(case)
            each = "" if before is None else f"{1000 * (ratio - before[1]) / (count - before[0]):9.2f} ‰ for each more"
            rows.append({"what": what, "count": count, "ratio": round(ratio, 2), "peak_mib": round(run.peak)})
            print(f"{case.what:<72} {ratio:8.2f} × reference {run.peak:6.0f} MiB {each}", flush=True)
            before = count, ratio
    return rows


def least(case: Case, tries: int, enough: float = 0.0) -> float:
    """The least ratio of a few pairs; no more of them once one is small enough."""
    used("-m", "compare", *case.words, code=case.code)  # warm
    found = float("inf")
    for _ in range(tries):
        found = min(found, pair(case)[0])
        if found <= enough:
            break
    return found


def small_table(place: Path, only: str, renew: bool) -> tuple[list[dict[str, object]], bool]:
    """(rows, whether none is half as large again as kept). Renewed, what was measured is kept."""
    kept = json.loads(KEPT.read_text(encoding="utf-8"))["ratios"] if KEPT.exists() else {}
    rows, sound = [], True
    for case in cases(place, small=True):
        if only not in case.what:
            continue
        if not renew and case.what not in kept:
            raise SystemExit(f"{case.what}: nothing is kept of it in {KEPT.name}; run --renew")
        limit = 0.0 if renew else TOO_MUCH * kept[case.what]
        ratio = least(case, RENEWED if renew else TRIES, limit)
        fine = renew or ratio <= limit
        sound &= fine
        rows.append({"what": case.what, "ratio": round(ratio, 3), "most": round(limit, 3)})
        verdict = "" if fine else "SLOWER by half than is kept: see why, or run --renew and say so"
        print(f"{case.what:<62} {ratio:8.3f} × reference (at most {limit:.3f}) {verdict}", flush=True)
    if renew:
        ratios = kept | {str(r["what"]): r["ratio"] for r in rows}
        content = {"made_on": f"Python {platform.python_version()}, {os.cpu_count()} cores", "ratios": ratios}
        KEPT.write_text(json.dumps(content, indent=1, ensure_ascii=False) + "\n", encoding="utf-8")
    return rows, sound


def main() -> int:
    options = argparse.ArgumentParser(description="How much CPU and memory whole commands take.")
    form = options.add_mutually_exclusive_group()
    form.add_argument("--small", action="store_true", help="small cases against what is kept")
    form.add_argument("--renew", action="store_true", help="keep what the small cases take now")
    form.add_argument("--growth", action="store_true", help="how it grows")
    options.add_argument("--pairs", type=int, default=7)
    options.add_argument("--only", default="", help="cases whose name holds this")
    options.add_argument("--json", default="", help="write the table")
    arguments = options.parse_args()
    sound = True
    with tempfile.TemporaryDirectory() as folder:
        place = Path(folder)
        if arguments.growth:
            rows = growth_table(place, arguments.only)
        elif arguments.small or arguments.renew:
            rows, sound = small_table(place, arguments.only, arguments.renew)
        else:
            rows = whole_table(place, arguments.only, arguments.pairs)
    if arguments.json:
        result = {"python": platform.python_version(), "cores": os.cpu_count(), "rows": rows}
        Path(arguments.json).write_text(json.dumps(result, indent=1) + "\n", encoding="utf-8")
    return 0 if sound else 1


if __name__ == "__main__":
    sys.exit(main())
