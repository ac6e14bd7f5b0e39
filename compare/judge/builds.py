"""Candidates × parts -> builds: a candidate with at most one part of each kind."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import product

import numpy as np

from compare.problems import InputError, Problem, did_you_mean, visible
from compare.read.catalogue import Column, Table
from compare.vocabulary import (
    CATALOGUE_COLUMNS,
    DEFAULT_HALF_WIDTH,
    SOURCES,
    Term,
    car_terms_by_name,
    catalogue_terms,
)

__all__ = ["Builds", "enumerate_builds"]

UNSTATED_SOURCE = "published"
NOT_REPLACED = ("price", "source")
# Kinds of part for which the gearbox is opened; plates and bellhousings bolt on outside.
INSIDE = ("shaft", "tail", "case", "gear")


@dataclass
class Builds:
    """Every build, as arrays over builds. Cells keep their owner, so that doubt is shared where a
    part is.

    `candidate` `(builds,)` indexes the catalogue, `part` maps a kind to `(builds,)` row indices, -1
    for none.
    bought: its price is spent whatever is done, so it counts as nothing. set_aside: sold or
    rejected.
    """

    catalogue: Table
    parts: Table | None
    candidate: np.ndarray
    part: dict[str, np.ndarray]
    columns: dict[str, Column]
    owner: dict[str, np.ndarray]
    price: np.ndarray
    part_price: np.ndarray
    parts_inside: np.ndarray
    car_columns: dict[str, Column]
    warnings: list[str]
    bought: np.ndarray
    set_aside: np.ndarray

    def __len__(self) -> int:
        return len(self.candidate)

    def candidate_name(self, build: int) -> str:
        return self.catalogue.names[self.candidate[build]]

    def part_names(self, build: int) -> list[str]:
        assert self.parts is not None or not self.part
        return [
            self.parts.names[rows[build]]
            for rows in self.part.values()
            if self.parts and rows[build] >= 0
        ]

    def name(self, build: int) -> str:
        """`as sold`, or the parts joined by +."""
        return " + ".join(self.part_names(build)) or "as sold"

    def owner_label(self, column: str, build: int) -> str:
        """The candidate or the part that the cell stands in."""
        row = int(self.owner[column][build])
        if row < 0:
            assert self.parts is not None
            return self.parts.names[-1 - row]
        return self.catalogue.names[row]

    def owner_name(self, column: str, build: int) -> str:
        """The same, unmistakable between the two files: what seeds the cell's draws."""
        return ("part " if self.owner[column][build] < 0 else "candidate ") + self.owner_label(
            column, build
        )


def named_rows(catalogue: Table, names: Sequence[str]) -> set[int]:
    """Rows of the candidates named; a part of a name will do where only one has it. Raises
    InputError.
    """
    folded = {name.casefold(): row for row, name in enumerate(catalogue.names)}
    problems, rows = [], set()
    for name in names:
        key = name.strip().casefold()
        near = [key] if key in folded else [n for n in folded if key and key in n]
        if len(near) == 1:
            rows.add(folded[near[0]])
            continue
        if near:
            several = ", ".join(catalogue.names[folded[n]] for n in near[:4])
            found, fix = f'"{visible(name)}" could be {several}.', "Type more of the name."
        else:
            close = did_you_mean(name, folded)
            found = f'there is no candidate "{visible(name)}".'
            fix = (
                f"Did you mean {catalogue.names[folded[close]]}?"
                if close
                else "Type a name as it stands in the catalogue."
            )
        problems.append(Problem(catalogue.file, found, fix))
    if problems:
        raise InputError(problems)
    return rows


def enumerate_builds(
    catalogue: Table, parts: Table | None, only: Sequence[str] = (), most_per_candidate: int = 500
) -> Builds:
    """All combinations of parts that fit, of the candidates named in `only`, or of all.

    Raises InputError for a name that does not exist and when there are too many combinations.
    """
    wanted = named_rows(catalogue, only) if only else set(range(len(catalogue)))
    options: list[dict[str, list[int]]] = [{} for _ in catalogue.names]
    warnings: list[str] = []
    if parts is not None:
        _match_parts(catalogue, parts, options, warnings)
    kinds = sorted({kind for option in options for kind in option})
    problems = []
    candidate: list[int] = []
    chosen: list[tuple[int, ...]] = []
    for row, option in enumerate(options):
        if row not in wanted:
            continue
        lists = [[-1, *option.get(kind, [])] for kind in kinds]
        count = int(np.prod([len(x) for x in lists])) if lists else 1
        if count > most_per_candidate:
            problems.append(
                Problem(
                    parts.file if parts else catalogue.file,
                    f"the parts for {catalogue.names[row]} make {count} builds, more than {most_per_candidate}.",
                    "Take out the parts that you would not buy.",
                )
            )
            continue
        for combination in product(*lists):
            candidate.append(row)
            chosen.append(combination)
    if problems:
        raise InputError(problems)
    at = np.array(candidate, dtype=int)
    part = {kind: np.array([c[i] for c in chosen], dtype=int) for i, kind in enumerate(kinds)}
    columns, owner = _merge(catalogue, parts, at, part)
    status = _status(catalogue)[at]
    bought, set_aside = status == "bought", np.isin(status, ("sold", "rejected"))
    price = np.where(bought, 0.0, _money(catalogue, at))
    part_price = np.zeros(len(at))
    for rows in part.values():
        if parts is not None:
            prices = (
                parts.columns["price"].nominal
                if "price" in parts.columns
                else np.full(len(parts), np.nan)
            )
            part_price += np.where(rows >= 0, prices[rows], 0.0)
    inside = np.zeros(len(at))
    for kind, rows in part.items():
        if any(word in kind for word in INSIDE):
            inside += rows >= 0
    replaced = _car_keys(parts, part, len(at), owner)
    return Builds(
        catalogue, parts, at, part, columns, owner, price, part_price, inside, replaced, warnings,
        bought, set_aside,
    )  # fmt: skip


