"""Files as they come: other countries, other encodings, hostile cells, spreadsheet workbooks."""

from __future__ import annotations

import csv
import io
import json
import re

import openpyxl
import pytest

from compare.answer.report import Tables
from compare.judge.engine import compare
from compare.problems import InputError
from compare.read.car import load_car, read_car
from compare.read.catalogue import load_catalogue, load_parts
from compare.report.as_json import document
from compare.report.terminal import rank_report

LENGTHS = ("depth", "stickout", "pilot", "collar", "length", "case_", "tail_", "mount_position", "mount_drop", "mount_pad", "shifter", "slip", "spline_start", "spline_end", "spline_diameter", "register", "thickness")


def rows_of(path):
    lines = [line for line in path.read_text(encoding="utf-8").splitlines() if not line.startswith("#")]
    return list(csv.reader(lines))


def written(rows, delimiter=","):
    out = io.StringIO()
    csv.writer(out, delimiter=delimiter, lineterminator="\r\n").writerows(rows)
    return out.getvalue()


def judged(path, demo_files):
    found = compare(load_catalogue(path), load_car(demo_files[1]), load_parts(demo_files[2]), draws=1)
    tables = Tables(found)
    return [(r["candidate"], r["outcome"], r["score"]) for r in tables.ranking], [(c["candidate"], c["check"], c["value"]) for c in tables.checks]


def same(one, other, tolerance=0.01):
    assert one[0] == other[0]
    for (a, b, x), (c, d, y) in zip(one[1], other[1], strict=True):
        assert (a, b) == (c, d)
        assert (x is None) == (y is None), (a, b)
        if x is not None:
            assert x == pytest.approx(y, abs=tolerance), (a, b)


def is_length(head):
    bare = head.split("[")[0].strip()
    return any(word in bare for word in LENGTHS) and "tilt" not in bare and bare not in ("shifter_side",)


def test_a_german_machine_s_file_gives_the_same(demo_files, tmp_path):
    """Semicolons, decimal commas, byte order mark, CRLF."""
    rows = [[re.sub(r"^(-?\d+)\.(\d+)", r"\1,\2", c) for c in row] for row in rows_of(demo_files[0])]
    path = tmp_path / "german.csv"
    path.write_bytes(b"\xef\xbb\xbf" + written(rows, ";").encode("utf-8"))
    same(judged(demo_files[0], demo_files), judged(path, demo_files), 1e-9)


def mixed(millimetres):
    """A length as 64ths of an inch with what is left over as decimals, written in the forms of the bench."""
    inches = millimetres / 25.4
    return f'{inches:.5f}"'


def test_a_file_in_inches_gives_the_same_to_a_hundredth(demo_files, tmp_path):
    rows = rows_of(demo_files[0])
    heads = rows[0]
    inch_rows = [[f"{h.split('[')[0].strip()} [in]" if is_length(h) else h for h in heads]]
    for row in rows[1:]:
        out = []
        for head, cell in zip(heads, row, strict=True):
            found = re.fullmatch(r"(-?\d+(?:\.\d+)?)(?: mm)?", cell)
            choice = re.fullmatch(r"(\d+)\.\.(\d+)(?: mm)?", cell)
            if is_length(head) and found:
                out.append(f"{float(found[1]) / 25.4:.5f}")
            elif is_length(head) and choice:
                out.append(f"{float(choice[1]) / 25.4:.5f}..{float(choice[2]) / 25.4:.5f}")
            elif is_length(head) and "±" in cell:
                value, half = cell.split("±")
                out.append(f"{float(value) / 25.4:.5f} ±{float(half) / 25.4:.5f}")
            else:
                out.append(cell)
        inch_rows.append(out)
    path = tmp_path / "inches.csv"
    path.write_text(written(inch_rows), encoding="utf-8")
    same(judged(demo_files[0], demo_files), judged(path, demo_files))


