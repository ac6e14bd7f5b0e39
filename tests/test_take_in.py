"""A workbook that comes back, edited in LibreOffice as a friend would: what was changed, and the files' new texts."""

from __future__ import annotations

import tomllib
from pathlib import Path

import openpyxl
import pytest
from libreoffice import edit
from openpyxl.utils import get_column_letter
from test_workbook import CAR, DEMO, PARTS, catalogue_of, demo_path, demo_report  # noqa: F401

from compare.answer.compare import compare
from compare.answer.report import make_report
from compare.answer.take_in import edited_car, edited_csv, read_back, table_text, was_sent
from compare.problems import InputError
from compare.read.car import load_car, read_car
from compare.read.catalogue import load_catalogue, load_parts
from compare.report.workbook import write_workbook


def place_of(path, sheet, row_starts, head):
    """The cell of a row (by its first cells) under a head."""
    rows = list(openpyxl.load_workbook(path)[sheet].iter_rows())
    heads = next(r for r in rows if any(c.value == head for c in r))
    column = next(c.column for c in heads if c.value == head)
    row = next(r for r in rows if tuple(c.value for c in r[: len(row_starts)]) == row_starts)
    return f"{get_column_letter(column)}{row[0].row}"


@pytest.fixture(scope="module")
def friend(demo_path, tmp_path_factory):  # noqa: F811
    """What the friend did, ten kinds of edit, and what came back."""
    import shutil

    program = shutil.which("soffice")
    if program is None:
        pytest.skip("soffice is not on the path: install LibreOffice Calc to run this test")
    cell = lambda name, head: place_of(demo_path, "Catalogue", (name,), head)
    key = lambda section, name: place_of(demo_path, "Car", (section, name), "value")
    rows = openpyxl.load_workbook(demo_path)["Catalogue"].max_row
    names = [
        r[0].value
        for r in openpyxl.load_workbook(demo_path)["Catalogue"].iter_rows(min_row=4)
        if r[0].value
    ]
    gone = place_of(demo_path, "Catalogue", ("Ostrel M4",), "name")[1:]
    edits = [
        ("type", "Catalogue", cell("Tarn 5A", "length [mm]"), "612"),  # a number over a number
        ("type", "Catalogue", cell("Brindle H5", "pilot_diameter"), "15.02 ±0.02 mm"),  # a text
        (
            "type",
            "Catalogue",
            cell("Keld 5", "spline_start"),
            "38 1/2",
        ),  # becomes a number shown as a fraction
        ("type", "Catalogue", cell("Keld 5", "case_length"), "05/08/2026"),  # becomes a date
        ("clear", "Catalogue", cell("Marrick Six", "price")),  # emptied
        ("type", "Catalogue", cell("Garth 5", "name"), "Garth 5 late"),  # renamed
        ("type", "Catalogue", f"A{rows - 10}", "Semer 6"),  # a new gearbox
        ("type", "Catalogue", "F" + str(rows - 10), "3.4"),
        ("type", "Catalogue", cell("Dent 5", "mass"), "=30+4"),  # a formula
        ("type", "Car", key("axle", "ratio"), "4.22"),
        ("clear", "Car", key("crank", "bush_recess")),
        ("type", "Car", key("workshop", "tools"), "[lathe, mill]"),
        ("type", "Measuring list", "B3", "Ann"),
        ("type", "Measuring list", "B4", "2026-05-08"),
        ("type", "Measuring list", "G7", "77.5"),
        ("type", "Measuring list", "H7", "vernier"),
        ("remove row", "Catalogue", gone),  # a row is gone
        ("insert row", "Catalogue", "4"),  # an empty row comes in
    ]
    place = tmp_path_factory.mktemp("friend")
    return names, read_back(edit(program, demo_path, edits, place)), edits, place, program


def test_sent_and_come_back_untouched_is_no_change(demo_path, soffice, tmp_path):  # noqa: F811
    assert was_sent(demo_path) and not was_sent(DEMO)
    assert read_back(demo_path).nothing
    again = read_back(edit(soffice, demo_path, [], tmp_path))
    assert again.nothing and not again.problems


def test_every_changed_cell_is_listed(friend):
    _, changes, *_ = friend
    found = {(c.sheet, c.of, c.what): (c.was, c.now) for c in changes.cells}
    assert found == {
        ("Catalogue", "Tarn 5A", "length [mm]"): ("698", "612"),
        ("Catalogue", "Brindle H5", "pilot_diameter"): ("15", "15.02 ±0.02 mm"),
        ("Catalogue", "Keld 5", "spline_start"): ("38", "38 1/2"),
        ("Catalogue", "Marrick Six", "price"): ("900", ""),
        ("Catalogue", "Garth 5", "name"): ("Garth 5", "Garth 5 late"),
        ("Catalogue", "Semer 6", "name"): ("", "Semer 6"),
        ("Catalogue", "Semer 6", "ratio_1"): ("", "3.4"),
        ("Catalogue", "Dent 5", "mass"): ("32", "34"),
        ("Car", "axle", "ratio"): ("4.875", "4.22"),
        ("Car", "crank", "bush_recess"): ("5", ""),
        ("Car", "workshop", "tools"): ("[lathe, drill press, grinder]", "[lathe, mill]"),
    }


def test_a_date_is_asked_about_and_not_taken(friend):
    _, changes, *_ = friend
    (problem,) = changes.problems
    assert (
        "made a date by the spreadsheet program" in problem.found
        and "Type what you mean" in problem.fix
    )
    assert "sheet Catalogue, cell " in problem.file


