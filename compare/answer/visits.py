"""What a measurement is worth: in money, by dimension, by visit and of everything, before one buys.

Knowing a number is worth what it changes in the choice: the mean, over its doubt, of the best
expected value given it, less the best expected value today (see `judge.deciding`). Only builds that
may still come first are looked at; a dimension that moves none of their values is worth nothing and
is not listed.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np

from compare.answer.unknowns import unknown_keys
from compare.judge.baseline import TRIES, sound
from compare.judge.deciding import (
    NOTHING,
    Knowing,
    nearly,
    partial_information,
    perfect_information,
)
from compare.judge.draws import Draw, Moved, Nested, build_arrays, car_arrays, car_doubts, likely_of
from compare.judge.engine import Result
from compare.judge.rules import SAME
from compare.judge.settle import Fitted
from compare.judge.value import drawn_values, keep_scores, lost_points, values
from compare.said import Said, fill
from compare.vocabulary import (
    CATALOGUE_COLUMNS,
    LIKELY_SHARE,
    MINUTES_OF_TOOL,
    MINUTES_OF_VISIT,
    STATION_SIDES,
    VISIT_OF_GROUP,
    VISIT_OF_KEY,
    VISIT_OF_SECTION,
    VISIT_WHEN_BOUGHT,
    Term,
    car_terms_by_name,
    catalogue_terms,
)

if TYPE_CHECKING:
    from compare.answer.compare import Assessment

__all__ = [
    "CAR",
    "Dimension",
    "Measurement",
    "Measures",
    "Visit",
    "contenders",
    "soonest",
    "what_to_measure",
]

Array = np.ndarray
CAR = "car"
RING = 64  # draws of what is known, and of the rest for each of them
COARSE = 24  # the same, to tell what is far from changing the choice
SCREENED = 64  # draws by which a dimension that does not matter is told from one that does
ROWS = 16_000  # builds × draws in one run
MOST_CONTENDERS, MOST_OF_ONE = 12, 3
FIRST_CHANCE = 0.01  # builds that come first more rarely are no contenders
WORTH_SAYING = 0.001  # of the budget: less than this is no reason to measure (our choice)
MATTERS = (
    0.1  # of the largest move on a visit: what moves the value less is not worth the minutes there
)
SOON = 4  # contenders looked at where one is asked at once
OFTEN = 0.1  # share of the draws: the figure of an operation done more rarely is not asked about
SAME_FIGURE = 0.05  # mm: differences below are ties everywhere
RING_BATCH, SCREEN_BATCH = 500_000, 600_000  # streams of their own, apart from the draws that judge


@dataclass(frozen=True)
class Dimension:
    """One number in doubt. owner, column: its stream of draws; of: the gearbox, the part or the
    car.
    """

    owner: str
    column: str
    of: str
    visit: str
    minutes: int
    given: bool
    tool: str

    @property
    def stream(self) -> tuple[str, str]:
        return self.owner, self.column


@dataclass(frozen=True)
class Measurement:
    """What knowing one dimension is worth; decides_figure_of: the decision whose figure hangs on it
    most.

    worth, error: money, or points where cost has no weight; NaN where a number without a likely
    range is asked for. moves: by how much it moves that figure [mm], mean over the draws.
    """

    dimension: Dimension
    knowing: Knowing
    decides_figure_of: str = ""
    moves: float = 0.0

    @property
    def said(self) -> Said:
        d = self.dimension
        template = "{dimension} of {of}, {visit}, {minutes} min: "
        if math.isnan(self.knowing.worth):
            template += "not known, and the build cannot be judged without it"
        elif self.knowing.worth > 0:
            template += "worth about {worth} ± {error}"
        else:
            template += "changes nothing in what to buy"
        if self.decides_figure_of:
            template += "; moves the figure of {figure} by {moves}"
        return Said(template, {
            "dimension": words_of(d.column), "of": _whose(d.of), "visit": d.visit,
            "minutes": str(d.minutes),
            "worth": (self.knowing.worth, "money"), "error": (self.knowing.error, "money"),
            "figure": self.decides_figure_of.replace("_", " "), "moves": (self.moves, "mm"),
        })  # fmt: skip

    def row(self) -> dict[str, Any]:
        """As the JSON has it; an unknown number is null."""
        d = self.dimension
        return {
            "of": d.of, "dimension": d.column, "visit": d.visit, "minutes": d.minutes,
            "worth": _number(self.knowing.worth), "worth_error": _number(self.knowing.error),
            "decides_figure_of": self.decides_figure_of or None, "text": fill(self.said),
        }  # fmt: skip


@dataclass(frozen=True)
class Visit:
    """What one occasion to measure is worth: all that is in doubt there and matters, known
    together.
    """

    visit: str
    of: str
    dimensions: tuple[Dimension, ...]
    minutes: int
    knowing: Knowing

    @property
    def said(self) -> Said:
        count = len(self.dimensions)
        which = "this one" if count == 1 else f"these {count}"
        template = (
            "{visit}, measuring "
            + which
            + " on {of} takes {minutes} minutes and is worth about {worth} ± {error}: {dimensions}"
        )
        return Said(template, {
            "visit": self.visit[0].upper() + self.visit[1:], "of": _whose(self.of),
            "minutes": str(self.minutes),
            "worth": (self.knowing.worth, "money"), "error": (self.knowing.error, "money"),
            "dimensions": ", ".join(words_of(d.column) for d in self.dimensions),
        })  # fmt: skip

    def row(self) -> dict[str, Any]:
        """As the JSON has it."""
        return {
            "visit": self.visit, "of": self.of, "dimensions": [d.column for d in self.dimensions],
            "minutes": self.minutes, "worth": _number(self.knowing.worth),
            "worth_error": _number(self.knowing.error), "text": fill(self.said),
        }  # fmt: skip


@dataclass
class Measures:
    """What is worth measuring before buying, the most worth first. `enough`: the least worth that
    is said.

    everything: worth of knowing all that is in doubt. priced: whether worth is money, else points.
    """

    everything: Knowing = NOTHING
    visits: list[Visit] = field(default_factory=list)
    measuring: list[Measurement] = field(default_factory=list)
    enough: float = 0.0
    priced: bool = True
    drawn: bool = True

    @property
    def worthwhile(self) -> list[Visit]:
        """The visits that may change what one buys."""
        return [v for v in self.visits if v.knowing.worth >= self.enough]

    @property
    def open(self) -> list[Measurement]:
        """Numbers without which a contender cannot be judged at all."""
        return [m for m in self.measuring if math.isnan(m.knowing.worth)]

    @property
    def said(self) -> Said:
        """One sentence on the whole."""
        if not self.drawn:
            return Said("nothing was drawn, so no measurement has a worth")
        if self.worthwhile or self.open:
            return Said("knowing everything before buying would be worth about {worth} ± {error}", {
                "worth": (self.everything.worth, "money"),
                "error": (self.everything.error, "money"),
            })  # fmt: skip
        return Said("nothing that you can measure is likely to change what you buy")


def _number(value: float) -> float | None:
    return None if math.isnan(value) else round(value, 2)


def _whose(of: str) -> str:
    return "the car" if of == CAR else of


def words_of(column: str) -> str:
    """A dimension in words.

    >>> words_of("car_mount_drop_most"), words_of("tunnel_left_2"), words_of("tyre_scale")
    ('mount drop most', 'tunnel left at station 3', 'tyre size')
    """
    place = _station(column)
    if place:
        return f"tunnel {place[0]} at station {place[1] + 1}"
    if column.startswith("tyre_") and column not in car_terms_by_name():
        column = "tyre_size"
    if column.startswith("present_"):
        return "today's " + column.removeprefix("present_").replace("_", " ")
    return column.removeprefix("car_").replace("_", " ")


def _station(column: str) -> tuple[str, int] | None:
    """Side and number of a tunnel's dimension, None for another."""
    parts = column.split("_")
    if (
        len(parts) == 3
        and parts[0] == "tunnel"
        and parts[1] in STATION_SIDES
        and parts[2].isdigit()
    ):
        return parts[1], int(parts[2])
    return None


