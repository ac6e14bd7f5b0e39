"""Variants of the demo on which deciding is proven.

python tests/variants.py [COUNT]             how good the first place is python tests/variants.py
measuring [COUNT]   what measuring is worth, by the tool and by doing it

Each variant is some of the demo's gearboxes at other prices, some known only by hearsay, some with
numbers erased, the car measured more or less well. What is done to them follows from the number of
the variant.
"""

from __future__ import annotations

import copy
import itertools
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from compare.answer.compare import Assessment, compare
from compare.answer.visits import (
    CAR,
    Dimension,
    contenders,
    doubtful_of_build,
    doubtful_of_car,
    what_to_measure,
)
from compare.judge.baseline import car_draws
from compare.judge.deciding import NOTHING
from compare.judge.draws import Draw, build_arrays
from compare.read.car import Car, load_car
from compare.read.catalogue import Column, Table, load_catalogue, load_parts
from compare.read.cells import Value

Array = np.ndarray
CATALOGS = Path(__file__).resolve().parent.parent / "catalogs"
ERASED = ("spline_end", "shaft_stickout", "mount_position", "case_bottom", "length", "pilot_length")
VAGUE = (
    "shaft_stickout",
    "spline_end",
    "length",
    "case_bottom",
    "mount_position",
    "pilot_diameter",
    "bellhousing_depth",
)
CAR_VAGUE = (
    "crossmember_top",
    "clutch_friction_face",
    "crank_bore_depth",
    "driveshaft_pinion_drop",
)


@dataclass
class Variant:
    """A catalogue and a car that differ from the demo's; parts as in the demo."""

    number: int
    catalogue: Table
    car: Car
    parts: Table

    def judged(self, draws: int | None = None, seed: int = 1) -> Assessment:
        return compare(self.catalogue, self.car, self.parts, draws=draws, seed=seed)


def keep_rows(table: Table, rows: list[int]) -> None:
    """Leave only some rows in a table."""
    table.names = [table.names[r] for r in rows]
    table.lines = [table.lines[r] for r in rows]
    table.rows = [table.rows[r] for r in rows]
    table.texts = {n: [texts[r] for r in rows] for n, texts in table.texts.items()}
    for column in table.columns.values():
        column.nominal, column.half = column.nominal[rows].copy(), column.half[rows].copy()
        column.high = column.high[rows].copy()


def variant(number: int) -> Variant:
    """The demo, changed as its number says."""
    random = np.random.default_rng([20, number])
    catalogue = load_catalogue(CATALOGS / "demo.csv")
    car = copy.deepcopy(load_car(CATALOGS / "pellow-van.toml"))
    parts = load_parts(CATALOGS / "demo-parts.csv")
    keep_rows(catalogue, sorted(random.choice(len(catalogue), 6, replace=False).tolist()))
    columns = catalogue.columns
    columns["price"].nominal *= random.uniform(0.6, 1.4, len(catalogue))
    for row in range(len(catalogue)):
        what = random.integers(4)
        if what == 0:
            columns[str(random.choice(ERASED))].nominal[row] = np.nan
        elif what == 1:
            for name in random.choice(VAGUE, 3, replace=False):
                wide = 0.6 if name.endswith("diameter") else random.uniform(3.0, 12.0)
                columns[str(name)].half[row] = wide
    for name in CAR_VAGUE:
        if name in car.values and random.random() < 0.5:
            car.values[name] = Value(car.values[name].nominal, float(random.uniform(1.0, 6.0)))
    return Variant(number, catalogue, car, parts)


# ---- measuring by doing it -----------------------------------------------------------------------

AGAIN = 5  # other random numbers than those that judge


def fixed_values(
    a: Assessment, known: list[Dimension], build: int, count: int
) -> dict[Dimension, Array]:
    """`(count,)` values of each dimension, drawn together as the tool believes them, by other
    random numbers.
    """
    how = Draw(count, AGAIN)
    of_car = car_draws(a.engine, a.today, how).names
    of_build = build_arrays(a.builds, np.array([build]), how)
    values = {}
    for d in known:
        place = "adapter_thickness_low" if d.column == "adapter_thickness" else d.column
        array = of_car[d.column] if d.owner == CAR else of_build[place]
        values[d] = np.broadcast_to(array, (1, 1 + count))[0, 1:]
    return values


