"""The machinist's order: each part drawn with its limits of size, and a table that repeats none of
them.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from typing import Any

from compare.figures import figure, safe, unit_of
from compare.judge.rules import Shape
from compare.report.drawing.layout import arrange
from compare.report.drawing.scene import Scene
from compare.report.papers.facts import NOT_KNOWN, Candidate, Row, known, plain_name
from compare.report.papers.pages import Block, Boxes, Bullets, Cell, Picture, Sheet, Table, Words

__all__ = ["LEGEND", "PART_VIEWS", "order_sheet", "view_picture"]

# Views of parts that somebody makes; the others show the car.
PART_VIEWS = ("turning", "bush", "ring", "plate", "wedge")
SIZES = Boxes(("before", "made", "by"))
FIGURE = re.compile(r"\d+(?:\.\d+)?")
COMMISSION = (Boxes(("",)),) * 4
PART_HEIGHT = 64.0
# How fine an order is written, by the unit of its row.
ANGLES = ("rad", "deg", "°")
ROUGH = (
    0.15  # mm: limits farther apart than this are no micrometer's, and a tape reads no hundredths
)
ORDER_UNITS = {"mm": "mm order", "rad": "rad doubt", "deg": "deg", "°": "deg"}
LEGEND = (
    "In the drawings, what is cut off is red and cross-hatched, "
    "what is made is blue and hatched one way."
)


def view_picture(
    scene: Scene | None,
    name: str,
    title: str,
    system: str = "metric",
    stretch: float = 1.0,
    tallest: float = 190.0,
    shapes: Sequence[Shape] | None = None,
) -> Picture | None:
    """One view as a picture with its scale and what is left out; None where nothing is drawn."""
    if scene is None or not any(s.form in ("polygon", "line", "circle") for s in scene.shapes):
        return None
    unknown = [plain_name(n) for n in scene.unknown]
    drawing = arrange(
        scene.shapes if shapes is None else shapes,
        title,
        stretch=stretch,
        system=system,
        tallest=tallest,
    )
    unit = unit_of("mm", system)
    caption = f"{title}. Scale {drawing.scale_words}; sizes in {unit}. "
    if drawing.notes:
        caption += f"Also: {'; '.join(drawing.notes)}. "
    if unknown:
        caption += f"Not known, so left out: {', '.join(unknown)}."
    return Picture(drawing, f"view-{name}", caption.strip())


def order_sheet(papers: Candidate, scenes: Mapping[str, Scene]) -> Sheet | None:
    """All that the machinist needs, part by part."""
    rows = list(papers.list("orders"))
    if not rows:
        return None
    blocks: list[Block] = [Words(papers.not_yet(), "strong")] if papers.not_yet() else []
    blocks += [
        Words(
            "Measure first, write it down, and ring before cutting where it does not agree. "
            "Sizes in brackets are for orientation only. "
            "Lengths without a tolerance: ISO 2768-1 m. " + LEGEND
        )
    ]
    blocks.append(
        Table(("ordered by", "telephone", "date", "agreed price"), (46.5,) * 4, (COMMISSION,))
    )
    letters = iter(_letter(i) for i in range(len(rows)))
    for part in dict.fromkeys(safe(r.get("on") or "part") for r in rows):
        own = [(next(letters), r) for r in rows if safe(r.get("on") or "part") == part]
        title = part[:1].upper() + part[1:]
        for_it = "" if papers.name in part else f", for {papers.name}"
        blocks.append(Words(title + for_it, "part"))
        drawn: set[str] = set()
        view = _view_of([r for _, r in own], scenes)
        if view:
            shapes = _with_limits(scenes[view].shapes, own, papers.system, drawn)
            picture = view_picture(
                scenes[view], view, title, papers.system, tallest=PART_HEIGHT, shapes=shapes
            )
            if picture is not None:
                blocks.append(picture)
        blocks.append(_order_table(papers, own, drawn))
        remarks = _remarks(own)
        if remarks:
            blocks.append(Bullets(tuple(remarks)))
    return Sheet("order", "Machinist's order", tuple(blocks), alone=True)


def _letter(number: int) -> str:
    letters = "ABCDEFGHJKLMNPQRSTUVWXYZ"
    return letters[number] if number < len(letters) else f"A{letters[number % len(letters)]}"


def _view_of(rows: Sequence[Row], scenes: Mapping[str, Scene]) -> str:
    """The part's view: the one that shows most of what is ordered; empty where none does."""
    wanted = {r.get(key) for r in rows for key in ("of", "length_of")} - {None, ""}
    shown = {
        view: len(wanted & {n for s in scenes[view].shapes if s.form == "dimension" for n in s.of})
        for view in PART_VIEWS
        if view in scenes
    }
    best = max(shown, key=lambda view: shown[view], default="")
    return best if best and shown[best] else ""