def car_term(column: str) -> Term:
    """The key of the car that a stream of draws belongs to.

    >>> [car_term(c).name for c in ("car_mount_zone_start", "tunnel_left_2", "tyre_scale")]
    ['car_mount_zone', 'tunnel_stations', 'tyre_size']
    """
    terms = car_terms_by_name()
    if _station(column):
        return terms["tunnel_stations"]
    if column in terms:
        return terms[column]
    for end in ("_start", "_end"):
        if column.removesuffix(end) in terms:
            return terms[column.removesuffix(end)]
    return terms["tyre_size"]


# ---- what is in doubt ----------------------------------------------------------------------------


def doubtful_of_car(a: Assessment) -> list[Dimension]:
    """Every number of the car that is drawn."""
    found = [(d.column, True) for d in car_doubts(a.car)] + [(n, False) for n in unknown_keys(a)]
    return [_car_dimension(column, given) for column, given in found]


def _car_dimension(column: str, given: bool) -> Dimension:
    term = car_term(column)
    visit = VISIT_OF_KEY.get(term.name) or VISIT_OF_SECTION[term.section]
    return Dimension(CAR, column, CAR, visit, MINUTES_OF_TOOL[term.tool], given, term.tool)


def doubtful_of_build(a: Assessment, build: int) -> list[Dimension]:
    """Every number of one build that is drawn: in doubt, or unknown with a likely range."""
    found = []
    for term in CATALOGUE_COLUMNS:
        column = a.builds.columns.get(term.name)
        if column is None:
            continue
        nominal, half = column.nominal[build], column.half[build]
        blank = math.isnan(nominal)
        likely = likely_of(term) is not None or term.name in LIKELY_SHARE
        if (blank and likely) or (not blank and half > 0 and math.isnan(column.high[build])):
            found.append(_build_dimension(a, build, term, not blank))
    return found


