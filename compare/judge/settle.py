"""The ways to settle a decision: nothing done, each draw's own, one figure for all draws, or given.

The checks are the same for all of them; only what stands in the names of the decisions differs.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from compare.judge import seat as seats
from compare.judge.planned_seat import Planned, plan_seat
from compare.judge.rules import SAME, Ask, Options, Rule
from compare.vocabulary import SEAT_INPUTS, UNDO_STEPS

__all__ = ["Figures", "Fitted", "Found", "Plan", "Seated", "Written"]

Array = np.ndarray
WORTH_DOING = 0.05  # a decision leaves "nothing done" only for more than this share of good draws
SAME_SHARE = 0.02  # shares nearer than this are ties
TRY_FIRST = 0.2  # a shallower option that works this often is tried before


@dataclass
class Figures:
    """What a plan settled for all draws, each `(builds, 1)`: the seat, and blind decisions by name.

    seat: the planned seat with its setting tolerances; shares: per blind choice the share of draws
    in
    which each option works `(builds, options)`.
    """

    seat: Planned | None = None
    by_name: dict[str, Array] = field(default_factory=dict)
    shares: dict[str, Array] = field(default_factory=dict)

    def of(self, rows: Array) -> Figures:
        """The figures of some of the builds."""
        some = None if self.seat is None else self.seat.of(rows)
        pick = lambda d: {k: v[rows] for k, v in d.items()}
        return Figures(some, pick(self.by_name), pick(self.shares))


@dataclass
class Found:
    """As found: nothing done, the engine where it is, a plate to make at the plan's thickness.

    made: decisions that are made already, name -> figure.
    """

    figures: Figures = field(default_factory=Figures)
    made: Mapping[str, Array] = field(default_factory=dict)
    wants_bounds = False

    def decision(
        self, rule: Rule, ask: Ask, names: Mapping[str, Any], shape: tuple[int, int]
    ) -> Array:
        return self._made(rule, np.zeros((1, 1)))

    def choice(
        self, rule: Rule, options: Options, names: Mapping[str, Any], shape: tuple[int, int]
    ) -> Array:
        return self._made(rule, np.zeros((1, 1)))

    def seat(
        self, bounds: Sequence[seats.Bound], names: Mapping[str, Any], shape: tuple[int, int]
    ) -> seats.Seat:
        return self._seat(self._plate(names), np.zeros((1, 1)), shape)

    def _given(self, names: Mapping[str, Any]) -> tuple[Any, Any, Any, Any]:
        """(depth of the face, least, most thickness, most shift) that a seat made already leaves
        free.

        An engine that stands already where it goes counts in the depth and moves no more.
        """
        depth, low, high, most = (names[n] for n in SEAT_INPUTS)
        if "adapter_thickness" in self.made:
            made = self.made["adapter_thickness"]
            low, high = (np.where(np.isnan(made), a, made) for a in (low, high))
        if "engine_shift" in self.made:
            made = self.made["engine_shift"]
            depth, most = depth - np.nan_to_num(made), np.where(np.isnan(made), most, 0.0)
        return depth, low, high, most

    def _plate(self, names: Mapping[str, Any]) -> Array:
        """The plan's thickness where it is a choice, else the plate as it is."""
        low = np.asarray(names[SEAT_INPUTS[1]])
        planned = self.figures.seat
        if planned is None:
            return low
        return np.where(np.isnan(planned.thickness), low, planned.thickness)

    def _made(self, rule: Rule, figure: Array) -> Array:
        if rule.name not in self.made:
            return figure
        made = self.made[rule.name]
        return np.where(np.isnan(made), figure, made)

    def _seat(self, thickness: Array, shift: Array, shape: tuple[int, int]) -> seats.Seat:
        for name, array in (("adapter_thickness", thickness), ("engine_shift", shift)):
            if name in self.made:
                made = np.where(np.isnan(self.made[name]), array, self.made[name])
                thickness, shift = (
                    (made, shift) if name == "adapter_thickness" else (thickness, made)
                )
        return seats.Seat(np.broadcast_to(thickness, shape), np.broadcast_to(shift, shape))


def permitted(rule: Rule, ask: Ask, names: Mapping[str, Any]) -> Any:
    """Whether the owner's policy permits a decision, broadcast to `(builds, draws)`."""
    undo = UNDO_STEPS.index(rule.undo) if ask.undo is None else ask.undo
    return undo <= names["deepest_permitted"]


