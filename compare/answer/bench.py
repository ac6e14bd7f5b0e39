"""Builds on the bench: any rows - a build, or one draw of it - run with some of their dimensions
moved.

`Bench.judge` is the one accessor: it finds where a dimension lives (columns as typed, keys of the
car, stations,
limits, policy, decisions, measured quantities) and runs all rows and points as one array run.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING, Any

import numpy as np

from compare.answer.dimensions import (
    FINE,
    PART,
    PLATE,
    SHIFT,
    STEP,
    Dimension,
    shared_dimensions,
)
from compare.judge.baseline import car_draws, has_gearbox
from compare.judge.draws import (
    FOR_CAR,
    FROM_BELL,
    Draw,
    Typed,
    derived,
    joined,
    present_arrays,
    typed_arrays,
)
from compare.judge.engine import MEASURED, Result
from compare.judge.picked import Before
from compare.judge.planned_seat import Planned
from compare.judge.rules import CLASH, SEAT_HANGS_ON, UNMEASURED, Rule, Rulebook
from compare.judge.settle import Figures, Fitted, Found, WithFigures
from compare.vocabulary import (
    LIKELY_SHARE,
    SEAT_RANGE,
    STATION_SIDES,
    catalogue_terms,
    rule_inputs,
)

if TYPE_CHECKING:
    from compare.answer.compare import Assessment

__all__ = ["Bench", "Judged", "settled_places"]

Array = np.ndarray
FROM_DEPTH = (
    "bellhousing_depth",
    "measured_from",
)  # what else is typed from a bell's front hangs on it
FED_BY: dict[str, list[str]] = {}  # term -> names of rules' inputs that are made from it
for _name, _terms in rule_inputs().items():
    for _term in _terms:
        FED_BY.setdefault(_term, []).append(_name)
LITTLE = 20  # rules
WATCHED = 65  # points over a range at which today's gearbox is judged


@dataclass
class Judged:
    """What a run of rows gave, `(rows, points)` or `(checks, rows, points)` for the checks that
    decide.

    good: goes in, checks that were open before left out. shallow: and with no deeper step than
    planned.
    failing: a check is against it. margin: to working, NaN where it says nothing. deepest: index of
    the undo step.
    """

    good: Array
    shallow: Array
    failing: Array
    margin: Array
    deepest: Array
    result: Any

    @classmethod
    def joined(cls, parts: Sequence[Judged], places: Array) -> Judged:
        """Several as one, each row at its place; without results."""
        order = np.argsort(places)
        join = lambda n: np.concatenate([getattr(p, n) for p in parts], axis=-2)[..., order, :]
        return cls(
            join("good"), join("shallow"), join("failing"), join("margin"), join("deepest"), None
        )


@dataclass
class Bench:
    """Builds (or draws of them) on the bench, ready to be swept. Row i of the typed arrays is
    `builds[i]`.

    left_out: `(rows, checks that decide)`: open as they stand, so left out of every sweep.
    """

    a: Assessment
    builds: Array
    typed: Typed
    car: dict[str, Array]
    points: int = 1
    left_out: Array = field(init=False)
    deciding: list[Rule] = field(init=False)
    goes_in: Array = field(init=False)

    @classmethod
    def nominal(cls, a: Assessment, builds: Sequence[int] | Array) -> Bench:
        """The nominal builds, unknown numbers in the middle of their likely ranges."""
        rows = np.asarray(builds, dtype=int)
        how = Draw(seed=a.seed)
        return cls(
            a, rows, typed_arrays(a.builds, rows, how), car_draws(a.engine, a.today, how).names
        )

    @classmethod
    def drawn(cls, a: Assessment, build: int, count: int) -> Bench:
        """The draws of one build, a row each, the nominal one left out."""
        how = Draw(count, a.seed)
        typed = typed_arrays(a.builds, np.array([build]), how)
        across = lambda array: _draws_as_rows(array, 1 + count)
        typed = Typed({n: across(v) for n, v in typed.names.items()},
                      {n: across(v) for n, v in typed.shares.items()})  # fmt: skip
        car = {n: across(v) for n, v in car_draws(a.engine, a.today, how).names.items()}
        return cls(a, np.full(count, build), typed, car)

    def __post_init__(self) -> None:
        engine = self.a.engine
        self.deciding = [
            r for r, decides in zip(engine.checks, engine.decides, strict=True) if decides
        ]
        self.places = np.flatnonzero(engine.decides)
        self.waits = engine.waits[self.places]
        self._feeding_today = self._feeds_today()
        self._watched: set[str] = set()
        self._varies: set[str] = set()
        self.plan_step = self.a.plan_step[self.builds].astype(float)
        self.left_out = np.zeros((len(self.builds), len(self.deciding)), dtype=bool)
        base = self.judge(np.arange(len(self.builds)), [{}] * len(self.builds), self.points)
        self.base: Result = base.result
        open_ = base.result.verdicts[self.places][:, :, 0] == UNMEASURED
        self._open = open_.T
        self.left_out = open_.T | self.waits[None, :]
        clash = base.result.verdicts[self.places][:, :, 0] == CLASH
        failing = clash | (base.failing[:, :, 0] & ~self.left_out.T)
        low, high = (
            base.result.pick(base.result.names[f"thickness_{end}"]) for end in ("low", "high")
        )
        self.free_plate = high[:, 0] > low[:, 0] + FINE
        self.seat = (
            base.result.pick(base.result.names[PLATE]),
            base.result.pick(base.result.names[SHIFT]),
        )
        self._moving_seat = moves_seat(self.a.engine.book)
        self.goes_in = ~failing.any(axis=0)
        self.failing = failing  # (checks that decide, rows)

    def against(self, at: int) -> str | None:
        """The first check that a row as it stands fails."""
        places = np.flatnonzero(self.failing[:, at])
        return self.deciding[places[0]].title if len(places) else None

    def open_checks(self, at: int) -> list[str]:
        """The checks of a row that a number without a likely range leaves open."""
        return [r.title for r, out in zip(self.deciding, self._open[at], strict=True) if out]

    def _feeds_today(self) -> set[str]:
        """Names that the road checks of today's gearbox hang on: it is judged anew where one is
        swept."""
        book = self.a.engine.book
        if not has_gearbox(self.a.car):
            return set()
        roads = [r.name for r in self.a.engine.checks if r.kind == "road"]
        return {n for r in roads for n in (*book.feeds(r), *book.through(r))} | {
            f"{r.title}_{end}"
            for r in book.checks
            for end in ("clear", "tight")
            if r.kind == "road"
        }

    @cached_property
    def shared(self) -> list[Dimension]:
        """The dimensions that all builds share: the car's and the owner's."""
        return shared_dimensions(self)

    def nominal_names(self, build: int) -> dict[str, float]:
        """Each typed number of a build as it stands."""
        at = int(np.flatnonzero(self.builds == build)[0])
        typed = self._typed(np.array([at]))
        found = {n: float(v[0, 0]) for n, v in typed.names.items()}
        for name, share in typed.shares.items():
            if not math.isnan(share[0, 0]):
                found[name] = found[LIKELY_SHARE[name][0]] * float(share[0, 0])
        return found

    @cached_property
    def plan(self) -> Result:
        """The plan's run of every row as it stands."""
        at = np.arange(len(self.builds))
        settle = WithFigures(self.a.figures.of(self.builds), self._made(at))
        names = joined(self._pick(self.car, at), derived(self._typed(at)))
        return self.a.engine.run(names, (len(at), self.points), settle)

    def planned(self, name: str, at: int) -> float:
        """A quantity or the figure of a decision of the plan, in the nominal draw; NaN for none."""
        return self.plan.value(name, at)

    def planned_undo(self, decision: str, at: int) -> int:
        """Index of the undo step of what the plan does; 0 where it does nothing."""
        item = self.plan.items.get(decision)
        if item is None or not self.plan.pick(item.done)[at, 0]:
            return 0
        return int(self.plan.pick(item.undo)[at, 0])

    def unit(self, name: str) -> str:
        """The unit of a column or a quantity, angles in rad."""
        rule = self.a.engine.book.rules.get(name)
        if rule is not None:
            return rule.unit
        unit = catalogue_terms()[name].unit
        return "rad" if unit == "deg" else unit

    def _typed(self, at: Array) -> Typed:
        return Typed(self._pick(self.typed.names, at), self._pick(self.typed.shares, at))

    def _pick(self, names: Mapping[str, Array], at: Array) -> dict[str, Array]:
        return {n: v[at] if v.shape[0] > 1 else v for n, v in names.items()}

    def _made(self, at: Array) -> dict[str, Array]:
        return self.a.made.arrays(self.a.builds, self.builds[at])

    def judge(
        self,
        at: Array,
        moved: Sequence[Mapping[str, Array]],
        points: int,
        way: str = "fitted",
        fixed: Mapping[str, Array] | None = None,
        today: Mapping[str, Any] | None = None,
    ) -> Judged:
        """Run rows `at` of the bench, each with what is moved: name -> `(points,)`.

        way: `fitted`, every decision made anew, or `plan`, with the plan's figures. fixed:
        decisions held,
        name -> `(rows, 1)`. today: by how much today's gearbox fails each road check, where it is
        known.
        Decisions moved count as made.
        """
        shape = len(at), points
        result = self.a.engine.run(*self._ready(at, moved, shape, way, fixed, today))
        verdicts = result.verdicts[self.places]
        failing = self._failing(at, verdicts)
        good = np.asarray(~failing.any(axis=0))
        shallow = good & (result.deepest <= self.plan_step[at][:, None])
        margin = np.empty(verdicts.shape)
        for i, rule in enumerate(self.deciding):
            margin[i] = result.readings[rule.name].works_where_it_applies
        return Judged(good, shallow, failing, margin, result.deepest, result)

    def swept(
        self,
        at: Array,
        moved: Sequence[Mapping[str, Array]],
        points: int,
        way: str = "fitted",
        fixed: Mapping[str, Array] | None = None,
        today: Mapping[str, Any] | None = None,
        deep: bool = False,
    ) -> Judged:
        """The same without work, money and worth, and only what hangs on something moved anew.

        `result` is None; `shallow` is worked out where it is asked for by `deep`.
        """
        names, shape, settle, today = self._ready(at, moved, (len(at), points), way, fixed, today)
        changed = self._changed({n for one in moved for n in one} | set(fixed or ()))
        known = self.base.names if way == "fitted" else self.plan.names
        before = Before(known, at, len(self.builds))
        again = self.a.engine.again(names, before, shape, settle, changed, today, deep)
        failing = self._failing(at, again.verdicts)
        good = np.asarray(~failing.any(axis=0))
        shallow = good & (again.deepest <= self.plan_step[at][:, None])
        return Judged(good, shallow, failing, again.margin, again.deepest, None)

    def touches(self, name: str, checks: Collection[int]) -> bool:
        """Whether one of some checks, places among those that decide, hangs on a dimension."""
        again = self.a.engine.downstream(self._changed({name}))
        rules = [self.deciding[c] for c in checks]
        if self._touches(name) and any(r.kind == "road" for r in rules):
            return True
        if self.reach(name) >= 2:  # through the seat
            return True
        return any(r.name in again or name.startswith(r.title) for r in rules)

    def _changed(self, moved: set[str]) -> frozenset[str]:
        """Inputs of rules, limits and decisions that change where some dimensions are moved."""
        found: set[str] = set()
        for name in moved:
            stem = _stem(name)
            found |= {name, stem, *FED_BY.get(stem, ())}
            if stem in FROM_DEPTH:
                found |= set(FROM_BELL)
            for share, (of, _, _) in LIKELY_SHARE.items():
                if of == stem:
                    found.add(share)
        if STEP in found:
            found.add("deepest_permitted")
        return frozenset(found)

    def _ready(
        self, at: Array, moved: Sequence[Mapping[str, Array]], shape: tuple[int, int], way: str,
        fixed: Mapping[str, Array] | None, today: Mapping[str, Any] | None,
    ) -> tuple[dict[str, Any], tuple[int, int], Found, Mapping[str, Any] | None]:  # fmt: skip
        """What the engine takes: names with everything moved, shape, the way to settle, today's
        misses."""
        points = shape[1]
        typed, car = self._typed(at), self._pick(self.car, at)
        held = self._held(at, fixed or {})
        extra: dict[str, Array] = {}
        for name, rows, values in _by_name(moved):
            self._place(name, at, rows, values, (len(at), points), typed, car, held, extra)
        names = joined(car, derived(typed)) | extra
        settle: Found = WithFigures(self.a.figures.of(self.builds[at]), held)
        if way != "plan":
            settle = self._fitted(at, moved, held)
        if today is None:
            today = self.today(moved, points)
        return names, shape, settle, today

    def _fitted(
        self, at: Array, moved: Sequence[Mapping[str, Array]], held: dict[str, Array]
    ) -> Found:
        """Every decision made anew; the seat stays where nothing moves on which it hangs."""
        if not hasattr(self, "_moving_seat"):
            return Fitted(made=held)
        still = np.array([not any(_stem(n) in self._moving_seat for n in one) for one in moved])
        if still.all():
            blank = np.full((len(at), 1), np.nan)
            seat = Planned(*(one[at] for one in self.seat), *(blank for _ in range(4)))
            return WithFigures(Figures(seat), held)
        for name, one in zip((PLATE, SHIFT), self.seat, strict=True):
            stays = np.where(still[:, None], one[at], np.nan)
            made = held.get(name)
            held[name] = stays if made is None else np.where(np.isnan(made), stays, made)
        return Fitted(made=held)

    def reach(self, name: str) -> int:
        """How much is judged anew where a dimension moves: 0 little, 1 a good deal, 2 the seat too,
        3
        the tunnel's stations as well."""
        if _stem(name) == "tunnel_stations":
            return 3
        if _stem(name) in self._moving_seat:
            return 2
        return int(len(self.a.engine.downstream(self._changed({name}))) > LITTLE)

    def _held(self, at: Array, fixed: Mapping[str, Array]) -> dict[str, Array]:
        """Decisions held: what is made already, then what is fixed besides."""
        held = self._made(at)
        for name, figure in fixed.items():
            made = held.get(name)
            held[name] = figure if made is None else np.where(np.isnan(made), figure, made)
        return held

    def _place(
        self, name: str, at: Array, rows: Array, values: Array, shape: tuple[int, int],
        typed: Typed,
        car: dict[str, Any], held: dict[str, Any], extra: dict[str, Any],
    ) -> None:  # fmt: skip
        """Put values `(some rows, points)` of one dimension where it lives."""
        engine = self.a.engine
        if name == PLATE:
            free = self.free_plate[at[rows]]
            for mine, where in ((free, held), (~free, typed.names)):
                if mine.any():
                    _put(where, name, rows[mine], values[mine], shape, math.nan)
        elif name in SEAT_RANGE:
            _put(held, name, rows, values, shape, math.nan)
        elif name in typed.names:
            _put(typed.names, name, rows, values, shape, math.nan)
            if name in typed.shares:
                share = np.broadcast_to(typed.shares[name], shape).copy()
                share[rows] = math.nan
                typed.shares[name] = share
        elif name in car:
            part = typed.names.get(FOR_CAR + name, np.full((1, 1), math.nan))
            takes = np.isfinite(np.broadcast_to(part, (shape[0], part.shape[1]))[rows, 0])
            for mine, where, key in ((takes, typed.names, FOR_CAR + name), (~takes, car, name)):
                if mine.any():
                    _put(where, key, rows[mine], values[mine], shape, math.nan)
        elif name in engine.limits:
            extra[name] = np.full(shape, engine.limits[name])
            extra[name][rows] = values
        elif name in engine.book.rules and engine.book.rules[name].settled:
            _put(held, name, rows, values, shape, math.nan)
        elif name in engine.book.rules:
            _put(extra, MEASURED + name, rows, values, shape, math.nan)
        else:
            self._place_station(name, rows, values, shape, car)

    def _place_station(
        self, name: str, rows: Array, values: Array, shape: tuple[int, int], car: dict[str, Any]
    ) -> None:
        """A side at one station, or where it is, and with it the sides read between stations."""
        stem, _, number = name.rpartition("_")
        at, stations = int(number), self.a.car.stations
        wide = lambda array: np.broadcast_to(array, (*shape, array.shape[-1])).copy()
        car[stem] = wide(car[stem])
        car[stem][rows, :, at] = values
        x = np.broadcast_to(car["tunnel_x"], (*shape, len(stations)))[rows]
        for side in STATION_SIDES if stem == "tunnel_x" else (stem.removeprefix("tunnel_"),):
            known = [k for k, s in enumerate(stations) if side in s]
            blank = [k for k in range(len(stations)) if k not in known]
            if not known or not blank:
                continue
            section = wide(car[f"tunnel_{side}"])
            for k in blank:
                section[rows, :, k] = _between(x, section[rows], known, k)
            car[f"tunnel_{side}"] = section

    def watch_today(self, dims: Sequence[Dimension]) -> None:
        """Find out along which dimensions today's gearbox fails a road check otherwise than as it
        stands."""
        known = {d.name: d for d in dims if d.name not in self._watched and self._touches(d.name)}
        self._watched |= {d.name for d in dims}
        if not known:
            return
        points = [np.linspace(d.low, d.high, WATCHED) for d in known.values()]
        misses = self._misses([{n: p} for n, p in zip(known, points, strict=True)])
        usual = self.a.engine.today
        for i, name in enumerate(known):
            if any((m[i] != usual.get(check, 0.0)).any() for check, m in misses.items()):
                self._varies.add(name)

    def today(self, moved: Sequence[Mapping[str, Array]], points: int) -> dict[str, Any] | None:
        """By how much today's gearbox fails each road check, judged anew in the rows that may
        change it."""
        unwatched = lambda n: n not in self._watched and self._touches(n)
        same: dict[tuple[tuple[str, bytes], ...], list[int]] = {}
        for i, one in enumerate(moved):
            mine = {n: p for n, p in one.items() if n in self._varies or unwatched(n)}
            if mine:
                same.setdefault(tuple((n, p.tobytes()) for n, p in mine.items()), []).append(i)
        if not same:
            return None
        found: dict[str, Any] = dict(self.a.engine.today)
        for check, miss in self._misses([moved[rows[0]] for rows in same.values()]).items():
            whole = np.full((len(moved), points), self.a.engine.today.get(check, 0.0))
            for k, rows in enumerate(same.values()):
                whole[rows] = miss[k]
            found[check] = whole
        return found

    def _misses(self, moved: Sequence[Mapping[str, Array]]) -> dict[str, Array]:
        """check -> by how much today's gearbox fails it in the nominal car `(rows, points)`, 0
        where it does not."""
        engine = self.a.engine
        shape = len(moved), len(next(iter(moved[0].values())))
        mine = [{n: v for n, v in one.items() if self._touches(n)} for one in moved]
        names, changed = self.placed(mine, dict(self._of_today), shape)
        before = Before(self._judged_today, np.zeros(len(moved), dtype=int), 1)
        again = engine.again(names, before, shape, Found(), changed, {})
        found = {}
        for rule, margin, verdicts in zip(self.deciding, again.margin, again.verdicts, strict=True):
            clash = verdicts == CLASH
            if rule.kind == "road" and (clash.any() or rule.name in engine.today):
                found[rule.name] = np.where(clash, -margin, 0.0)
        return found

    def placed(
        self, moved: Sequence[Mapping[str, Array]], names: dict[str, Any], shape: tuple[int, int]
    ) -> tuple[dict[str, Any], frozenset[str]]:
        """(names of a car with dimensions of it moved, what changes by that), a row each."""
        at, extra = np.zeros(shape[0], dtype=int), dict[str, Array]()
        dims = set()
        for name, rows, values in _by_name(moved):
            dims.add(name)
            self._place(name, at, rows, values, shape, Typed({}, {}), names, {}, extra)
        return names | extra, self._changed(dims)

    def array(self, dim: Dimension) -> Array:
        """A number as it stands, `(rows or 1, points or 1)`; of a part that replaces a key its own."""
        name = dim.name
        if dim.kind == PART and FOR_CAR + name in self.typed.names:
            return self.typed.names[FOR_CAR + name]
        return self.typed.names[name] if name in self.typed.names else self.car[name]

    def of_car(self, name: str) -> bool:
        """Whether a dimension is the car's or the owner's, and so may touch today's gearbox."""
        return name not in self.typed.names and name not in self.a.engine.book.rules

    @cached_property
    def _of_today(self) -> dict[str, Any]:
        """The nominal car with today's gearbox."""
        car = car_draws(self.a.engine, None, Draw(seed=self.a.seed)).names
        return car | present_arrays(self.a.car)

    @cached_property
    def _judged_today(self) -> dict[str, Any]:
        """What a run of today's gearbox as found gives, by name."""
        names = dict(self._of_today)
        self.a.engine.verdicts(names, (1, 1), Found(), {})
        return names

    def _touches(self, name: str) -> bool:
        """Whether a road check of today's gearbox hangs on a dimension."""
        return self.of_car(name) and _stem(name) in self._feeding_today

    def _failing(self, at: Array, verdicts: Array) -> Array:
        """Where a check that decides is against it; what was open before is left out."""
        return (verdicts == CLASH) | ((verdicts == UNMEASURED) & ~self.left_out[at].T[:, :, None])


