"""Other axles, tyres and cruising speeds: every combination × candidate, judged like the profile's
own.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace
from itertools import product
from typing import Any

import numpy as np

from compare.answer.compare import Assessment, compare
from compare.answer.report import KEEP
from compare.figures import unit_of
from compare.problems import CellError, InputError, Problem
from compare.read.car import Car
from compare.read.cells import parse, parse_tyre
from compare.vocabulary import (
    CIRCUMFERENCE,
    CRUISE_SPEED_OF_ENGINE,
    OUTCOMES,
    PULL_IN_TOP,
    car_terms_by_name,
)

__all__ = ["combinations"]

MOST = 500
AS_IT_IS = "as it is"


def combinations(
    a: Assessment,
    axles: Sequence[str],
    tyres: Sequence[str],
    cruises: Sequence[str],
    *,
    top: int = 5,
    units: str = "metric",
) -> list[dict[str, Any]]:
    """Rows for every combination, the best `top` candidates of each and today's gearbox; the best
    one marked.

    Nominal values. A number without a unit is in `units`: 59 is 59 mph where they are inches.

    Raises InputError for a value that cannot be read, and when there are too many combinations.
    """
    problems: list[Problem] = []

    def read(name: str, texts: Sequence[str], option: str) -> list[tuple[str, Any]]:
        found = []
        for text in texts:
            try:
                meant = _with_unit(text, name, units)
                if name == "tyre":
                    found.append((text, _tyre(meant)))
                else:
                    value = parse(meant, car_terms_by_name()[name])
                    if value is None:
                        raise CellError("an unknown value cannot be tried.", "Type a number.")
                    found.append((text, value))
            except CellError as error:
                problems.append(Problem(f"--{option}", error.found, error.fix))
        return found

    axle_values = read("axle_ratio", axles, "axle") or [("", None)]
    tyre_values = read("tyre", tyres, "tyre") or [("", None)]
    cruise_values = read("cruise_speed", cruises, "cruise") or [("", None)]
    count = len(axle_values) * len(tyre_values) * len(cruise_values)
    if count > MOST:
        problems.append(
            Problem(
                "what-if", f"{count} combinations are more than {MOST}.", "Try fewer at a time."
            )
        )
    if problems:
        raise InputError(problems)
    rows: list[dict[str, Any]] = []
    for (_, axle), (tyre_text, tyre), (_, cruise) in product(
        axle_values, tyre_values, cruise_values
    ):
        car = _changed(a.car, axle, tyre, cruise)
        one = compare(a.builds.catalogue, car, a.builds.parts, draws=1, seed=a.seed, made=a.made)
        rows += _rows_of(one, car, tyre_text, top)
    return rows


def _with_unit(text: str, name: str, units: str) -> str:
    """A bare number with the unit that the reports speak in.

    >>> _with_unit("59", "cruise_speed", "inch"), _with_unit("59", "cruise_speed", "metric")
    ('59 mph', '59')
    """
    unit = {"cruise_speed": "km/h", "tyre": "mm"}.get(name, "")
    shown = unit_of(unit, units)
    return (
        f"{text} {shown}" if shown != unit_of(unit) and re.fullmatch(r"[\d.,/ ]+", text) else text
    )


def _rows_of(one: Assessment, car: Car, tyre_text: str, top: int) -> list[dict[str, Any]]:
    """The best `top` candidates of one combination, and today's gearbox, best first."""
    best = [int(b) for b in one.order[:top]]
    result = one.run(best)
    circumference = float(np.asarray(result.names[CIRCUMFERENCE])[0, 0])
    rounded = lambda value, digits: None if np.isnan(value) else round(value, digits)
    number = lambda name: car.values[name].nominal if name in car.values else float("nan")
    same = {
        "axle": number("axle_ratio"),
        "tyre": tyre_text,
        "circumference_mm": round(circumference, 1),
        "cruise_kmh": number("cruise_speed"),
    }

    def row(
        candidate: str, build: str, source: Any, at: int, outcome: str, value: float
    ) -> dict[str, Any]:
        return same | {
            "candidate": candidate, "build": build,
            "cruise_rpm": rounded(source.value(CRUISE_SPEED_OF_ENGINE, at), 0),
            "pull_percent": rounded(source.value(PULL_IN_TOP, at), 2),
            "outcome": outcome, "value": round(float(value), 2),
        }  # fmt: skip

    rows = [
        row(
            one.builds.candidate_name(b),
            one.builds.name(b),
            result,
            at,
            OUTCOMES[one.outcome[b]],
            one.value[b],
        )
        for at, b in enumerate(best)
    ]
    if one.today is not None:
        rows.append(row(KEEP, "", one.today.result, 0, AS_IT_IS, one.keep_value))
    rows.sort(key=lambda r: -r["value"])
    return [r | {"best": at == 0} for at, r in enumerate(rows)]


def _tyre(text: str) -> Any:
    """A tyre size, or a rolling circumference where the text is a length."""
    try:
        return parse_tyre(text)
    except CellError as no_size:
        try:
            value = parse(text, car_terms_by_name()["tyre_rolling_circumference"])
        except CellError:
            raise no_size from None
        if value is None:
            raise
        return value


def _changed(car: Car, axle: Any, tyre: Any, cruise: Any) -> Car:
    values = dict(car.values)
    size = car.tyre
    if axle is not None:
        values["axle_ratio"] = axle
    if cruise is not None:
        values["cruise_speed"] = cruise
    if tyre is not None:
        if hasattr(tyre, "rim"):
            values.pop("tyre_rolling_circumference", None)
            size = tyre
        else:
            values["tyre_rolling_circumference"] = tyre
    return replace(car, values=values, tyre=size)