def own_figure(ask: Ask, allowed: Any = True) -> Array:
    """Each draw's own figure: nothing where nothing works, else the nearest to comfort that works.

    A decision that cannot give what is asked does nothing at all. NaN where the need is not known.

    >>> ask = Ask(np.array([[-1.0, 3.0, 3.0, 3.0]]), capacity=np.array([[9.0, 9.0, 2.0, 4.0]]))
    >>> own_figure(ask).tolist()
    [[0.0, 3.0, 0.0, 3.0]]
    """
    least, most = np.asarray(ask.least, dtype=float), np.asarray(ask.most, dtype=float)
    capacity = np.asarray(ask.capacity, dtype=float)
    nearest = np.where(least > SAME, least, np.where(most < -SAME, most, 0.0))
    wanted = nearest if ask.comfort is None else np.where(nearest == 0.0, 0.0, ask.comfort)
    figure = np.minimum(np.maximum(wanted, least), most)
    figure = np.clip(figure, -capacity, capacity)
    works = (figure >= least - SAME) & (figure <= most + SAME) & allowed
    figure = np.where((nearest == 0.0) | ~works, 0.0, figure)
    asked = (least > SAME) | (most < -SAME)
    unknown = np.isnan(least) | (asked & (np.isnan(most) | np.isnan(capacity)))
    return np.where(unknown, np.nan, figure)


def own_option(options: Options, rule: Rule, deepest: Array) -> Array:
    """Each draw's own option: the best ranked that works and is permitted, else nothing done.

    Not known where no option is known to work and one that is permitted is not known.
    """
    works = np.asarray(options.works, dtype=float)
    steps = np.array([UNDO_STEPS.index(o.undo) for o in rule.options])
    allowed = steps <= np.asarray(deepest)[..., None]
    good = (works >= -SAME) & allowed
    rank = np.arange(len(rule.options)) if options.rank is None else options.rank
    price = np.where(good, rank, np.inf)
    taken = np.where(good.any(axis=-1), price.argmin(axis=-1), 0)
    unknown = (np.isnan(works) & allowed).any(axis=-1) & ~good.any(axis=-1)
    return np.where(np.isnan(works).all(axis=-1) | unknown, np.nan, taken)


@dataclass
class Fitted(Found):
    """Every decision made anew in every draw: what is possible with all parts in hand."""

    wants_bounds = True

    def decision(
        self, rule: Rule, ask: Ask, names: Mapping[str, Any], shape: tuple[int, int]
    ) -> Array:
        if rule.blind and rule.name in self.figures.by_name:
            return self._made(rule, self.figures.by_name[rule.name])
        return self._made(rule, own_figure(ask, permitted(rule, ask, names)))

    def choice(
        self, rule: Rule, options: Options, names: Mapping[str, Any], shape: tuple[int, int]
    ) -> Array:
        if rule.blind and rule.name in self.figures.by_name:
            return self._made(rule, self.figures.by_name[rule.name])
        return self._made(rule, own_option(options, rule, names["deepest_permitted"]))

    def seat(
        self, bounds: Sequence[seats.Bound], names: Mapping[str, Any], shape: tuple[int, int]
    ) -> seats.Seat:
        solved = seats.solve(bounds, *self._given(names), shape)
        return self._seat(solved.thickness, solved.shift, shape)


@dataclass
class Seated(Fitted):
    """Every decision made anew but the seat, which was solved in a run that differs in nothing it
    hangs on.
    """

    wants_bounds = False
    solved: seats.Seat | None = None

    def seat(
        self, bounds: Sequence[seats.Bound], names: Mapping[str, Any], shape: tuple[int, int]
    ) -> seats.Seat:
        assert self.solved is not None
        return self._seat(self.solved.thickness, self.solved.shift, shape)


@dataclass
class WithFigures(Fitted):
    """The plan's figures in other draws: blind decisions as given, fitted ones following the draw."""

    wants_bounds = False

    def seat(
        self, bounds: Sequence[seats.Bound], names: Mapping[str, Any], shape: tuple[int, int]
    ) -> seats.Seat:
        assert self.figures.seat is not None
        return self._seat(self._plate(names), self.figures.seat.shift, shape)


@dataclass
class Plan(Fitted):
    """Blind decisions one figure for all draws, kept in `figures`; fitted ones following the draw."""

    sure_enough: float = 0.8

    def decision(
        self, rule: Rule, ask: Ask, names: Mapping[str, Any], shape: tuple[int, int]
    ) -> Array:
        if not rule.blind:
            return super().decision(rule, ask, names, shape)
        allowed = permitted(rule, ask, names)
        figure = self._made(rule, one_figure(ask, allowed, shape))
        self.figures.by_name[rule.name] = figure
        return figure

    def choice(
        self, rule: Rule, options: Options, names: Mapping[str, Any], shape: tuple[int, int]
    ) -> Array:
        if not rule.blind:
            return super().choice(rule, options, names, shape)
        taken, shares = one_option(
            options, rule, names["deepest_permitted"], shape, self.sure_enough
        )
        taken = self._made(rule, taken)
        self.figures.by_name[rule.name] = taken
        self.figures.shares[rule.name] = shares
        return taken

    def seat(
        self, bounds: Sequence[seats.Bound], names: Mapping[str, Any], shape: tuple[int, int]
    ) -> seats.Seat:
        planned = plan_seat(bounds, *self._given(names), names["deepest_permitted"], shape)
        self.figures.seat = planned
        return self._seat(self._plate(names), planned.shift, shape)