def _between(x: Array, section: Array, known: Sequence[int], at: int) -> Array:
    """A side that is left out at a station, on the straight line between the nearest that have it.

    x, section `(rows, points, stations)`; flat beyond the first and the last.
    """
    before, after = [k for k in known if k < at], [k for k in known if k > at]
    if not before or not after:
        return np.asarray(section[..., after[0] if after else before[-1]])
    i, j = before[-1], after[0]
    part = (x[..., at] - x[..., i]) / (x[..., j] - x[..., i])
    return np.asarray(section[..., i] + part * (section[..., j] - section[..., i]))


def _by_name(moved: Sequence[Mapping[str, Array]]) -> list[tuple[str, Array, Array]]:
    """(dimension, rows in which it is moved, its values there `(rows, points)`)."""
    rows: dict[str, list[int]] = {}
    for i, one in enumerate(moved):
        for name in one:
            rows.setdefault(name, []).append(i)
    return [(n, np.array(at), np.stack([moved[i][n] for i in at])) for n, at in rows.items()]


def _stem(name: str) -> str:
    """The key that a dimension belongs to: stations and pairs are one."""
    if name.startswith("tunnel_") and name[-1].isdigit():
        return "tunnel_stations"
    return "car_mount_zone" if name.startswith("car_mount_zone") else name


