"""What several tests share: the demo, read and judged once; commands run in this process; which tests are quick."""

from __future__ import annotations

import contextlib
import io
import os
import pickle
import random
import shutil
import sys
from pathlib import Path
from types import SimpleNamespace

import pytest

ROOT = Path(__file__).resolve().parent.parent
sys.path.insert(0, str(ROOT / "tests"))
CATALOGS = ROOT / "catalogs"


# The files that make the quick part: sums by hand, cells, rules. Of them, what waits for one of these is left to the whole.
QUICK = {
    "broken_files", "built_by_hand", "cells_by_hand", "demo_by_hand", "driveline", "gearing_and_road_load", "hub", "judge_by_hand", "limits",
    "orders", "outcomes", "pilot", "readers", "release", "rules_and_rooms", "seat", "seat_topics", "speedometer",
    "splines_and_fits", "topics_by_hand", "units_and_cells",
}  # fmt: skip
WAITING = {"demo", "demo_report", "soffice", "judged_once"}
SLOW = {
    "test_one_of_each_in_one_place", "test_twenty_problems_of_a_kind_are_printed_then_their_count",
    "test_any_cells_are_a_table_or_clean_problems_and_never_a_silent_wrong_number",
    "test_the_orders_done_in_their_sequence_give_the_plans_state", "test_the_random_builds_are_worth_the_name",
    "test_a_miss_inside_its_doubt_is_a_chance_not_a_verdict", "test_no_seat_of_a_tenth_millimetre_grid_is_better",
}  # fmt: skip


def is_quick(item):
    file = item.path.stem.removeprefix("test_")
    doctest = item.path.is_relative_to(ROOT / "compare")
    waits = WAITING & set(getattr(item, "fixturenames", ()))
    return doctest or (file in QUICK and not waits and item.name.partition("[")[0] not in SLOW)


def pytest_addoption(parser):
    parser.addoption("--shuffle", type=int, metavar="SEED", help="run the tests in an order drawn from SEED")


def pytest_collection_modifyitems(config, items):
    for item in items:
        if is_quick(item):
            item.add_marker("quick")
    seed = config.getoption("--shuffle")
    if seed is not None:
        # Files in a drawn order, and the tests of each: mixed wholly, what a file shares would be made for every test anew.
        draw = random.Random(seed)
        place = {path: draw.random() for path in sorted({str(item.path) for item in items})}
        items.sort(key=lambda item: (place[str(item.path)], draw.random()))


@pytest.fixture(scope="session")
def demo_files():
    return CATALOGS / "demo.csv", CATALOGS / "pellow-van.toml", CATALOGS / "demo-parts.csv"


@pytest.fixture(scope="session")
def demo(demo_files):
    from compare.answer.compare import compare
    from compare.read.car import load_car
    from compare.read.catalogue import load_catalogue, load_parts

    catalogue, car, parts = demo_files
    return compare(load_catalogue(catalogue), load_car(car), load_parts(parts), draws=512, seed=1)


@pytest.fixture(scope="session")
def demo_report(demo):
    from compare.answer.report import make_report

    return make_report(demo)


@pytest.fixture(scope="session")
def judged_once():
    """Within it, what was asked before is not worked out again: the same files, options, draws give the same answer.

    Only the sums are remembered (compare, first_page, in_depth); files are read and pages written each time.
    """
    from compare.answer import compare as comparing
    from compare.answer import complete

    remembered: dict[object, object] = {}

    def once(function, key_of):
        def asked(*given, **options):
            key = (function.__name__, key_of(*given, **options))
            if key not in remembered:
                remembered[key] = function(*given, **options)
            return remembered[key]

        return asked

    def by_content(*given, progress=None, **options):
        return pickle.dumps((given, sorted(options.items())))

    def of_assessment(a, top=0, progress=None, leave=(), of=()):
        return id(a), top, tuple(leave), tuple(of)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(comparing, "compare", once(comparing.compare, by_content))
        for name in ("first_page", "in_depth"):
            # An Assessment is remembered as long as its pages are, so its id is its own.
            patch.setattr(complete, name, once(getattr(complete, name), of_assessment))
        yield


def run_here(*words, width=None, encoding="utf-8", cwd=ROOT, **environment):
    """One command in this process, with streams, folder and environment of its own: (returncode, stdout, stderr)."""
    from compare.cli import common, main

    streams = [io.TextIOWrapper(io.BytesIO(), encoding=encoding, write_through=True) for _ in range(2)]
    with pytest.MonkeyPatch.context() as patch, contextlib.chdir(cwd):
        for name in ("COLUMNS", "NO_COLOR"):
            patch.delenv(name, raising=False)
        for name, value in (environment | ({"COLUMNS": str(width)} if width else {})).items():
            patch.setenv(name, value)
        patch.setattr(sys, "argv", ["gearbox-compare", *words])
        patch.setattr(sys, "stdout", streams[0])
        patch.setattr(sys, "stderr", streams[1])
        patch.setattr(common, "finished", [])
        try:
            code = main(list(words))
        except SystemExit as stopped:
            code = stopped.code or 0
    printed = [stream.buffer.getvalue().decode(encoding) for stream in streams]
    return SimpleNamespace(returncode=code, stdout=printed[0], stderr=printed[1])


@pytest.fixture
def soffice():
    """The path of LibreOffice; CI requires it, elsewhere the test says why it is left out."""
    found = shutil.which("soffice")
    if found is None:
        if os.environ.get("LIBREOFFICE_REQUIRED"):
            pytest.fail("LibreOffice is required here and soffice is not on the path")
        pytest.skip("soffice is not on the path: install LibreOffice Calc to run this test")
    return found