def test_mixed_fractions_of_an_inch_give_the_same(demo_files, tmp_path):
    """A metric file whose lengths are exact sixteenths, against the same in mixed fractions of every spelling."""
    rows = rows_of(demo_files[0])
    heads, body = rows[0], rows[1:4]
    metric, fractions = [heads], [heads]
    spellings = ('{w} {n}/16 in', '{w}-{n}/16"', "{w} {n}/16″")
    for number, row in enumerate(body):
        plain, bench = [], []
        for head, cell in zip(heads, row, strict=True):
            found = re.fullmatch(r"(\d+(?:\.\d+)?)", cell)
            if is_length(head) and found and float(found[1]) > 20:
                sixteenths = round(float(found[1]) / 25.4 * 16)
                plain.append(f"{sixteenths * 25.4 / 16:.4f}")
                whole, rest = divmod(sixteenths, 16)
                bench.append(spellings[number % 3].format(w=whole, n=rest) if rest else f"{whole} in")
            else:
                plain.append(cell)
                bench.append(cell)
        metric.append(plain)
        fractions.append(bench)
    one, other = tmp_path / "metric.csv", tmp_path / "fractions.csv"
    one.write_text(written(metric), encoding="utf-8")
    other.write_text(written(fractions), encoding="utf-8")
    results = []
    for path in (one, other):
        tables = Tables(compare(load_catalogue(path), load_car(demo_files[1]), draws=1))
        results.append(([(r["candidate"], r["outcome"]) for r in tables.ranking], [(c["candidate"], c["check"], c["value"]) for c in tables.checks]))
    same(results[0], results[1])


def test_windows_1252_with_a_half_gives_the_same_and_says_so(demo_files, tmp_path):
    text = written([[c.replace("12.7", "½ in") if c == "12.7" else c for c in row] for row in rows_of(demo_files[0])])
    path = tmp_path / "old.csv"
    path.write_bytes(text.encode("cp1252"))
    assert b"\xbd" in path.read_bytes()
    same(judged(demo_files[0], demo_files), judged(path, demo_files), 1e-9)
    assert any("Windows-1252" in w for w in load_catalogue(path).warnings)


@pytest.mark.parametrize("encoding", ["utf-16", "utf-16-le-bom", "utf-8-sig"])
def test_unicode_encodings(demo_files, tmp_path, encoding):
    text = written(rows_of(demo_files[0]), "\t")
    data = b"\xff\xfe" + text.encode("utf-16-le") if encoding == "utf-16-le-bom" else text.encode(encoding)
    path = tmp_path / "u.csv"
    path.write_bytes(data)
    same(judged(demo_files[0], demo_files), judged(path, demo_files), 1e-9)


def test_a_workbook_reads_like_the_csv(demo_files, tmp_path):
    """Numbers as numbers, texts as texts; three decimals in a number cell are no thousand."""
    book = openpyxl.Workbook()
    sheet = book.active
    sheet.title = "Catalogue"
    for row in rows_of(demo_files[0]):
        sheet.append([float(c) if re.fullmatch(r"-?\d+\.\d+", c) else int(c) if re.fullmatch(r"\d+", c) else c for c in row])
    path = tmp_path / "c.xlsx"
    book.save(path)
    same(judged(demo_files[0], demo_files), judged(path, demo_files), 1e-9)
    for number in (612.125, 612.12, 612.1, 612.0):
        sheet.cell(2, [c.value for c in sheet[1]].index("length [mm]") + 1, number)
        book.save(path)
        assert load_catalogue(path).columns["length"].nominal[0] == number


def test_a_date_in_a_workbook_is_named_as_that(tmp_path):
    import datetime

    book = openpyxl.Workbook()
    book.active.append(["name", "ratio_4", "spline_teeth"])
    book.active.append(["A", 1.0, datetime.datetime(2026, 1, 10)])
    path = tmp_path / "d.xlsx"
    book.save(path)
    with pytest.raises(InputError, match="is a date"):
        load_catalogue(path)


HOSTILE = ['=HYPERLINK("http://x.invalid","click")', "[red]boo[/red]", "[/]", "\x1b[31mred", "N" * 200, "+1+1", "@SUM(1)", "#N/A", "=1+1", "\u202eevil", ":smile:", "'quoted", "a\tb", "[link=x]y[/link]", "NA", "None", "nan"]  # fmt: skip


def hostile_catalogue(tmp_path):
    rows = [["name", "family", "notes", "ratio_1", "ratio_4", "length", "bellhousing", "odd [red]"]]
    for text in HOSTILE:
        rows.append([text, text[:50], "x" * 40000 if text == "[/]" else "nul\x00byte" if text == "=1+1" else text, "3.5", "1", "700", text[:40] if "/" not in text else "own", text])
    path = tmp_path / "hostile.csv"
    path.write_bytes(written(rows).encode("utf-8"))
    return path


def test_hostile_cells_stay_data_on_the_terminal_and_in_json(demo_files, tmp_path):
    table = load_catalogue(hostile_catalogue(tmp_path))
    assert table.names[0].startswith("=HYPERLINK")
    tables = Tables(compare(table, load_car(demo_files[1]), draws=5))
    for color in (False, True):
        text = rank_report(tables, [], [], width=100, color=color)
        assert "[red]boo" in text and "\x1b[31mred" not in text and "\\x1b[31mred" in text and "\u202e" not in text and ":smile:" in text
        assert "\x00" not in text
    content = json.dumps(document(tables, [], []))
    assert json.loads(content)["ranking"]