def test_the_boxes_become_entries_with_who_and_when(friend):
    _, changes, *_ = friend
    (entry,) = changes.measured
    assert (entry.by, entry.on, entry.value, entry.tool) == ("Ann", "2026-05-08", "77.5", "vernier")
    assert (entry.of, entry.dimension) == ("Bainbridge 5", "spline_end")


def test_the_catalogue_is_edited_and_all_else_stays(friend, tmp_path):
    names, changes, *_ = friend
    text = DEMO.read_text(encoding="utf-8")
    new = edited_csv(text, changes, "Catalogue")
    before, after = text.splitlines(), new.splitlines()
    assert after[:3] == before[:3]
    assert len(set(before) - set(after)) == 6 + 1 and len(set(after) - set(before)) == 6 + 1
    (tmp_path / "new.csv").write_text(new, encoding="utf-8")
    (tmp_path / "whole.csv").write_text(table_text(changes, "Catalogue"), encoding="utf-8")
    fixed = new.replace(
        "38 1/2", "38.5 mm"
    )  # a bare fraction in a column of millimetres is asked about
    (tmp_path / "new.csv").write_text(fixed, encoding="utf-8")
    read = load_catalogue(tmp_path / "new.csv")
    assert set(read.names) == (set(names) - {"Garth 5", "Ostrel M4"}) | {"Garth 5 late", "Semer 6"}
    (tmp_path / "whole.csv").write_text(
        table_text(changes, "Catalogue").replace("38 1/2", "38.5 mm"), encoding="utf-8"
    )
    whole = load_catalogue(tmp_path / "whole.csv")
    assert whole.names == read.names and whole.rows == read.rows


def test_the_profile_is_edited_and_its_comments_stay(friend):
    _, changes, *_ = friend
    text = CAR.read_text(encoding="utf-8")
    new = edited_car(text, changes)
    data = tomllib.loads(new)
    assert (
        data["axle"]["ratio"] == 4.22
        and "bush_recess" not in data["crank"]
        and data["workshop"]["tools"] == ["lathe", "mill"]
    )
    assert [line for line in new.splitlines() if "#" in line] == [
        line for line in text.splitlines() if "#" in line
    ]
    assert read_car(new).values["axle_ratio"].nominal == 4.22


def test_edited_again_from_what_was_taken_in_gives_what_the_friend_meant(friend, tmp_path):
    """The files with the changes in them, ranked and sent out again, hold what the friend typed."""
    _, changes, *_ = friend
    (tmp_path / "car.toml").write_text(
        edited_car(CAR.read_text(encoding="utf-8"), changes), encoding="utf-8"
    )
    new = edited_csv(DEMO.read_text(encoding="utf-8"), changes, "Catalogue").replace(
        "38 1/2", "38.5 mm"
    )
    (tmp_path / "new.csv").write_text(new, encoding="utf-8")
    assessment = compare(
        load_catalogue(tmp_path / "new.csv"),
        load_car(tmp_path / "car.toml"),
        load_parts(PARTS),
        draws=1,
    )
    write_workbook(tmp_path / "again.xlsx", make_report(assessment))
    assert read_back(tmp_path / "again.xlsx").nothing
    cell = place_of(tmp_path / "again.xlsx", "Car", ("axle", "ratio"), "value")
    assert openpyxl.load_workbook(tmp_path / "again.xlsx")["Car"][cell].value == 4.22


def test_a_column_that_is_gone_is_kept_and_said(demo_path, soffice, tmp_path):  # noqa: F811
    column = place_of(demo_path, "Catalogue", ("Tarn 5A",), "mass").rstrip("0123456789")
    changes = read_back(
        edit(soffice, demo_path, [("remove column", "Catalogue", column)], tmp_path)
    )
    assert changes.nothing
    assert [p.found for p in changes.problems] == [
        'the column "mass" is gone: it was kept as it was.'
    ]


def test_a_stray_cell_far_out_keeps_nobody_waiting(demo_path, tmp_path):  # noqa: F811
    import time

    book = openpyxl.load_workbook(demo_path)
    book["Catalogue"]["XFD1048576"] = "x"
    book.save(tmp_path / "stray.xlsx")
    start = time.monotonic()
    assert read_back(tmp_path / "stray.xlsx").nothing
    assert time.monotonic() - start < 20


def test_hostile_texts_come_back_unchanged(soffice, tmp_path):
    catalogue = load_catalogue(catalogue_of(tmp_path, hostile=True))
    write_workbook(
        tmp_path / "hostile.xlsx", make_report(compare(catalogue, load_car(CAR), draws=1))
    )
    assert read_back(tmp_path / "hostile.xlsx").nothing
    assert read_back(edit(soffice, tmp_path / "hostile.xlsx", [], tmp_path)).nothing


@pytest.mark.parametrize(
    "name, words",
    [
        ("no.xlsx", "there is no such file"),
        ("text.xlsx", "is not a workbook"),
        ("other.xlsx", "does not hold what was sent"),
    ],
)
def test_what_is_no_workbook_of_ours_is_said(tmp_path, name, words):
    (tmp_path / "text.xlsx").write_text("name,price\n", encoding="utf-8")
    openpyxl.Workbook().save(tmp_path / "other.xlsx")
    with pytest.raises(InputError, match=words):
        read_back(Path(tmp_path / name))


def test_an_edit_of_another_file_is_refused(friend):
    _, changes, *_ = friend
    with pytest.raises(ValueError, match="is not what was sent"):
        edited_csv(
            DEMO.read_text(encoding="utf-8").replace("Tarn 5A", "Tarn 6A"), changes, "Catalogue"
        )