def with_copies(one: Variant, name: str, values: dict[Dimension, Array]) -> Variant:
    """One gearbox as many gearboxes, each with the values of one draw, known exactly."""
    catalogue, parts = copy.deepcopy(one.catalogue), copy.deepcopy(one.parts)
    count = len(next(iter(values.values())))
    row = catalogue.names.index(name)
    rest = [r for r in range(len(catalogue)) if r != row]
    keep_rows(catalogue, [*rest, *[row] * count])
    copies = range(len(rest), len(rest) + count)
    of_it = [r for r, fits in enumerate(parts.texts["fits"]) if fits == name]
    keep_rows(parts, [*range(len(parts)), *[r for r in of_it for _ in copies]])
    for d in values:
        if d.column not in catalogue.columns:
            blank = np.full(len(catalogue), np.nan)
            catalogue.columns[d.column] = Column(blank, blank.copy(), blank.copy())
    for number, at in enumerate(copies):
        catalogue.names[at] = f"{name} {number}"
        for d, drawn in values.items():
            catalogue.columns[d.column].nominal[at] = drawn[number]
            catalogue.columns[d.column].half[at] = 0.0
        for place in range(len(of_it)):
            parts.texts["fits"][len(one.parts) + place * count + number] = f"{name} {number}"
    return Variant(one.number, catalogue, one.car, parts)


def with_known(one: Variant, values: dict[Dimension, Array], number: int) -> Variant:
    """The variant with some numbers of the car or of a part known exactly, as in one draw."""
    car, parts = copy.deepcopy(one.car), copy.deepcopy(one.parts)
    for d, drawn in values.items():
        value = Value(float(drawn[number]), 0.0)
        if d.owner.startswith("part "):
            row = parts.names.index(d.of)
            parts.columns[d.column].nominal[row] = value.nominal
            parts.columns[d.column].half[row] = 0.0
            continue
        station = d.column.rsplit("_", 2)
        if d.column in car.values:
            car.values[d.column] = value
        elif station[0] == "tunnel":
            car.stations[int(station[2])][station[1]] = value
        elif d.column.endswith("_start"):
            pair = car.pairs[d.column.removesuffix("_start")]
            car.pairs[d.column.removesuffix("_start")] = (value, pair[1])
        elif d.column.endswith("_end"):
            pair = car.pairs[d.column.removesuffix("_end")]
            car.pairs[d.column.removesuffix("_end")] = (pair[0], value)
        else:
            car.values[d.column] = value
    return Variant(one.number, one.catalogue, car, parts)


def without_hopeless(one: Variant, a: Assessment) -> Variant:
    """The contenders and the best of the rest: what the others are cannot change a choice."""
    names = {a.builds.candidate_name(int(b)) for b in contenders(a)}
    rest = [
        a.builds.candidate_name(int(b))
        for b in a.order
        if a.builds.candidate_name(int(b)) not in names
    ]
    catalogue = copy.deepcopy(one.catalogue)
    keep_rows(catalogue, [r for r, n in enumerate(catalogue.names) if n in {*names, *rest[:1]}])
    return Variant(one.number, catalogue, one.car, one.parts)


def worth_by_doing(
    one: Variant, a: Assessment, known: list[Dimension], count: int, draws: int
) -> tuple[float, float]:
    """(worth in money, standard error): fix at `count` values, run all again, take the best choice,
    average.

    What the values average to is what one would believe without knowing.
    """
    d = known[0]
    of = lambda b: (a.builds.candidate_name(b), *a.builds.part_names(b))
    build = next((b for b in range(len(a.builds)) if d.of in of(b)), 0)
    count = 3 * count if len(known) > 1 and d.owner.startswith("candidate ") else count
    values, few = fixed_values(a, known, build, count), without_hopeless(one, a)
    if d.owner.startswith("candidate "):
        found = with_copies(few, d.of, values).judged(draws, AGAIN)
        mine = [f"{d.of} {n}" for n in range(count)]
        names = [found.builds.candidate_name(b) for b in range(len(found.builds))]
        ways = sorted({found.builds.name(b) for b, n in enumerate(names) if n in mine})
        at = {(n, found.builds.name(b)): b for b, n in enumerate(names)}
        given = np.array([[found.value[at[n, way]] for n in mine] for way in ways])
        others = max(
            [found.value[b] for b, n in enumerate(names) if n not in mine] + [found.keep_value]
        )
        given = np.vstack([given, np.full(count, others)])
    else:
        columns = []
        for number in range(count):
            found = with_known(few, values, number).judged(draws, AGAIN)
            columns.append(np.append(found.value, found.keep_value))
        given = np.array(columns).T
    best = int(given.mean(axis=1).argmax())
    gain = (given.max(axis=0) - given[best]) * a.engine.money_per_point
    return float(gain.mean()), float(gain.std(ddof=1) / np.sqrt(count))


@dataclass(frozen=True)
class Compared:
    """One dimension or visit: what the tool says it is worth, and what doing it gives, with their
    errors.
    """

    what: str
    tool: float
    tool_error: float
    done: float
    done_error: float

    @property
    def agrees(self) -> bool:
        """Within two standard errors of both."""
        return abs(self.tool - self.done) <= 2.0 * np.hypot(self.tool_error, self.done_error)