def test_hostile_cells_stay_text_in_every_sheet(demo_files, tmp_path):
    from compare.report.workbook import write_workbook

    tables = Tables(compare(load_catalogue(hostile_catalogue(tmp_path)), load_car(demo_files[1]), draws=5))
    path = tmp_path / "h.xlsx"
    write_workbook(path, tables, [], [])
    book = openpyxl.load_workbook(path)
    seen = 0
    for sheet in book.worksheets:
        for row in sheet.iter_rows():
            for cell in row:
                if cell.data_type == "f":
                    assert sheet.title == "What-if", (sheet.title, cell.coordinate, cell.value)
                    assert "HYPERLINK" not in cell.value and "SUM(1)" not in cell.value
                assert cell.data_type != "e"
                if isinstance(cell.value, str) and cell.value.startswith(("=HYPERLINK", "=1+1", "@SUM")):
                    assert cell.data_type == "s" and cell.quotePrefix
                    seen += 1
    assert seen > 5


def test_hostile_names_on_whole_candidates_stay_text_in_charts_comments_and_properties(demo_files, tmp_path):
    """The demo's rows under hostile names, so that layouts, orders and charts are made of them too."""
    import zipfile

    from compare.answer.visits import dimensions, judged_over_range
    from compare.report.terminal import detail_report
    from compare.report.workbook import write_workbook

    rows = rows_of(demo_files[0])
    for row, text in zip(rows[1:], HOSTILE, strict=False):
        row[0] = text
    source = tmp_path / "whole.csv"
    source.write_text(written(rows), encoding="utf-8")
    car = read_car(demo_files[1].read_text(encoding="utf-8").replace("Pellow 15-cwt van, 1959", "=1+1 [red]van"))
    tables = Tables(compare(load_catalogue(source), car, draws=20))
    path = tmp_path / "whole.xlsx"
    write_workbook(path, tables, dimensions(tables.assessment), judged_over_range(tables.assessment))
    with zipfile.ZipFile(path) as archive:
        for name in archive.namelist():
            data = archive.read(name).decode("utf-8", "replace")
            assert "\x1b" not in data and "\u202e" not in data, name
            if "worksheets/sheet" in name:
                assert not re.search(r"<f>[^<]*(HYPERLINK|SUM\(1\))|<f>1\+1<", data), name
    assert "=1+1 [red]van" in openpyxl.load_workbook(path).properties.title
    for at in range(len(tables.shown)):
        text = detail_report(tables, at, [], [], width=90)
        assert "\x1b" not in text and "\u202e" not in text


def test_na_and_none_are_names(demo_files, tmp_path):
    table = load_catalogue(hostile_catalogue(tmp_path))
    assert {"NA", "None", "nan"} <= set(table.names)


def test_only_names_and_ratios_still_rank_and_say_what_is_missing(demo_files, tmp_path):
    path = tmp_path / "short.csv"
    path.write_text("name,ratio_1,ratio_4,ratio_5\nTall,3.5,1,0.65\nShort,3.5,1,\nGood,3.5,1,0.8\n", encoding="utf-8")
    tables = Tables(compare(load_catalogue(path), load_car(demo_files[1]), draws=10))
    assert [r["candidate"] for r in tables.ranking][:2] == ["Good", "Tall"] or tables.ranking[0]["candidate"] == "Good"
    for row in tables.ranking:
        assert row["outcome"] == "measure first"
        assert "not known" in row["why"]
        text = " ".join(row["unmeasured"])
        for name in ("shaft_stickout", "pilot_diameter", "length", "mount_position"):
            assert name in text, name


@pytest.mark.parametrize("section", ["engine", "driveshaft", "clutch", "tyre", "tunnel", "crank", "mount", "opening", "crossmember", "cruise", "axle", "speedometer", "car"])
def test_a_profile_without_a_section_still_ranks(demo, demo_files, section):
    """Missing keys make checks unmeasured, never a crash."""
    text = demo_files[1].read_text(encoding="utf-8")
    cut = re.sub(rf"(?ms)^\[{section}\]\n.*?(?=^\[|\Z)", "", text)
    assert cut != text
    found = Tables(compare(demo.builds.catalogue, read_car(cut), demo.builds.parts, draws=5))
    assert len(found.ranking) == len(demo.order)
    opened = {c["check"] for c in found.checks if c["verdict"] == "unmeasured"}
    assert opened, section
    for row in found.ranking:
        for line in row["unmeasured"]:
            assert not line.endswith(": unknown"), line


