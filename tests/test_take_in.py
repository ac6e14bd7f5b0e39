"""A workbook that comes back, edited in LibreOffice as a friend would: what was changed, and the files' new texts."""

from __future__ import annotations

import json
import re
import tomllib
from dataclasses import replace
from pathlib import Path

import numpy as np
import openpyxl
import pytest
import random_cars
from libreoffice import edit
from openpyxl.utils import get_column_letter
from test_workbook import CAR, DEMO, PARTS, catalogue_of, demo_path, demo_report  # noqa: F401

from compare.answer.brought import inputs_of, steps_of
from compare.answer.compare import compare
from compare.answer.edited import edited_car
from compare.answer.effects import effects
from compare.answer.log import read_log
from compare.answer.report import make_report
from compare.answer.returned import Files, returned, write
from compare.answer.take_in import read_back, was_sent
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


def mended(changes):
    """The changes with the bare fraction in a column of millimetres, which is asked about, made plain."""
    plain = [replace(c, now="38.5 mm") if c.now == "38 1/2" else c for c in changes.cells]
    return replace(changes, cells=tuple(plain), problems=())


def written(changes, place, catalogue=DEMO):
    """A copy of the demo's catalogue with the changes written in."""
    path = place / "catalogue.csv"
    path.write_bytes(Path(catalogue).read_bytes())
    return path, write("book.xlsx", changes, Files(catalogue=str(path)))


def test_the_catalogue_is_edited_and_all_else_stays(friend, tmp_path):
    names, changes, *_ = friend
    path, lines = written(mended(changes), tmp_path)
    before = DEMO.read_text(encoding="utf-8").splitlines()
    after = path.read_text(encoding="utf-8").splitlines()
    assert after[:3] == before[:3]
    assert len(set(before) - set(after)) == 6 and len(set(after) - set(before)) == 6 + 1
    assert set(load_catalogue(path).names) == (set(names) - {"Garth 5"}) | {"Garth 5 late", "Semer 6"}
    assert (tmp_path / "catalogue.csv.1.bak").read_bytes() == DEMO.read_bytes()
    assert any("the row of Ostrel M4" in line and "is gone in the workbook" in line for line in lines)


def test_what_would_not_read_back_is_not_written(friend, tmp_path):
    _, changes, *_ = friend
    with pytest.raises(InputError, match="38 1/2"):
        written(changes, tmp_path)
    assert (tmp_path / "catalogue.csv").read_bytes() == DEMO.read_bytes()