def first_holds(some: list[Compared]) -> bool:
    """Whether what the tool puts first is first when done, or within its error of it."""
    mine, true = max(some, key=lambda c: c.tool), max(some, key=lambda c: c.done)
    error = np.hypot(
        np.hypot(mine.tool_error, mine.done_error), np.hypot(true.tool_error, true.done_error)
    )
    return bool(mine.done >= true.done - 2.0 * error)


def proof(number: int, count: int, draws: int) -> tuple[list[Compared], list[Compared]] | None:
    """(dimensions, visits) of one variant; None where nothing is worth measuring.

    Of the dimensions all that the tool lists, and some that it does not: vague or unknown ones.
    """
    one = variant(number)
    a = one.judged(draws=1024)
    found = what_to_measure(a)
    if found.everything.worth < 5.0 * found.enough:
        return None
    some = {m.dimension: m.knowing for m in found.measuring if m.knowing.worth > 0}
    unlisted = [
        d
        for b in contenders(a)
        for d in doubtful_of_build(a, int(b))
        if d.owner.startswith("candidate ")
    ]
    unlisted = [d for d in unlisted if d not in some and (d.column in VAGUE or not d.given)]
    random = np.random.default_rng(number)
    for at in random.permutation(len(unlisted))[:5]:
        some[unlisted[int(at)]] = NOTHING
    of_car = [d for d in doubtful_of_car(a) if d.column in CAR_VAGUE and d not in some]
    if number % 4 == 0:
        some[of_car[number % len(of_car)]] = NOTHING
    sets = [((d,), f"{d.of} {d.column}", k) for d, k in some.items()]
    visits = [(v.dimensions, f"{v.visit}, {v.of}", v.knowing) for v in found.visits[:4]]
    done = lambda known: worth_by_doing(one, a, list(known), count, draws)
    compared = [
        [Compared(what, k.worth, k.error, *done(known)) for known, what, k in group]
        for group in (sets, visits)
    ]
    return compared[0], compared[1]


Proof = tuple[int, list[Compared], list[Compared]]


def worthwhile_proofs(wanted: int, count: int, draws: int) -> Iterator[Proof]:
    """The proofs of the first variants in which measuring is worth something."""
    found = 0
    for number in itertools.count():
        one = proof(number, count, draws)
        if one is not None and one[1]:
            yield number, *one
            found += 1
        if found == wanted:
            return


def regret(number: int) -> tuple[str, float, float]:
    """(the tool's first, points lost by it against the best of many draws of another seed, worth of
    a point).
    """
    one = variant(number)
    a, many = one.judged(), one.judged(draws=4096, seed=4711)
    first = int(a.order[0]) if len(a.order) and a.value[a.order[0]] >= a.keep_value else -1
    true = lambda b: many.keep_value if b < 0 else float(many.value[b])
    best = max(many.value.max(), many.keep_value)
    name = "keep today's gearbox" if first < 0 else a.builds.candidate_name(first)
    return name, float(best - true(first)), a.engine.money_per_point


def print_regret(count: int) -> None:
    """How often the first is the best by expected value, and what is lost where it is not."""
    rows = [regret(number) for number in range(count)]
    lost = np.array([r[1] for r in rows])
    money = np.array([r[1] * r[2] for r in rows])
    print(f"{'variant':>7}  {'first':24}{'points lost':>12}{'money lost':>12}")
    for number, ((name, points, _), spent) in enumerate(zip(rows, money, strict=True)):
        print(f"{number:7d}  {name:24}{points:12.3f}{spent:12.1f}")
    print(f"first is best by expected value: {(lost < 1e-6).sum()} of {count}")
    print(f"mean regret {money.mean():.2f}, worst {money.max():.2f}")


def print_proofs(wanted: int) -> None:
    """What measuring is worth by the tool and by doing it."""
    found = []
    for number, dimensions, visits in worthwhile_proofs(wanted, 32, 256):
        found.append((number, dimensions, visits))
        print(
            f"variant {number}: first dimension {first_holds(dimensions)}, "
            f"first visit {first_holds(visits)}"
        )
        for c in [*dimensions, *visits]:
            if max(c.tool, c.done) > 0.5:
                far = "" if c.agrees else "  FAR"
                print(
                    f"  {c.what:44}{c.tool:7.1f} ± {c.tool_error:5.1f}"
                    f"{c.done:9.1f} ± {c.done_error:5.1f}{far}"
                )
    for at, what in ((1, "dimension"), (2, "visit")):
        told = [c for row in found for c in row[at] if max(c.tool, c.done) > 0.5]
        first = sum(first_holds(row[at]) for row in found)
        print(
            f"first {what} holds in {first} of {wanted}, "
            f"figure within its error in {sum(c.agrees for c in told)} of {len(told)}"
        )


if __name__ == "__main__":
    if sys.argv[1:2] == ["measuring"]:
        print_proofs(int(sys.argv[2]) if len(sys.argv) > 2 else 20)
    else:
        print_regret(int(sys.argv[1]) if len(sys.argv) > 1 else 40)