@pytest.mark.parametrize("column", ["mount_pad_stock", "mount_pad_length"])
def test_an_unknown_that_only_the_remedy_needs_is_asked_for(demo, demo_files, tmp_path, column):
    """Cotter's pad is ten degrees off: without its length or its stock nobody knows whether milling helps; it is not ruled out."""
    rows = rows_of(demo_files[0])
    at = rows[0].index(column)
    for row in rows[1:]:
        row[at] = "?"
    path = tmp_path / "c.csv"
    path.write_text(written(rows), encoding="utf-8")
    tables = Tables(compare(load_catalogue(path), demo.car, draws=20))
    cotter = next(r for r in tables.ranking if r["candidate"] == "Cotter 5")
    assert cotter["outcome"] == "measure first" and f"mount_tilt: {column}" in cotter["unmeasured"]
    level = next(r for r in tables.ranking if r["candidate"] == "Tarn 5A")
    assert level["outcome"] == "bolts in" and not level["unmeasured"]


def test_an_empty_profile_ranks_by_ratios(demo):
    found = Tables(compare(demo.builds.catalogue, read_car(""), draws=5))
    assert all(r["outcome"] == "measure first" for r in found.ranking)


@pytest.mark.parametrize("number", ["2.88", "2.8", "2.875", "2", "2.8755"])
def test_a_toml_number_has_one_decimal_point_by_its_own_rules(number):
    assert read_car(f"[car]\nfrontal_area = {number}\n").values["car_frontal_area"].nominal == float(number)


def test_reading_twice_gives_the_same_digest(demo_files):
    assert load_catalogue(demo_files[0]).digest == load_catalogue(demo_files[0]).digest


# ---- workbooks: typed cells, and only what is used -------------------------------------------------------


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
    sheet.append(["name", "ratio_4", "length", "spline_diameter", "speedo_driven_teeth", "price", "notes", "release_type"])
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
    with_sheet_xml(path, lambda xml: re.sub(r"<f>600\+12</f><v\s*/?>(?:</v>)?", "<f>600+12</f><v>612</v>", xml))
    assert load_catalogue(path).columns["length"].nominal[0] == 612


def test_a_million_empty_rows_and_a_stray_cell_cost_next_to_nothing(tmp_path):
    import time

    book = openpyxl.Workbook()
    book.active.append(["name", "ratio_4"])
    book.active.append(["A", 1])
    path = saved(book, tmp_path / "long.xlsx")
    empty = "".join(f'<row r="{n}"/>' for n in range(3, 1_048_577))
    with_sheet_xml(path, lambda xml: xml.replace("</sheetData>", empty + "</sheetData>"))
    began = time.perf_counter()
    assert load_catalogue(path).names == ["A"]
    assert time.perf_counter() - began < 3
    stray = '<row r="1048576"><c r="XFD1048576" t="inlineStr"><is><t>x</t></is></c></row>'
    with_sheet_xml(path, lambda xml: re.sub(r'<row r="1048576"/>', stray, xml))
    began = time.perf_counter()
    with pytest.raises(InputError, match="beyond the last head"):
        load_catalogue(path)
    assert time.perf_counter() - began < 3


def test_an_entity_bomb_is_refused(tmp_path):
    book = openpyxl.Workbook()
    book.active.append(["name", "ratio_4"])
    path = saved(book, tmp_path / "bomb.xlsx")
    bomb = '<!DOCTYPE x [<!ENTITY a "aaaaaaaaaa"><!ENTITY b "&a;&a;&a;&a;">]>'
    with_sheet_xml(path, lambda xml: bomb + re.sub(r"<\?xml[^>]*\?>", "", xml))
    with pytest.raises(InputError, match="document type"):
        load_catalogue(path)


# ---- marks, notes, keys of the car in parts --------------------------------------------------------------


def table_of(tmp_path, text, load=load_catalogue):
    path = tmp_path / "t.csv"
    path.write_text(text, encoding="utf-8")
    return load(path)