def _build_dimension(a: Assessment, build: int, term: Term, given: bool) -> Dimension:
    owner = a.builds.owner_name(term.name, build)
    mine = owner.startswith("candidate ")
    visit = VISIT_WHEN_BOUGHT if mine and a.builds.bought[build] else VISIT_OF_GROUP[term.group]
    of = a.builds.owner_label(term.name, build)
    return Dimension(owner, term.name, of, visit, MINUTES_OF_TOOL[term.tool], given, term.tool)


# ---- who may still come first --------------------------------------------------------------------


def _middle(a: Assessment) -> Array:
    low, high = drawn_values(a)
    return np.asarray((low + high) / 2.0)


def contenders(a: Assessment) -> Array:
    """Builds that knowing something could make first, or that come first: rows, the best first.

    Those that beat the best choice in more than 1 % of the draws and by more than is worth saying.
    """
    found = _middle(a)
    active = np.flatnonzero(~a.builds.set_aside)
    if not len(active):
        return active
    means = a.value[active]
    first = int(active[means.argmax()])
    base = found[first] if a.value[first] >= a.keep_value else keep_scores(a)
    over = np.maximum(found[active] - base, 0.0)
    gain = over.mean(axis=1)
    may = (gain >= _enough(a) / _money(a)) & ((over > 0).mean(axis=1) > FIRST_CHANCE)
    rows = [first]
    per: dict[int, int] = {int(a.builds.candidate[first]): 1}
    for at in np.argsort(-gain, kind="stable"):
        row, candidate = int(active[at]), int(a.builds.candidate[active[at]])
        if not may[at] or row == first or per.get(candidate, 0) >= MOST_OF_ONE:
            continue
        per[candidate] = per.get(candidate, 0) + 1
        rows.append(row)
    return np.array(rows[:MOST_CONTENDERS])


def _money(a: Assessment) -> float:
    """Money per point; 1 where cost has no weight: worth is then in points."""
    point = a.engine.money_per_point
    return 1.0 if math.isnan(point) else point


def _enough(a: Assessment) -> float:
    """The least worth that is said, in the unit of worth."""
    return 0.1 if math.isnan(a.engine.money_per_point) else WORTH_SAYING * a.engine.budget


