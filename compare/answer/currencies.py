"""Money of several currencies in one comparison: the sums would be of no use."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

from compare.problems import Problem, visible
from compare.read.car import Car
from compare.read.catalogue import Table
from compare.read.ratios import currency
from compare.vocabulary import car_terms_by_name

__all__ = ["currency_problems"]


def currency_problems(tables: Sequence[Table], car: Car) -> list[Problem]:
    """The first cell of each file whose currency is not that of the first sum of money; none where
    the car's profile says which one all money is in.
    """
    if car.texts.get("policy_currency"):
        return []
    problems: list[Problem] = []
    first = ""
    for money in (*(_of_table(t) for t in tables), _of_car(car)):
        for place, typed in money:
            its = currency(typed)
            first = first or its
            if its and its != first:
                fix = f'Type all money in one currency; or, if {first} is meant everywhere, [policy] currency = "{first}" in the car profile.'
                found = f'"{visible(typed, 30)}" is in {its}, other money in {first}.'
                problems.append(Problem(found=found, fix=fix, **place))
                break
    return problems


def _of_table(table: Table) -> Iterator[tuple[dict[str, Any], str]]:
    """(where it stands, what is typed) of each sum of money."""
    for head in table.heads:
        if head.term is None or head.term.kind != "money":
            continue
        shared = table.head[head.at].partition("[")[2].strip("] ")
        for row, cells in enumerate(table.rows):
            typed = cells[head.at].strip()
            if typed:
                place = {"file": table.file, "line": table.lines[row], "row": table.names[row],
                         "column": table.head[head.at]}  # fmt: skip
                yield place, typed if currency(typed) else f"{typed} {shared}".strip()


def _of_car(car: Car) -> Iterator[tuple[dict[str, Any], str]]:
    money = {(t.section, t.key) for t in car_terms_by_name().values() if t.kind == "money"}
    for section, key, typed in car.shown:
        if (section, key) in money:
            yield {"file": car.file, "key": f"{section}.{key}"}, typed