def moves_seat(book: Rulebook) -> set[str]:
    """Names of dimensions, limits and decisions on which the seat hangs."""
    todo = [*SEAT_HANGS_ON, *(r.name for r in book.of("seat_bound"))]
    base = rule_inputs()
    found = {PLATE, SHIFT, STEP, "measured_from"}
    seen: set[str] = set()
    while todo:
        name = todo.pop()
        if name in seen:
            continue
        seen.add(name)
        found |= {name, *base.get(name, ())}
        if name in book.rules:
            todo += book.rules[name].inputs
    shares = {of for name, (of, _, _) in LIKELY_SHARE.items() if name in found}
    return found | shares


def _draws_as_rows(array: Array, width: int) -> Array:
    """An array `(1, draws[, S])` as `(draws - 1, 1[, S])`, the nominal draw left out; constants
    stay."""
    if array.ndim < 2 or array.shape[1] != width or width == 1:
        return array
    return np.moveaxis(array[:, 1:], 1, 0)


def _put(
    names: dict[str, Any],
    name: str,
    rows: Array,
    values: Array,
    shape: tuple[int, int],
    blank: float,
) -> None:
    whole = np.broadcast_to(names.get(name, np.full((1, 1), blank)), shape).copy()
    whole[rows] = values
    names[name] = whole


def settled_places(a: Assessment) -> dict[str, int]:
    """Place of each decision in the order in which they are settled; the seat comes first of
    all."""
    order = dict.fromkeys(SEAT_RANGE, -1)
    return order | {rule.name: at for at, rule in enumerate(a.engine.book.decisions)}