def _car_keys(
    parts: Table | None, part: dict[str, np.ndarray], count: int, owner: dict[str, np.ndarray]
) -> dict[str, Column]:
    """Keys of the car that a build's parts replace; NaN where none does."""
    found: dict[str, Column] = {}
    if parts is None:
        return found
    sources = _source_codes(parts)
    terms = car_terms_by_name()
    for name, theirs in parts.car_columns.items():
        blank = np.full(count, np.nan)
        column = Column(blank, np.zeros(count), blank.copy())
        half = _doubt(terms[name].kind, terms[name].exact, theirs.half, sources)
        owners = np.zeros(count, dtype=int)
        for rows in part.values():
            takes = (rows >= 0) & np.isfinite(theirs.nominal[rows])
            column.nominal[takes] = theirs.nominal[rows[takes]]
            column.half[takes] = half[rows[takes]]
            owners[takes] = -1 - rows[takes]
        found[name], owner[name] = column, owners
    return found


def _status(table: Table) -> np.ndarray:
    """The status of each row as a word; considering where it says nothing."""
    words = np.array(catalogue_terms()["status"].choices)
    if "status" not in table.columns:
        return np.full(len(table), words[0])
    codes = np.nan_to_num(table.columns["status"].nominal).astype(int)
    return np.asarray(words[np.minimum(codes, len(words) - 1)])


def _money(table: Table, rows: np.ndarray) -> np.ndarray:
    if "price" not in table.columns:
        return np.full(len(rows), np.nan)
    return np.asarray(table.columns["price"].nominal[rows])


def _match_parts(
    catalogue: Table, parts: Table, options: list[dict[str, list[int]]], warnings: list[str]
) -> None:
    fold = str.casefold
    by_name = {fold(n): i for i, n in enumerate(catalogue.names)}
    by_family: dict[str, list[int]] = {}
    for row, family in enumerate(catalogue.texts.get("family", [])):
        if family:
            by_family.setdefault(fold(family), []).append(row)
    for row, fits in enumerate(parts.texts["fits"]):
        key = fold(fits)
        found = [by_name[key]] if key in by_name else by_family.get(key, [])
        if not found:
            near = did_you_mean(fits, [*by_name, *by_family])
            hint = f"; did you mean {near}?" if near else ""
            who = f"{visible(parts.names[row], 40)} (line {parts.lines[row]} of {visible(parts.file, 80)})"
            warnings.append(
                f'{who} fits "{visible(fits, 40)}", which is not in this catalogue{hint}'
            )
        for candidate in found:
            options[candidate].setdefault(fold(parts.texts["kind"][row]), []).append(row)


def _source_codes(table: Table) -> np.ndarray:
    fallback = float(SOURCES.index(UNSTATED_SOURCE))
    if "source" not in table.columns:
        return np.full(len(table), fallback)
    codes = table.columns["source"].nominal
    return np.where(np.isnan(codes), fallback, codes)


def _doubt(term_kind: str, exact: bool, half: np.ndarray, sources: np.ndarray) -> np.ndarray:
    """Half-widths as stated, else by source; zero for kinds that carry none."""
    defaults = DEFAULT_HALF_WIDTH.get(term_kind)
    if defaults is None or exact:
        return np.nan_to_num(half, nan=0.0)
    table = np.array([defaults[s] for s in SOURCES])
    if term_kind == "angle":
        table = np.deg2rad(table)
    return np.where(np.isnan(half), table[sources.astype(int)], half)


def _merge(
    catalogue: Table, parts: Table | None, at: np.ndarray, part: dict[str, np.ndarray]
) -> tuple[dict[str, Column], dict[str, np.ndarray]]:
    columns: dict[str, Column] = {}
    owner: dict[str, np.ndarray] = {}
    candidate_source = _source_codes(catalogue)
    part_source = _source_codes(parts) if parts is not None else np.zeros(0)
    marks = sorted({n for t in (catalogue, parts) if t for n in t.columns if n.startswith("mark_")})
    for term in (*CATALOGUE_COLUMNS, *(Term(name, "number", "") for name in marks)):
        if term.kind == "text" or term.name in NOT_REPLACED:
            continue
        own = catalogue.columns.get(term.name)
        if own is None:
            blank = np.full(len(at), np.nan)
            merged = Column(blank, np.zeros(len(at)), blank.copy())
        else:
            half = _doubt(term.kind, term.exact, own.half, candidate_source)
            merged = Column(own.nominal[at], half[at], own.high[at])
        owners = at.copy()
        if parts is not None and term.name in parts.columns:
            theirs = parts.columns[term.name]
            half = _doubt(term.kind, term.exact, theirs.half, part_source)
            for rows in part.values():
                takes = (rows >= 0) & np.isfinite(theirs.nominal[rows])
                merged.nominal[takes] = theirs.nominal[rows[takes]]
                merged.half[takes] = half[rows[takes]]
                merged.high[takes] = theirs.high[rows[takes]]
                owners[takes] = -1 - rows[takes]
        columns[term.name] = merged
        owner[term.name] = owners
    return columns, owner
