"""Files as the readers take them:

typed cells of workbooks, marks, notes, keys of the car, profiles with their ledger.
"""

from __future__ import annotations

import re

import openpyxl
import pytest

from compare.problems import InputError
from compare.read.car import load_car, read_car
from compare.read.catalogue import load_catalogue, load_parts

# ---- workbooks: typed cells, and only what is used -----------------------------------------------


def saved(book, path):
    book.save(path)
    return path


def with_sheet_xml(path, change):
    """The workbook with its first sheet's XML changed."""
    import zipfile

    with zipfile.ZipFile(path) as archive:
        parts = {n: archive.read(n) for n in archive.namelist()}
    name = "xl/worksheets/sheet1.xml"
    parts[name] = change(parts[name].decode("utf-8")).encode("utf-8")
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        for part, data in parts.items():
            archive.writestr(part, data)
    return path


def test_every_kind_of_cell_of_a_workbook_keeps_its_type(tmp_path):
    import datetime

    book = openpyxl.Workbook()
    sheet = book.active
    sheet.append(
        [
            "name",
            "ratio_4",
            "length",
            "spline_diameter",
            "speedo_driven_teeth",
            "price",
            "notes",
            "release_type",
        ]
    )
    sheet.append([5000, "41/11", 612.125, 28.575, 16, 1.25, True, "fork"])
    sheet.append(["B", 1, "1,250", '1 1/8"', "16-23", "£1,200", 12.5, ""])
    sheet.cell(4, 12).number_format = "@"  # a formatted cell that holds nothing
    table = load_catalogue(saved(book, tmp_path / "t.xlsx"))
    assert table.names == ["5000", "B"]
    assert table.columns["length"].nominal.tolist() == [612.125, 1250]
    assert table.columns["spline_diameter"].nominal == pytest.approx([28.575, 28.575])
    assert table.columns["speedo_driven_teeth"].high.tolist() == [16, 23]
    assert table.columns["price"].nominal.tolist() == [1.25, 1200]
    assert table.texts["notes"] == ["true", "12.5"]
    sheet["B3"] = datetime.time(3, 35)
    with pytest.raises(InputError, match=r"03:35.* is a date"):
        load_catalogue(saved(book, tmp_path / "t.xlsx"))


def test_a_formula_s_stored_value_is_read_and_one_without_is_asked_about(tmp_path):
    book = openpyxl.Workbook()
    book.active.append(["name", "ratio_4", "length"])
    book.active.append(["A", 1, "=600+12"])
    path = saved(book, tmp_path / "f.xlsx")
    with pytest.raises(InputError, match="formula for which the file holds no value"):
        load_catalogue(path)
    with_sheet_xml(
        path, lambda xml: re.sub(r"<f>600\+12</f><v\s*/?>(?:</v>)?", "<f>600+12</f><v>612</v>", xml)
    )
    assert load_catalogue(path).columns["length"].nominal[0] == 612


def test_a_million_empty_rows_and_a_stray_cell_cost_next_to_nothing(tmp_path):
    import time

    book = openpyxl.Workbook()
    book.active.append(["name", "ratio_4"])
    book.active.append(["A", 1])
    path = saved(book, tmp_path / "long.xlsx")
    empty = "".join(f'<row r="{n}"/>' for n in range(3, 1_048_577))
    with_sheet_xml(path, lambda xml: xml.replace("</sheetData>", empty + "</sheetData>"))
    began = time.process_time()
    assert load_catalogue(path).names == ["A"]
    assert time.process_time() - began < 3
    stray = '<row r="1048576"><c r="XFD1048576" t="inlineStr"><is><t>x</t></is></c></row>'
    with_sheet_xml(path, lambda xml: re.sub(r'<row r="1048576"/>', stray, xml))
    began = time.process_time()
    with pytest.raises(InputError, match="beyond the last head"):
        load_catalogue(path)
    assert time.process_time() - began < 3


def test_an_entity_bomb_is_refused(tmp_path):
    book = openpyxl.Workbook()
    book.active.append(["name", "ratio_4"])
    path = saved(book, tmp_path / "bomb.xlsx")
    bomb = '<!DOCTYPE x [<!ENTITY a "aaaaaaaaaa"><!ENTITY b "&a;&a;&a;&a;">]>'
    with_sheet_xml(path, lambda xml: bomb + re.sub(r"<\?xml[^>]*\?>", "", xml))
    with pytest.raises(InputError, match="document type"):
        load_catalogue(path)


# ---- marks, notes, keys of the car in parts ------------------------------------------------------


def table_of(tmp_path, text, load=load_catalogue):
    path = tmp_path / "t.csv"
    path.write_text(text, encoding="utf-8")
    return load(path)


def test_owner_s_marks_are_columns_and_other_columns_are_notes(tmp_path):
    table = table_of(
        tmp_path,
        "name,ratio_4,mark_Parts supply,mark_feel,year,colour,note: "
        "lenght\nA,1,7.5,?,1971,green,x\n",
    )
    assert table.columns["mark_parts_supply"].nominal[0] == 7.5
    assert str(table.columns["mark_feel"].nominal[0]) == "nan"
    assert table.texts["note: year"] == ["1971"] and table.texts["note: note: lenght"] == ["x"]
    assert sum("kept as a note" in w for w in table.warnings) == 3
    for head in ("lenght", "stickout", "pilot_diametre", "mount positon"):
        with pytest.raises(InputError, match="Did you mean"):
            table_of(tmp_path, f"name,ratio_4,{head}\nA,1,600\n")


