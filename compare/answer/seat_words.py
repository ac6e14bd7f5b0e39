"""The seat in words and windows: which thickness seats the shaft, which shift spares which cut."""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from compare.judge import seat
from compare.judge.engine import Result
from compare.judge.rules import SAME
from compare.said import Said, joined
from compare.topics.thickness import WINDOW_CHECKS
from compare.vocabulary import SEAT_INPUTS, THICKNESS_WINDOWS

__all__ = ["shift_window", "window_said"]


def _at(result: Result, array: Any, at: int) -> float:
    return float(result.pick(array)[at, 0])


def window_said(result: Result, at: int) -> Said:
    """Both windows, as far as they are known."""
    return joined([_thickness_said(result, at), *_shift_said(result, at)], " ")


def _thickness_said(result: Result, at: int) -> Said:
    """The window of adapter thickness, or which two checks exclude each other and by how much."""
    window, clear = (result.names[n] for n in THICKNESS_WINDOWS)
    low, high = _at(result, window.low, at), _at(result, window.high, at)
    by = [
        WINDOW_CHECKS[int(_at(result, i, at))].replace("_", " ")
        for i in (window.low_by, window.high_by)
    ]
    values: dict[str, Any] = {
        "low": (max(low, 0.0), "mm"), "high": (high, "mm"), "off": (low - high, "mm"),
        "short": (-high, "mm"), "by_low": by[0], "by_high": by[1],
    }  # fmt: skip
    if math.isnan(low) and math.isnan(high):
        return Said("Adapter thickness: no position check is measured.")
    if low > high + SAME:
        pair = "{by_low} and {by_high}" if by[0] != by[1] else "the two sides of {by_low}"
        text = (
            f"No adapter thickness seats the shaft as it is: {pair} exclude each other by {{off}}."
        )
        return Said(text, values)
    if math.isnan(high):
        return Said("Adapter thickness: at least {low} ({by_low}), as far as measured.", values)
    if math.isnan(low):
        return Said("Adapter thickness: at most {high} ({by_high}), as far as measured.", values)
    if high < 0:
        return Said(
            "The shaft is too short even without an adapter, by {short} ({by_high}).", values
        )
    ends = "{by_low}, {by_high}" if by[0] != by[1] else "{by_low} at either end"
    text = f"Adapter of {{low}} to {{high}} seats the shaft ({ends})"
    c_low, c_high = max(_at(result, clear.low, at), 0.0), _at(result, clear.high, at)
    if c_high >= c_low:
        text += "; comfortable from {c_low} to {c_high}"
        values |= {"c_low": (c_low, "mm"), "c_high": (c_high, "mm")}
    thickness = result.value("adapter_thickness", at)
    if not math.isnan(thickness) and not low - SAME <= thickness <= high + SAME:
        text += "; it has {thickness}"
        values["thickness"] = (thickness, "mm")
    return Said(text + ".", values)


def _most_shift(result: Result, at: int) -> float:
    found = result.value(SEAT_INPUTS[3], at)
    return 0.0 if math.isnan(found) else found


def _place(result: Result, at: int) -> tuple[float, float, float]:
    """(x of the face with the engine where it is, shift taken, most shift)."""
    plain = result.value(SEAT_INPUTS[0], at) + result.value("adapter_thickness", at)
    return plain, result.value("engine_shift", at), _most_shift(result, at)


