"""When each piece of work is done: from the stage that its rule names and the orders' sequence.

Nothing here knows a decision. What is done to one part is done in the sequence of its orders, so a
piece of work waits for those before it on that part, and for the option taken on which it hangs.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import cache

from compare.judge.engine import Item, Result
from compare.judge.rules import Rulebook
from compare.ordering import orders_of
from compare.topics import all_topics
from compare.vocabulary import WORK_STAGES

__all__ = ["places_of_work"]

LATER_THAN_ORDERS = 1000  # what is bought or bolted on has no order: after what is cut


def places_of_work(
    items: Sequence[tuple[str, Item]], book: Rulebook, plan: Result, at: int
) -> dict[str, tuple[str, int]]:
    """(stage, sequence within it) of each piece of work of one build, by its key."""
    steps = _steps()
    names = list(WORK_STAGES)
    sequence = {key: steps.get(key, LATER_THAN_ORDERS + n) for n, (key, _) in enumerate(items)}
    stage = {key: names.index(_own(item, book, plan, at)) for key, item in items}
    part = {key: (item.option.on if item.option else "") or item.rule.on for key, item in items}
    before = lambda other, key: part[other] == part[key] and sequence[other] <= sequence[key]
    places = {}
    for key, _ in items:
        held = [stage[o] for o, _ in items if key in steps and o in steps and before(o, key)]
        places[key] = names[max([stage[key], *held])], sequence[key]
    return places


@cache
def _steps() -> dict[str, int]:
    """The first step at which each decision (or `choice:option`) is ordered."""
    found: dict[str, int] = {}
    for order in orders_of(all_topics()):
        for name in order.decisions:
            found.setdefault(name, order.step)
    return found


def _own(item: Item, book: Rulebook, plan: Result, at: int) -> str:
    """The latest of the rule's stage and those of the options that it carries out.

    An option that is work itself has its own line and holds up nothing else.
    """
    stages = [item.option.when if item.option else item.rule.when]
    for name in item.rule.inputs:
        options = book.rules[name].options if name in book.rules else ()
        taken = plan.value(name, at) if options else math.nan
        if not math.isnan(taken) and not options[int(taken)].operation:
            stages.append(options[int(taken)].when)
    return max(stages, key=list(WORK_STAGES).index)
