"""What the measuring list says is known now: what the files have, whatever it was typed in."""

from __future__ import annotations

import csv

import pytest

from compare.answer.compare import compare
from compare.answer.complete import in_depth
from compare.answer.typed import number_now
from compare.read.car import load_car
from compare.read.catalogue import load_catalogue


@pytest.fixture(scope="module")
def partly_in_inches(demo_files, tmp_path_factory):
    """Three of the demo's gearboxes and its car, a few cells in inches."""
    folder = tmp_path_factory.mktemp("inches")
    lines = demo_files[0].read_text(encoding="utf-8").splitlines()
    head, *rows = csv.reader(line for line in lines if not line.startswith("#"))
    kept = [row for row in rows if row[0] in ("Keld 5", "Garth 5", "Bainbridge 5")]
    for row in kept:
        row[head.index("bellhousing_depth")] = "6 7/16 in"
    with (folder / "c.csv").open("w", encoding="utf-8", newline="") as file:
        csv.writer(file).writerows([head, *kept])
    car = demo_files[1].read_text(encoding="utf-8")
    assert "flange_position = 25" in car
    car = car.replace("flange_position = 25", 'flange_position = "1 in"')
    (folder / "car.toml").write_text(car, encoding="utf-8")
    return compare(load_catalogue(folder / "c.csv"), load_car(folder / "car.toml"), draws=128)


def test_what_is_in_the_files_is_known_now(partly_in_inches):
    a = partly_in_inches
    assert number_now(a, "Keld 5", "bellhousing_depth") == pytest.approx(6.4375 * 25.4)
    assert number_now(a, "car", "crank_flange_position") == pytest.approx(25.4)
    assert number_now(a, "Keld 5", "pilot_length") == pytest.approx(26.0)
    assert number_now(a, "Bainbridge 5", "spline_end") is None
    assert number_now(a, "Nobody", "spline_end") is None


def test_every_row_of_the_list_says_it(partly_in_inches):
    a = partly_in_inches
    report = in_depth(a, top=3)
    rows = [*report.extra["measuring"], *report.to_measure]
    assert rows
    for row in rows:
        assert row["now"] == number_now(a, row["of"], row["dimension"]), row["dimension"]
