"""Other axles, tyres and cruising speeds: every combination × candidate, judged like the profile's own."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import product
from typing import Any

import numpy as np

from compare.judge.engine import Assessment, compare
from compare.problems import CellError, InputError, Problem
from compare.read.car import Car
from compare.read.cells import parse, parse_tyre
from compare.vocabulary import OUTCOMES, car_terms_by_name

__all__ = ["combinations"]

MOST = 500


def combinations(a: Assessment, axles: Sequence[str], tyres: Sequence[str], cruises: Sequence[str], *, top: int = 5) -> list[dict[str, Any]]:
    """Rows for every combination, the best `top` candidates of each, nominal values; the best one marked.

    Raises InputError for a value that cannot be read, and when there are too many combinations.
    """
    problems: list[Problem] = []

    def read(name: str, texts: Sequence[str], option: str) -> list[tuple[str, Any]]:
        found = []
        for text in texts:
            try:
                if name == "tyre":
                    found.append((text, _tyre(text)))
                else:
                    value = parse(text, car_terms_by_name()[name])
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
        problems.append(Problem("what-if", f"{count} combinations are more than {MOST}.", "Try fewer at a time."))
    if problems:
        raise InputError(problems)
    rows: list[dict[str, Any]] = []
    for (_, axle), (tyre_text, tyre), (_, cruise) in product(axle_values, tyre_values, cruise_values):
        car = _changed(a.car, axle, tyre, cruise)
        one = compare(a.builds.catalogue, car, a.builds.parts, draws=1, seed=a.seed)
        best = [int(b) for b in one.order[:top]]
        result = one.nominal(best)
        circumference = float(np.asarray(result.names["rolling_circumference"])[0, 0])
        for at, build in enumerate(best):
            pull = float(np.broadcast_to(result.names["top_gear_pull"], result.shape)[at, 0])
            rpm = float(np.broadcast_to(result.names["cruise_rpm"].value, result.shape)[at, 0])
            rows.append(
                {
                    "axle": car.values["axle_ratio"].nominal if "axle_ratio" in car.values else float("nan"),
                    "tyre": tyre_text or f"{circumference:.0f} mm round",
                    "cruise_kmh": car.values["cruise_speed"].nominal if "cruise_speed" in car.values else float("nan"),
                    "candidate": one.builds.candidate_name(build),
                    "build": one.builds.name(build),
                    "cruise_rpm": None if np.isnan(rpm) else round(rpm, 0),
                    "pull_percent": None if np.isnan(pull) else round(pull, 2),
                    "outcome": OUTCOMES[one.outcome[build]],
                    "score": round(float(one.score[build]), 1),
                    "best": at == 0,
                }
            )
    return rows


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