def test_a_part_may_replace_keys_of_the_car(tmp_path):
    parts = table_of(
        tmp_path,
        "part,kind,fits,car.clutch.hub_rear,car.driveshaft.tube_diameter "
        "[in],car.clutch.blocked_side,car.mount.tilt\nDisc,disc,A,21.5 ±0.2,2 1/4,left,\n",
        load_parts,
    )
    assert (
        parts.car_columns["clutch_hub_rear"].nominal[0] == 21.5
        and parts.car_columns["clutch_hub_rear"].half[0] == 0.2
    )
    assert parts.car_columns["driveshaft_tube_diameter"].nominal[0] == pytest.approx(57.15)
    assert parts.car_columns["clutch_blocked_side"].nominal[0] == 0
    assert str(parts.car_columns["car_mount_tilt"].nominal[0]) == "nan" and not parts.columns
    columns = {r["column"]: r["value"] for r in parts.readings}
    assert columns["car.clutch.hub_rear"] == 21.5 and columns["car.clutch.blocked_side"] == "left"


def test_weights_take_criteria_and_marks(tmp_path):
    car = read_car('[weights]\ncruise = 2\n"parts supply" = 3\ncrusie = 1\n')
    assert car.weights == {"cruise": 2.0, "parts_supply": 3.0, "crusie": 1.0}
    assert any("Did you mean cruise?" in w for w in car.warnings)


def test_neighbours_settle_what_a_cell_leaves_open(tmp_path):
    table = table_of(
        tmp_path,
        "name,ratio_1,ratio_2,ratio_3,ratio_5,shifter_position\n"
        'A,3.42,35/25,1,24/31,"1,250"\n'
        "B,3.4,2.1,1.4,0.8,730\n",
    )
    assert table.columns["ratio_2"].nominal[0] == 1.4 and table.columns["ratio_5"].nominal[
        0
    ] == pytest.approx(24 / 31)
    assert (
        table.columns["shifter_position"].nominal[0] == 1250
    )  # every other cell has a decimal point
    with pytest.raises(InputError, match="two ways"):
        table_of(tmp_path, "name,ratio_5\nA,24/31\n")


# ---- the car: keys that the vocabulary may have --------------------------------------------------


def trial_keys():
    from compare.vocabulary import CAR_KEYS, Term, car_name

    def key(section, name, kind, **more):
        return Term(car_name(section, name), kind, "a trial", section=section, key=name, **more)

    there = {t.name for t in CAR_KEYS}
    trial = [
        *(key(section, "none", "flag") for section in ("crossmember", "tunnel", "opening", "mount")),
        key("crossmember", "removable", "flag"),
        key("tunnel", "pieces", "pieces"),
        key("policy", "musts", "names"),
        key("policy", "sure_enough", "fraction", low=0.5, high=0.99, default=0.8),
        key("policy", "resale", "fraction", low=0, high=1),
        key("policy", "currency", "text"),
        key("policy", "transport", "money", low=0, high=1e5),
    ]
    return [*CAR_KEYS, *(t for t in trial if t.name not in there)]


def test_flags_pieces_musts_and_policy():
    text = """
[crossmember]
none = true
[tunnel]
pieces = [{start = 200, end = "30 in", removable = true}, {start = 762, end = 950}]
[policy]
musts = ["cruise_rpm", "budget"]
sure_enough = 0.85
currency = "£"
transport = "£40"
"""
    car = read_car(text, keys=trial_keys())
    assert car.values["crossmember_none"].nominal == 1 and car.musts == ("cruise_rpm", "budget")
    assert [(p["start"].nominal, p["end"].nominal) for p in car.pieces] == [(200, 762), (762, 950)]
    assert car.pieces[0]["removable"].nominal == 1 and "removable" not in car.pieces[1]
    assert (
        car.values["policy_sure_enough"].nominal == 0.85
        and car.texts["policy_currency"] == "£"
        and car.values["policy_transport"].nominal == 40
    )
    columns = [r["column"] for r in car.readings]
    assert "tunnel.pieces[1].end" in columns and "policy.musts[2]" in columns
    assert read_car("", keys=trial_keys()).values["policy_sure_enough"].nominal == 0.8


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("[crossmember]\nnone = true\nstart = 480\n", "none = true, and yet start is given"),
        ("[tunnel]\npieces = [{start = 500, end = 200}]\n", "ends before it starts"),
        ("[tunnel]\npieces = [{start = 200, end = 500}, {start = 400, end = 600}]\n", "overlap"),
        ("[tunnel]\npieces = [{start = 200, edn = 500}]\n", "Did you mean end"),
        ("[policy]\nsure_enough = 0.3\n", "outside what is possible"),
        ('[policy]\nmusts = "budget"\n', "not a list of names"),
    ],
)
def test_a_profile_that_contradicts_itself_is_refused(text, words):
    with pytest.raises(InputError, match=words):
        read_car(text, keys=trial_keys())


def test_every_cell_of_a_profile_is_in_the_ledger_with_its_line(demo_files):
    car = load_car(demo_files[1])
    rows = {r["column"]: r for r in car.readings}
    inches = [r for r in rows.values() if r["typed"].endswith(" in") and r["unit"] == "mm"]
    assert inches and all(r["value"] > 12 for r in inches)
    lines = demo_files[1].read_text(encoding="utf-8").splitlines()
    for row in car.readings:
        assert (
            row["column"].split(".")[1].split("[")[0] in lines[row["line"] - 1]
            and row["state"] == "read"
        ), row
    with pytest.raises(InputError) as error:
        read_car('[crank]\nbore_depth = "34?"\nbush_length = "?"\nbore_diameter = 21\n')
    assert {r["column"]: r["state"] for r in error.value.readings} == {
        "crank.bore_depth": "asked",
        "crank.bush_length": "unknown",
        "crank.bore_diameter": "read",
    }