def shift_window(result: Result, at: int) -> list[float | None]:
    """Shifts that do no deeper or longer cut than the chosen one, at the chosen thickness [mm]."""
    plain, shift, most = _place(result, at)
    if math.isnan(plain):
        return [None, None]
    row = np.array([at * result.shape[1]])
    flat = seat.Harms([b for b in result.bounds if b.axis == "face"], result.shape)
    marks = [np.array([[0.0, most, shift]])]
    levels = (*seat.FACE_LEVELS, seat.DONOR)
    marks += [plain - b for b in flat.breaks(levels, row)]
    points = np.concatenate(marks, axis=1)[0]
    points = np.unique(np.clip(points[~np.isnan(points)], 0.0, most))
    middles = (points[1:] + points[:-1]) / 2.0

    def harm(p: np.ndarray) -> list[np.ndarray]:
        return [flat.harm(level, row, (plain - p)[None, :])[0] for level in levels]

    chosen = [h[0] for h in harm(np.array([shift]))]

    def no_worse(p: np.ndarray) -> np.ndarray:
        better, worse = np.zeros(len(p), dtype=bool), np.zeros(len(p), dtype=bool)
        for h, c in zip(harm(p), chosen, strict=True):
            worse |= (h > c + 1e-6) & ~better
            better |= (h < c - 1e-6) & ~worse
        return ~worse

    good, between = no_worse(points), no_worse(middles)
    low = high = int(np.abs(points - shift).argmin())
    while low > 0 and between[low - 1] and good[low - 1]:
        low -= 1
    while high < len(points) - 1 and between[high] and good[high + 1]:
        high += 1
    return [round(float(points[low]), 4) + 0.0, round(float(points[high]), 4) + 0.0]


def _free_stretches(
    bound: seat.Bound, plain: float, most: float, row: np.ndarray, result: Result
) -> list[tuple[float, float]]:
    """The stretches of engine shift over which one bound on the face asks for nothing."""
    flat = seat.Harms([bound], result.shape)
    breaks = flat.breaks((bound.level,), row)
    marks = np.concatenate([np.array([0.0, most]), *(plain - b[0] for b in breaks)])
    marks = np.unique(np.round(np.clip(marks[~np.isnan(marks)], 0.0, most), 9))
    points = np.sort(np.concatenate([marks, (marks[1:] + marks[:-1]) / 2]))
    free = flat.harm(bound.level, row, (plain - points)[None, :])[0] <= SAME
    found: list[tuple[float, float]] = []
    start, last = None, 0.0
    for point, good in zip(points, free, strict=True):
        if good and start is None:
            start = point
        elif not good and start is not None:
            found.append((float(start), last))
            start = None
        if good:
            last = float(point)
    return [*found, (float(start), last)] if start is not None else found


def _shift_said(result: Result, at: int) -> list[Said]:
    """Per place that today's engine position would cut: over which shift it stays whole."""
    plain, _, most = _place(result, at)
    if math.isnan(plain):
        return []
    row = np.array([at * result.shape[1]])
    parts: list[Said | str] = []
    for bound in (
        b for b in result.bounds if b.axis == "face" and b.level in (*seat.FACE_LEVELS, seat.DONOR)
    ):
        flat = seat.Harms([bound], result.shape)
        today = float(flat.harm(bound.level, row, np.full((1, 1), plain))[0, 0])
        if not today > 1e-6:
            continue
        values: dict[str, Any] = {
            "cut": (today, "mm tape"),
            "level": bound.level,
            "place": bound.place,
        }
        free = _free_stretches(bound, plain, most, row, result)
        if free:
            spans = []
            for number, (low, high) in enumerate(free):
                values |= {f"low{number}": (low, "mm tape"), f"high{number}": (high, "mm tape")}
                spans.append(f"{{low{number}}} to {{high{number}}}")
            parts.append(
                Said(
                    "{cut} of {level} ({place}), none from " + " or ".join(spans) + " forward",
                    values,
                )
            )
        else:
            left = float(flat.harm(bound.level, row, np.full((1, 1), plain - most))[0, 0])
            values |= {"left": (left, "mm tape"), "most": (most, "mm tape")}
            text = "{cut} of {level} ({place}), {left} of it still there at {most} forward"
            parts.append(Said(text, values))
    if not parts:
        return []
    said = joined(parts)
    return [Said(f"Engine where it is: {said.template}.", said.values)]