def test_owner_s_marks_are_columns_and_other_columns_are_notes(tmp_path):
    table = table_of(tmp_path, "name,ratio_4,mark_Parts supply,mark_feel,year,colour,note: lenght\nA,1,7.5,?,1971,green,x\n")
    assert table.columns["mark_parts_supply"].nominal[0] == 7.5
    assert str(table.columns["mark_feel"].nominal[0]) == "nan"
    assert table.texts["note: year"] == ["1971"] and table.texts["note: note: lenght"] == ["x"]
    assert sum("kept as a note" in w for w in table.warnings) == 3
    for head in ("lenght", "stickout", "pilot_diametre", "mount positon"):
        with pytest.raises(InputError, match="Did you mean"):
            table_of(tmp_path, f"name,ratio_4,{head}\nA,1,600\n")


def test_a_part_may_replace_keys_of_the_car(tmp_path):
    parts = table_of(tmp_path, 'part,kind,fits,car.clutch.hub_rear,car.driveshaft.tube_diameter [in],car.clutch.blocked_side,car.mount.tilt\nDisc,disc,A,21.5 ±0.2,2 1/4,left,\n', load_parts)
    assert parts.car_columns["clutch_hub_rear"].nominal[0] == 21.5 and parts.car_columns["clutch_hub_rear"].half[0] == 0.2
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
    table = table_of(tmp_path, 'name,ratio_1,ratio_2,ratio_3,ratio_5,shifter_position\nA,3.42,35/25,1,24/31,"1,250"\nB,3.4,2.1,1.4,0.8,730\n')
    assert table.columns["ratio_2"].nominal[0] == 1.4 and table.columns["ratio_5"].nominal[0] == pytest.approx(24 / 31)
    assert table.columns["shifter_position"].nominal[0] == 1250  # every other cell has a decimal point
    with pytest.raises(InputError, match="two ways"):
        table_of(tmp_path, "name,ratio_5\nA,24/31\n")


# ---- the car: keys that the vocabulary may have ----------------------------------------------------------


def trial_keys():
    from compare.vocabulary import CAR_KEYS, Term, car_name

    def key(section, name, kind, **more):
        return Term(car_name(section, name), kind, "a trial", section=section, key=name, **more)

    there = {t.name for t in CAR_KEYS}
    trial = [
        key("crossmember", "none", "flag"), key("crossmember", "removable", "flag"), key("tunnel", "none", "flag"), key("opening", "none", "flag"),
        key("mount", "none", "flag"), key("tunnel", "pieces", "pieces"), key("policy", "musts", "names"), key("policy", "sure_enough", "fraction", low=0.5, high=0.99, default=0.8),
        key("policy", "resale", "fraction", low=0, high=1), key("policy", "currency", "text"), key("policy", "transport", "money", low=0, high=1e5),
    ]  # fmt: skip
    return [*CAR_KEYS, *(t for t in trial if t.name not in there)]


def test_flags_pieces_musts_and_policy():
    text = """
[crossmember]
none = true
[tunnel]
pieces = [{start = 200, end = "30 in", removable = true}, {start = 762, end = 950}]
[policy]
musts = ["cruise_rpm", "budget"]
sure_enough = "85 %"
currency = "£"
transport = "£40"
"""
    car = read_car(text, keys=trial_keys())
    assert car.values["crossmember_none"].nominal == 1 and car.musts == ("cruise_rpm", "budget")
    assert [(p["start"].nominal, p["end"].nominal) for p in car.pieces] == [(200, 762), (762, 950)]
    assert car.pieces[0]["removable"].nominal == 1 and "removable" not in car.pieces[1]
    assert car.values["policy_sure_enough"].nominal == 0.85 and car.texts["policy_currency"] == "£" and car.values["policy_transport"].nominal == 40
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
        ("[policy]\nmusts = \"budget\"\n", "not a list of names"),
    ],
)
def test_a_profile_that_contradicts_itself_is_refused(text, words):
    with pytest.raises(InputError, match=words):
        read_car(text, keys=trial_keys())


def test_every_cell_of_a_profile_is_in_the_ledger_with_its_line(demo_files):
    car = load_car(demo_files[1])
    rows = {r["column"]: r for r in car.readings}
    assert rows["crank.bush_bore"]["value"] == 12.7 and rows["crank.bush_bore"]["typed"] == "1/2 in"
    lines = demo_files[1].read_text(encoding="utf-8").splitlines()
    for row in car.readings:
        assert row["column"].split(".")[1].split("[")[0] in lines[row["line"] - 1] and row["state"] == "read", row
    with pytest.raises(InputError) as error:
        read_car('[crank]\nbore_depth = "34?"\nbush_length = "?"\nbore_diameter = 21\n')
    assert {r["column"]: r["state"] for r in error.value.readings} == {"crank.bore_depth": "asked", "crank.bush_length": "unknown", "crank.bore_diameter": "read"}