@dataclass
class Written(Found):
    """Every decision as written down, name -> `(builds, 1)`: the plan's figures read back."""

    values: Mapping[str, Array] = field(default_factory=dict)

    def decision(
        self, rule: Rule, ask: Ask, names: Mapping[str, Any], shape: tuple[int, int]
    ) -> Array:
        return self.values.get(rule.name, np.zeros((1, 1)))

    choice = decision  # type: ignore[assignment]

    def seat(
        self, bounds: Sequence[seats.Bound], names: Mapping[str, Any], shape: tuple[int, int]
    ) -> seats.Seat:
        written = self.values["adapter_thickness"], self.values["engine_shift"]
        return seats.Seat(*(np.broadcast_to(a, shape) for a in written))


def _drawn(array: Any, shape: tuple[int, int]) -> Array:
    """The random draws of an array `(builds, draws)`, without the nominal one where there are any."""
    whole = np.broadcast_to(np.asarray(array, dtype=float), shape)
    return whole[:, 1:] if shape[1] > 1 else whole


def one_figure(ask: Ask, allowed: Any, shape: tuple[int, int]) -> Array:
    """The figure that lies in most draws' [least, most], as near comfortable as those allow
    `(builds, 1)`.

    Nothing is done unless that raises the share of good draws by more than 5 points; shares within
    2 points are ties.

    >>> least = np.array([[0.0, 1.0, 2.0, 3.0, 4.0]])
    >>> one_figure(Ask(least, most=9.0), True, (1, 5)).tolist()
    [[4.0]]
    """
    least, most = _drawn(ask.least, shape), _drawn(ask.most, shape)
    capacity = _drawn(ask.capacity, shape)
    least, most = np.maximum(least, -capacity), np.minimum(most, capacity)
    nothing = (least <= SAME) & (most >= -SAME)
    figure = np.zeros((shape[0], 1))
    figure[np.isnan(least).all(axis=1)] = np.nan
    todo = np.flatnonzero(nothing.mean(axis=1) < 1.0 - WORTH_DOING)
    if not len(todo):
        return figure
    least, most = least[todo], most[todo]
    own = own_figure(ask, allowed)
    own = np.broadcast_to(own, shape)[todo]
    ends = np.sort(np.concatenate([least, most], axis=1), axis=1)
    count = ends.shape[1]
    pick = np.unique(np.linspace(0, count - 1, min(count, 96)).astype(int))
    points = np.concatenate([ends[:, pick], own[:, :1]], axis=1)
    points = np.where(np.isfinite(points), points, 0.0)
    inside = (points[:, :, None] >= least[:, None, :] - SAME) & (
        points[:, :, None] <= most[:, None, :] + SAME
    )
    share = inside.mean(axis=2)
    best = share.max(axis=1)
    tie = share >= best[:, None] - SAME_SHARE
    asked = np.nan_to_num(own)
    wanted = asked.sum(axis=1) / np.maximum((asked != 0.0).sum(axis=1), 1)
    off = np.where(tie, np.abs(points - wanted[:, None]) + (best[:, None] - share), np.inf)
    chosen = np.take_along_axis(points, off.argmin(axis=1)[:, None], axis=1)[:, 0]
    better = best - nothing[todo].mean(axis=1) > WORTH_DOING
    permitted_here = np.broadcast_to(allowed, shape)[todo, 0]
    figure[todo, 0] = np.where(better & permitted_here, chosen, figure[todo, 0])
    return figure


def one_option(
    options: Options, rule: Rule, deepest: Array, shape: tuple[int, int], sure_enough: float
) -> tuple[Array, Array]:
    """(option taken `(builds, 1)`, share of draws in which each works `(builds, options)`).

    The best ranked that works in at least `sure_enough` of the draws; else the one that works in
    most.
    """
    count = len(rule.options)
    works = np.broadcast_to(np.asarray(options.works, dtype=float), (*shape, count))
    steps = np.array([UNDO_STEPS.index(o.undo) for o in rule.options])
    allowed = steps <= np.broadcast_to(deepest, shape)[:, :1]
    drawn = works[:, 1:] if shape[1] > 1 else works
    shares = (drawn >= -SAME).mean(axis=1)
    rank: Any = np.arange(count) if options.rank is None else options.rank
    rank = np.broadcast_to(rank, (*shape, count))[:, 0]
    sure = (shares >= sure_enough) & allowed
    first = np.where(sure, rank, np.inf).argmin(axis=1)
    reachable = np.where(allowed, shares, -1.0)
    near_best = reachable >= reachable.max(axis=1, keepdims=True) - SAME_SHARE
    most = np.where(near_best & (reachable > 0), rank, np.inf)
    fallback = np.where(np.isfinite(most).any(axis=1), most.argmin(axis=1), 0)
    taken = np.where(sure.any(axis=1), first, fallback).astype(float)
    unknown = np.isnan(works).any(axis=1) & allowed
    taken[unknown.any(axis=1) & ~((shares > 0) & allowed).any(axis=1)] = np.nan
    return taken[:, None], shares