def test_the_profile_is_edited_and_its_comments_stay(friend):
    _, changes, *_ = friend
    text = CAR.read_text(encoding="utf-8")
    new = edited_car(text, changes.car_keys)
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
        edited_car(CAR.read_text(encoding="utf-8"), changes.car_keys), encoding="utf-8"
    )
    path, _ = written(mended(changes), tmp_path)
    assessment = compare(
        load_catalogue(path), load_car(tmp_path / "car.toml"), load_parts(PARTS), draws=1
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
    assert changes.nothing and not changes.problems
    assert changes.notes == ('Catalogue: the column "mass" is gone; as it was sent counts.',)


# ---- ranked as it came back -------------------------------------------------------------------------


def numbers(table):
    """Everything of a table that the sums see."""
    if table is None:
        return None
    columns = {n: [c.nominal, c.half, c.high] for n, c in {**table.columns, **table.car_columns}.items()}
    return table.names, table.texts, {n: [v.tolist() for v in vs] for n, vs in columns.items()}


def of_the_car(car):
    """Everything of a profile but where it stood."""
    return {k: v for k, v in vars(car).items() if k not in ("file", "digest", "readings", "shown")}


def same_inputs(book, catalogue, car, parts):
    back = read_back(book)
    assert back.nothing
    sent = inputs_of(back, steps_of(back))
    for one, other in ((sent.catalogue, catalogue), (sent.parts, parts)):
        np.testing.assert_equal(numbers(one), numbers(other))
    np.testing.assert_equal(of_the_car(sent.car), of_the_car(car))
    assert set(sent.car.shown) == set(car.shown)


@pytest.mark.parametrize("number", range(6))
def test_what_was_sent_is_what_comes_back(number, tmp_path):
    """All that the sums see of catalogue, parts and car, limits, weights and a log included."""
    if number == 0:
        extra = '\n[weights]\ncruise = 3\n[limits]\nend_gap_clear = 4\n'
        car = read_car(CAR.read_text(encoding="utf-8") + extra)
        catalogue, parts = load_catalogue(DEMO), load_parts(PARTS)
    else:
        car, parts = random_cars.car(number), None
        catalogue = random_cars.catalogue(tmp_path / "c.csv", number, 5)
    write_workbook(tmp_path / "b.xlsx", make_report(compare(catalogue, car, parts, draws=1)))
    same_inputs(tmp_path / "b.xlsx", catalogue, car, parts)


def test_the_log_travels_with_the_workbook(tmp_path):
    log = tmp_path / "measured.csv"
    log.write_text(
        "on,by,of,dimension,value\n2026-05-08,Ann,Keld 5,length,690 ±1\n,,car,crank.bore_depth,35\n"
        ",,Garth 5,release_type,concentric\n,,Keld 5,spline_end,?\n",
        encoding="utf-8",
    )
    entries = read_log(str(log))
    found = compare(load_catalogue(DEMO), load_car(CAR), load_parts(PARTS), draws=1, measured=entries)
    write_workbook(tmp_path / "b.xlsx", make_report(found), units="inch")
    back = read_back(tmp_path / "b.xlsx")
    assert back.nothing
    np.testing.assert_equal(
        [vars(e) | {"file": log} for e in inputs_of(back, ()).measured],
        [vars(e) | {"file": log} for e in entries],
    )
    shown = list(openpyxl.load_workbook(tmp_path / "b.xlsx")["Measured"].iter_rows(values_only=True))
    assert ("2026-05-08", "Ann", "Keld 5", "length", "27 11/64 in", "3/64 in") in shown
    assert any(r[3] == "release type" and r[4] == "concentric" for r in shown)
    assert any(r[3] == "spline end" and r[4] == "not known" for r in shown)


def friends(place, demo, edits):
    """The workbook with cells changed: (sheet, first cells of the row, head) -> value."""
    book = openpyxl.load_workbook(demo)
    for (sheet, starts, head), value in edits.items():
        cell = head if starts is None else place_of(demo, sheet, starts, head)
        book[sheet][cell].value = value
    book.save(place / "friend.xlsx")
    return place / "friend.xlsx"


EDITS = {
    ("Catalogue", ("Tarn 5A",), "length [mm]"): 612,
    ("Catalogue", ("Keld 5",), "price"): 300,
    ("Car", ("policy", "budget"), "value"): 900,
    ("Measuring list", None, "G7"): 82,
}


def test_a_workbook_is_ranked_as_it_came_back(demo_path, tmp_path, capsys):  # noqa: F811
    """As the files with the same changes are, and nothing is written anywhere."""
    from compare.cli import main

    path = friends(tmp_path, demo_path, EDITS)
    before = {p: p.read_bytes() for p in (path, DEMO, CAR, PARTS)}
    assert main(["rank", str(path), "--draws", "64", "--json", "-"]) == 0
    ours = json.loads(capsys.readouterr().out)["ranking"]
    text = DEMO.read_text(encoding="utf-8")
    write_changed = {"catalogue.csv": text, "car.toml": CAR.read_text(encoding="utf-8"),
                     "parts.csv": PARTS.read_text(encoding="utf-8")}  # fmt: skip
    folder = tmp_path / "folder"
    folder.mkdir()
    for name, content in write_changed.items():
        (folder / name).write_text(content, encoding="utf-8")
    assert main(["take-in", str(path), "--into", str(folder)]) == 0
    said = capsys.readouterr().out
    assert main(["rank", str(folder), "--draws", "64", "--json", "-"]) == 0
    theirs = json.loads(capsys.readouterr().out)["ranking"]
    assert ours == theirs
    assert all(p.read_bytes() == data for p, data in before.items())
    assert sorted(p.name for p in tmp_path.iterdir()) == ["folder", "friend.xlsx"]
    assert re.search(r"Keld 5, price: was 390, is 300\n +→ Keld 5: cost 872 → 782", said)
    assert re.search(r"Car C\d+: policy.budget: was 1600, is 900", said)
    assert re.search(r"spline end: 82\n +→ Bainbridge 5: measure first → goes in with work", said)


def test_each_change_does_by_itself_what_it_does_in_a_file(demo_path, tmp_path):  # noqa: F811
    path = friends(tmp_path, demo_path, EDITS)
    one = returned(str(path))
    found = {e.text: e.did for e in effects(one.changes, one.steps, draws=64)}
    (length,) = [did for text, did in found.items() if "length" in text]
    text = DEMO.read_text(encoding="utf-8")
    row = next(line for line in text.splitlines() if line.startswith("Tarn 5A,"))
    (tmp_path / "new.csv").write_text(text.replace(row, row.replace("698", "612", 1)), encoding="utf-8")
    whole = [
        make_report(compare(load_catalogue(p), load_car(CAR), load_parts(PARTS), draws=64)).ranking
        for p in (DEMO, tmp_path / "new.csv")
    ]
    was, now = ({r["candidate"]: r for r in rows}["Tarn 5A"] for rows in whole)
    assert was["outcome"] != now["outcome"]
    wanted = f"Tarn 5A: {was['outcome']} → {now['outcome']}, rank {was['rank']} → {now['rank']}"
    assert length[0].startswith(wanted) and f"cost {was['cost']:.0f} → {now['cost']:.0f}" in length[0]


def test_what_cannot_be_read_is_named_by_sheet_and_cell(demo_path, tmp_path):  # noqa: F811
    edits = {
        ("Catalogue", ("Tarn 5A",), "length [mm]"): "about two feet",
        ("Car", ("axle", "ratio"), "value"): "tall",
        ("Measuring list", None, "G7"): "long",
    }
    path = friends(tmp_path, demo_path, edits)
    with pytest.raises(InputError) as error:
        returned(str(path))
    text = error.value.text()
    for (sheet, starts, head), value in edits.items():
        cell = head if starts is None else place_of(path, sheet, starts, head)
        row = re.sub(r"\D", "", cell)
        assert f"friend.xlsx, sheet {sheet}" in text and f"line {row}" in text and value in text


def test_a_box_in_inches_is_read_as_inches(tmp_path):
    found = make_report(compare(load_catalogue(DEMO), load_car(CAR), load_parts(PARTS), draws=1))
    write_workbook(tmp_path / "b.xlsx", found, units="inch")
    path = friends(tmp_path, tmp_path / "b.xlsx", {("Measuring list", None, "G7"): "3 1/16"})
    (entry,) = read_back(path).measured
    assert entry.value == "3 1/16 in"
    assert inputs_of(read_back(path), steps_of(read_back(path))).measured[0].value == 3.0625 * 25.4


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
        ("text.xlsx", "is no workbook"),
        ("broken.xlsx", "is a workbook that is damaged"),
        ("other.xlsx", "does not hold what was sent"),
    ],
)
def test_what_is_no_workbook_of_ours_is_said(tmp_path, name, words):
    (tmp_path / "text.xlsx").write_text("name,price\n", encoding="utf-8")
    (tmp_path / "broken.xlsx").write_bytes(b"PK\x03\x04 and no more")
    openpyxl.Workbook().save(tmp_path / "other.xlsx")
    with pytest.raises(InputError, match=words) as error:
        read_back(Path(tmp_path / name))
    if name != "no.xlsx":
        assert "Name a workbook that rank wrote" in error.value.problems[0].fix


def test_an_edit_of_another_file_is_refused(friend, tmp_path):
    _, changes, *_ = friend
    (tmp_path / "other.csv").write_text(
        DEMO.read_text(encoding="utf-8").replace("698", "699"), encoding="utf-8"
    )
    with pytest.raises(InputError, match="does not hold what was sent"):
        written(mended(changes), tmp_path, tmp_path / "other.csv")


def test_what_was_tried_on_what_if_is_said_not_to_be_read_back(tmp_path):
    book = openpyxl.load_workbook(Path(__file__).parent.parent / "reports" / "demo.xlsx")
    sheet = book["What-if"]
    cell = next(row[2] for row in sheet.iter_rows(max_row=40, max_col=3) if row[0].value == "axle ratio")
    was, cell.value = cell.value, 4.1
    book.save(tmp_path / "tried.xlsx")
    notes = read_back(tmp_path / "tried.xlsx").notes
    assert [n for n in notes if n.startswith(f"What-if: axle ratio is 4.1 and was {was:g}. ")]
    assert sum(n.startswith("What-if") for n in notes) == 1