def limits_of(row: Row, system: str) -> str:
    """The finished size as limits, without unit.

    >>> limits_of({"to_low": 12.666, "to_high": 12.684, "unit": "mm"}, "metric")
    '12.666–12.684'
    >>> limits_of({"to_low": -6.45, "to_high": -6.05, "unit": "mm"}, "metric")
    '-6.45 to -6.05'
    >>> limits_of({"to_low": 1128.1984, "to_high": 1130.1984, "unit": "mm"}, "metric")
    '1128.2–1130.2'
    """
    found = [float(row[key]) for key in ("to_low", "to_high") if known(row.get(key))]
    ends = [_bare(end, _unit_of(row), system) for end in found]
    if not ends:
        return NOT_KNOWN
    if any(end < 0.0 for end in found):
        return " to ".join(dict.fromkeys(ends))
    return ends[0] if len(set(ends)) == 1 else "–".join(ends)


def _unit_of(row: Row) -> str:
    """How fine a row's sizes are written: to the micron only where its limits are that close."""
    unit = ORDER_UNITS.get(row.get("unit") or "mm", "")
    ends = [float(row[key]) for key in ("to_low", "to_high") if known(row.get(key))]
    rough = unit == ORDER_UNITS["mm"] and len(ends) == 2 and ends[1] - ends[0] > ROUGH
    return "mm doubt" if rough else unit


def length_of(row: Row, system: str) -> str:
    """The finished length with its tolerance, without unit; empty where there is none.

    >>> length_of({"length": 30.0, "length_tolerance": 0.1}, "metric")
    '30 ±0.1'
    >>> length_of({"length": 18.0, "length_tolerance": "+0.2 / 0"}, "inch")
    '0.709 +0.0079 / 0'
    """
    if not known(row.get("length")):
        return ""
    tolerance = row.get("length_tolerance")
    text = _bare(row["length"], "mm doubt" if known(tolerance) else "mm", system)
    if isinstance(tolerance, str) and tolerance:
        in_units = lambda number: _bare(float(number[0]), "mm order", system)
        return f"{text} {FIGURE.sub(in_units, safe(tolerance))}"
    return text + (f" ±{_bare(tolerance, 'mm order', system)}" if known(tolerance) else "")


def _bare(value: Any, unit: str, system: str) -> str:
    text = figure(float(value), unit, system)
    return text.removesuffix(f" {unit_of(unit, system)}")


def _with_limits(
    shapes: Iterable[Shape], rows: Sequence[tuple[str, Row]], system: str, drawn: set[str]
) -> list[Shape]:
    """The dimensions with the order's sizes and letters; what is not ordered stands in brackets.

    `drawn` gains what the drawing now says, as letter + kind, so that the table does not say it
    again.
    """
    result = []
    for shape in shapes:
        if shape.form not in ("dimension", "angle"):
            result.append(shape)
            continue
        text = f"({shape.text.strip('()') or '{value}'})"
        for letter, row in rows:
            fits = (shape.form == "angle") == (row.get("unit") in ANGLES)
            if fits and row.get("of") and row["of"] in shape.of and f"{letter} size" not in drawn:
                sign = "Ø" if "Ø" in shape.text else ""
                limits = limits_of(row, system)
                text = f"{letter}  {sign}?" if limits == NOT_KNOWN else f"{letter}  {sign}{limits}"
                drawn.add(f"{letter} size")
                break
            ordered = (
                shape.form != "angle" and row.get("length_of") and row["length_of"] in shape.of
            )
            if ordered and length_of(row, system) and f"{letter} length" not in drawn:
                text = f"{letter}  {length_of(row, system)}"
                drawn.add(f"{letter} length")
                break
        result.append(replace(shape, text=text))
    return result


def _order_table(papers: Candidate, rows: Sequence[tuple[str, Row]], drawn: set[str]) -> Table:
    cells: list[tuple[Cell, ...]] = []
    for letter, row in rows:
        size = (
            [f"from {papers.figure(row['from'], _unit_of(row))}"] if known(row.get("from")) else []
        )
        if f"{letter} size" in drawn:
            sized = limits_of(row, papers.system) != NOT_KNOWN
            size.append("to the drawing" if sized else f"{NOT_KNOWN}: measure first")
        elif known(row.get("to_low")) or known(row.get("to_high")):
            size.append(f"to {limits_of(row, papers.system)}")
        if known(row.get("length")) and f"{letter} length" not in drawn:
            size.append(f"length {length_of(row, papers.system)}")
        finish = [
            f"{name} {papers.figure(row[key], 'mm order')}"
            for key, name in (("runout", "run-out"), ("finish", "finish"), ("undercut", "undercut"))
            if known(row.get(key))
        ]
        cells.append(
            (
                letter,
                safe(row.get("operation") or NOT_KNOWN),
                safe(row.get("datum") or NOT_KNOWN),
                ", ".join(size) or NOT_KNOWN,
                ", ".join(finish),
                SIZES,
            )
        )
    heads = (
        "",
        "operation",
        "datum",
        "size",
        "run-out, finish, undercut",
        "measured before · made · by",
    )
    return Table(heads, (8.0, 34.0, 26.0, 36.0, 32.0, 50.0), tuple(cells))


def _remarks(rows: Iterable[tuple[str, Row]]) -> list[str]:
    said = []
    for letter, row in rows:
        parts = [
            f"{lead}{safe(row[key])}".rstrip(".")
            for key, lead in (
                ("measure_before", "first measure: "),
                ("material", "material: "),
                ("note", ""),
            )
            if known(row.get(key))
        ]
        if parts:
            said.append(f"{letter}: {'; '.join(parts)}.")
    return said