# ---- values in draws of one's own ----------------------------------------------------------------


@dataclass
class _Field:
    """Draws of some builds and of today's gearbox: V `(builds + 1, draws)`, keep last; weight
    `(draws,)`.
    """

    value: Array
    weight: Array
    results: list[Result]


def _field(a: Assessment, rows: Sequence[int] | Array, how: Draw) -> _Field:
    """V of some builds under any way to draw; draws that speak against today's gearbox weigh
    nothing.
    """
    of_car = car_arrays(a.car, how)
    keep, weight = np.full(how.count, a.keep_value), np.ones(how.count)
    if a.today is not None:
        good, worth = sound(a.engine, of_car, how)
        keep = a.engine.score(worth)
        if good.mean() > 1.0 / TRIES:
            weight = good.astype(float)
    parts, results = [], []
    step = max(1, ROWS // (1 + how.count))
    lost = lost_points(a)
    for start in range(0, len(rows), step):
        some = np.asarray(rows[start : start + step], dtype=int)
        names = of_car | build_arrays(a.builds, some, how)
        result = a.engine.run(names, (len(some), 1 + how.count), Fitted())
        low, high = values(
            a.engine.score(result.utility[:, 1:]), result.goes_in[:, 1:], keep - lost[some, None]
        )
        parts.append((low + high) / 2.0)
        results.append(result)
    return _Field(np.concatenate([*parts, keep[None]]), weight, results)


def _screen(
    a: Assessment, rows: Sequence[int], dimensions: Sequence[Dimension]
) -> tuple[Array, dict[str, Array]]:
    """(mean change of V by each dimension `(dimensions,)`, mean change of each figure of the first
    row).

    The mean of |V(z) − V(z')| over redrawn z bounds what knowing z can be worth, in points.
    """
    moved = tuple(d.stream for d in dimensions)
    blocks = 1 + len(moved)
    found = _field(a, rows, Moved(blocks * SCREENED, a.seed, SCREEN_BATCH, moved=moved))
    value = found.value.reshape(len(found.value), blocks, SCREENED)
    weight = found.weight.reshape(blocks, SCREENED)
    both = weight[1:] * weight[0]
    change = np.abs(value[:, 1:] - value[:, :1]).max(axis=0)
    total = np.maximum(both.sum(axis=1), 1.0)
    return (change * both).sum(axis=1) / total, _figures(a, found.results[0], blocks)


def _figures(a: Assessment, result: Result, blocks: int) -> dict[str, Array]:
    """By decision, how far each dimension moves its figure `(blocks − 1,)` in mm, first build.

    The mean over the draws in which it is done either way: whether it is done at all is no figure.
    """
    moves: dict[str, Array] = {}
    for rule in a.engine.book.of("decision"):
        if rule.fitting or not rule.unit.startswith("mm"):
            continue
        figure = np.nan_to_num(result.pick(result.names[rule.name])[0, 1:]).reshape(blocks, -1)
        both = (np.abs(figure[1:]) > SAME) & (np.abs(figure[:1]) > SAME)
        count = both.sum(axis=1)
        change = (np.abs(figure[1:] - figure[:1]) * both).sum(axis=1) / np.maximum(count, 1)
        moves[rule.name] = np.where(count > OFTEN * figure.shape[1], change, 0.0)
    return moves


def _worth(a: Assessment, rows: Sequence[int], known: Sequence[Dimension]) -> Knowing:
    """Worth of knowing some dimensions together, over the builds that they touch; the others' means
    stand.
    """
    levels = np.append(a.value[list(rows)], a.keep_value)
    rest = np.flatnonzero(~a.builds.set_aside & ~np.isin(np.arange(len(a.builds)), rows))
    others = float(a.value[rest].max()) if len(rest) else -math.inf
    if not nearly(*_rings(a, rows, known, COARSE), levels, others):
        return NOTHING
    nested, weight = _rings(a, rows, known, RING)
    order = None
    if len(known) == 1:
        ring = Draw(RING, a.seed, RING_BATCH + 1)
        order = ring.points(*known[0].stream).argsort()
    knowing = partial_information(nested, weight, levels, others, order)
    error = math.hypot(knowing.error, _level_error(a, rows, rest, nested, weight, levels, others))
    return Knowing(knowing.worth, error, knowing.change).times(_money(a))


def _rings(
    a: Assessment, rows: Sequence[int], known: Sequence[Dimension], ring: int
) -> tuple[Array, Array]:
    """V `(builds + 1, ring, ring)` and weights `(ring, ring)`, what is known standing still along
    the last axis.
    """
    streams = frozenset(d.stream for d in known)
    found = _field(a, rows, Nested(ring * ring, a.seed, RING_BATCH, known=streams, outer=ring))
    return found.value.reshape(-1, ring, ring), found.weight.reshape(ring, ring)


def _level_error(
    a: Assessment,
    rows: Sequence[int],
    rest: Array,
    nested: Array,
    weight: Array,
    levels: Array,
    others: float,
) -> float:
    """What the error of the builds' means does to the worth of knowing: by how often each is
    chosen.
    """
    means = np.einsum("koi,oi->ko", nested, weight) / np.maximum(weight.sum(axis=1), 1e-12)
    share = weight.sum(axis=1) / weight.sum()
    means = np.vstack([means + (levels - means @ share)[:, None], np.full(means.shape[1], others)])
    chosen = np.bincount(means.argmax(axis=0), weights=share, minlength=len(means))
    chosen[int(np.append(levels, others).argmax())] -= 1.0
    low, high = drawn_values(a, np.array(rows))
    series = [*((low + high) / 2.0), keep_scores(a)]
    if len(rest):
        best = int(rest[a.value[rest].argmax()])
        low, high = drawn_values(a, np.array([best]))
        series.append(((low + high) / 2.0)[0])
    mix = sum((c * s for c, s in zip(chosen, series, strict=False)), np.zeros(a.draws))
    return float(np.std(mix) / math.sqrt(max(a.draws, 1)))


# ---- all together --------------------------------------------------------------------------------


@dataclass
class _Group:
    """Dimensions that move the values of some builds together, and by how much [points], figures
    [mm].
    """

    rows: list[int]
    dimensions: list[Dimension]
    moves: Array
    figures: dict[str, Array]


@dataclass
class _Mover:
    """A dimension that moves values, the builds that it touches, and by how much, in the unit of
    worth.
    """

    dimension: Dimension
    rows: list[int]
    moves: float


def what_to_measure(a: Assessment) -> Measures:
    """Worth of each dimension, of each visit and of knowing everything, the most worth first."""
    money, enough = _money(a), _enough(a)
    found = Measures(
        enough=enough, priced=not math.isnan(a.engine.money_per_point), drawn=a.draws > 0
    )
    active = np.flatnonzero(~a.builds.set_aside)
    if not a.draws or not len(active):
        return found
    whole = np.concatenate([_middle(a)[active], keep_scores(a)[None]])
    found.everything = perfect_information(whole).times(money)
    worthwhile = found.everything.worth + 2.0 * found.everything.error >= enough
    rows = contenders(a)
    bought = a.value[rows[0]] >= a.keep_value
    movers: dict[tuple[str, str], list[_Mover]] = {}
    for group in _groups(a, rows):
        for at, dimension in enumerate(group.dimensions):
            figures = group.figures if bought and int(rows[0]) == group.rows[0] else {}
            named, by = _most_moved(figures, at)
            moves = group.moves[at] * money if worthwhile else 0.0
            may = moves >= enough / 4.0
            knowing = _worth(a, group.rows, [dimension]) if may else NOTHING
            if knowing.worth > 0 or named:
                found.measuring.append(Measurement(dimension, knowing, named, by))
            if may:
                place = (dimension.visit, dimension.of)
                movers.setdefault(place, []).append(_Mover(dimension, group.rows, moves))
    visits = [_visit(a, *place, members) for place, members in movers.items()]
    found.visits = [v for v in visits if v.knowing.worth > 0]
    found.measuring += _open(a, rows)
    found.measuring.sort(key=_most_worth)
    found.visits.sort(key=lambda v: (-v.knowing.worth, v.minutes))
    return found


def soonest(a: Assessment, most: int = 4) -> Measures:
    """The few measurements that move values most, with a rough worth: quick, for one question after
    the other.
    """
    money, enough = _money(a), _enough(a)
    found = Measures(
        enough=enough, priced=not math.isnan(a.engine.money_per_point), drawn=a.draws > 0
    )
    if not a.draws or not (~a.builds.set_aside).any():
        return found
    rows = contenders(a)[:SOON]
    levels = np.append(a.value, a.keep_value)
    movers = [
        (group.moves[at] * money, group.rows, dimension)
        for group in _groups(a, rows)
        for at, dimension in enumerate(group.dimensions)
    ]
    for moves, some, dimension in sorted(movers, key=lambda m: -m[0])[:most]:
        if moves < enough / 4.0:
            continue
        rest = np.flatnonzero(~a.builds.set_aside & ~np.isin(np.arange(len(a.builds)), some))
        others = float(a.value[rest].max()) if len(rest) else -math.inf
        nested, weight = _rings(a, some, [dimension], COARSE)
        knowing = partial_information(nested, weight, levels[[*some, -1]], others).times(money)
        found.measuring.append(Measurement(dimension, knowing))
    found.measuring += _open(a, rows)
    found.measuring.sort(key=_most_worth)
    return found


def _most_worth(m: Measurement) -> tuple[float, float]:
    worth = math.inf if math.isnan(m.knowing.worth) else m.knowing.worth
    return -worth, -m.moves


def _most_moved(figures: dict[str, Array], at: int) -> tuple[str, float]:
    """The figure that a dimension moves most, where it moves one at all, of the build to buy."""
    if not figures:
        return "", 0.0
    name = max(figures, key=lambda n: float(figures[n][at]))
    moves = float(figures[name][at])
    return (name, moves) if moves > SAME_FIGURE else ("", 0.0)


def _groups(a: Assessment, rows: Array) -> list[_Group]:
    """The car's dimensions over all contenders; each gearbox's and part's over the builds that they
    touch.
    """
    found = []
    of_car = doubtful_of_car(a)
    if of_car:
        found.append(_Group(rows.tolist(), of_car, *_screen(a, rows.tolist(), of_car)))
    touched: dict[Dimension, list[int]] = {}
    for row in rows.tolist():
        for dimension in doubtful_of_build(a, row):
            touched.setdefault(dimension, []).append(row)
    alike: dict[tuple[int, ...], list[Dimension]] = {}
    for dimension, builds in touched.items():
        alike.setdefault(tuple(builds), []).append(dimension)
    for some, dimensions in alike.items():
        found.append(_Group(list(some), dimensions, *_screen(a, some, dimensions)))
    return found


def _visit(a: Assessment, visit: str, of: str, members: list[_Mover]) -> Visit:
    """All that matters on one visit, known together; what moves the value least is left out."""
    most = max(m.moves for m in members)
    kept = sorted((m for m in members if m.moves >= MATTERS * most), key=lambda m: -m.moves)
    rows = list(dict.fromkeys(row for m in kept for row in m.rows))
    dimensions = tuple(m.dimension for m in kept)
    minutes = MINUTES_OF_VISIT[visit] + sum(d.minutes for d in dimensions)
    return Visit(visit, of, dimensions, minutes, _worth(a, rows, dimensions))


def _open(a: Assessment, rows: Array) -> list[Measurement]:
    """Numbers without a likely range, without which a contender is not judged: no worth can be
    told.
    """
    unknown = Knowing(math.nan, math.nan, math.nan)
    found: dict[tuple[str, str], Measurement] = {}
    for row in rows.tolist():
        if not math.isnan(a.chance[row]):
            continue
        for of, name in a.deciding.get(row, []):
            if of == CAR:
                dimension = _car_dimension(name, False)
            else:
                dimension = _build_dimension(a, row, catalogue_terms()[name], False)
            found[of, name] = Measurement(dimension, unknown)
    return list(found.values())
