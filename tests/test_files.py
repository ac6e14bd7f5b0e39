"""Files as they come: other countries, other encodings, hostile cells, spreadsheet workbooks."""

from __future__ import annotations

import csv
import io
import json
import re

import openpyxl
import pytest

from compare.answer.compare import compare
from compare.answer.report import KEEP, make_report
from compare.problems import InputError
from compare.read.car import load_car, read_car
from compare.read.catalogue import load_catalogue, load_parts
from compare.report.as_json import document
from compare.report.terminal import rank_report
from compare.said import fill

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
    tables = make_report(found)
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
    return f'{inches:.7f}"'


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
                out.append(f"{float(found[1]) / 25.4:.7f}")
            elif is_length(head) and choice:
                out.append(f"{float(choice[1]) / 25.4:.7f}..{float(choice[2]) / 25.4:.7f}")
            elif is_length(head) and "±" in cell:
                value, half = cell.split("±")
                out.append(f"{float(value) / 25.4:.7f} ±{float(half) / 25.4:.7f}")
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
        tables = make_report(compare(load_catalogue(path), load_car(demo_files[1]), draws=1))
        results.append(([(r["candidate"], r["outcome"]) for r in tables.ranking], [(c["candidate"], c["check"], c["value"]) for c in tables.checks]))
    same(results[0], results[1])


def test_windows_1252_with_a_half_gives_the_same_and_says_so(demo_files, tmp_path):
    rows = rows_of(demo_files[0])
    journal = rows[0].index("pilot_diameter")
    plain, old = tmp_path / "plain.csv", tmp_path / "old.csv"
    rows[1][journal] = "12.7"
    plain.write_text(written(rows), encoding="utf-8")
    rows[1][journal] = "½ in"
    old.write_bytes(written(rows).encode("cp1252"))
    assert b"\xbd" in old.read_bytes()
    same(judged(plain, demo_files), judged(old, demo_files), 1e-9)
    assert any("Windows-1252" in w for w in load_catalogue(old).warnings)


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
    tables = make_report(compare(table, load_car(demo_files[1]), draws=5))
    for color in (False, True):
        text = rank_report(tables, width=100, color=color)
        assert "[red]boo" in text and "\x1b[31mred" not in text and "\\x1b[31mred" in text and "\u202e" not in text and ":smile:" in text
        assert "\x00" not in text
    content = json.dumps(document(tables))
    assert json.loads(content)["ranking"]


def test_hostile_cells_stay_text_in_every_sheet(demo_files, tmp_path):
    from compare.report.workbook import write_workbook

    tables = make_report(compare(load_catalogue(hostile_catalogue(tmp_path)), load_car(demo_files[1]), draws=5))
    path = tmp_path / "h.xlsx"
    write_workbook(path, tables)
    book = openpyxl.load_workbook(path)
    seen = 0
    for sheet in book.worksheets:
        for row in sheet.iter_rows():
            for cell in row:
                if cell.data_type == "f":
                    assert sheet.title in ("What-if", "What-if sums"), (sheet.title, cell.coordinate, cell.value)
                    assert "HYPERLINK" not in cell.value and "SUM(1)" not in cell.value
                assert cell.data_type != "e"
                shown = sheet.sheet_state == "visible"
                if shown and isinstance(cell.value, str) and cell.value.startswith(("=HYPERLINK", "=1+1", "@SUM")):
                    assert cell.data_type == "s" and cell.quotePrefix
                    seen += 1
    assert seen > 5


def test_hostile_names_on_whole_candidates_stay_text_in_charts_comments_and_properties(demo_files, tmp_path):
    """The demo's rows under hostile names, so that layouts, orders and charts are made of them too."""
    import zipfile

    from compare.report.terminal import detail_report
    from compare.report.workbook import write_workbook

    rows = rows_of(demo_files[0])
    for row, text in zip(rows[1:], HOSTILE, strict=False):
        row[0] = text
    source = tmp_path / "whole.csv"
    source.write_text(written(rows), encoding="utf-8")
    car = read_car(demo_files[1].read_text(encoding="utf-8").replace("Pellow 15-cwt van, 1959", "=1+1 [red]van"))
    tables = make_report(compare(load_catalogue(source), car, draws=20))
    path = tmp_path / "whole.xlsx"
    write_workbook(path, tables)
    with zipfile.ZipFile(path) as archive:
        for name in (n for n in archive.namelist() if not n.startswith("xl/media/")):
            data = archive.read(name).decode("utf-8", "replace")
            assert "\x1b" not in data and "\u202e" not in data, name
            if "worksheets/sheet" in name:
                assert not re.search(r"<f>[^<]*(HYPERLINK|SUM\(1\))|<f>1\+1<", data), name
    assert "=1+1 [red]van" in openpyxl.load_workbook(path).properties.title
    for name in {r["candidate"] for r in tables.work}:
        text = detail_report(tables, name, width=90)
        assert "\x1b" not in text and "\u202e" not in text


def test_na_and_none_are_names(demo_files, tmp_path):
    table = load_catalogue(hostile_catalogue(tmp_path))
    assert {"NA", "None", "nan"} <= set(table.names)


def test_only_names_and_ratios_still_rank_and_say_what_is_missing(demo_files, tmp_path):
    path = tmp_path / "short.csv"
    path.write_text("name,ratio_1,ratio_4,ratio_5\nTall,3.5,1,0.65\nShort,3.5,1,\nGood,3.5,1,0.8\n", encoding="utf-8")
    tables = make_report(compare(load_catalogue(path), load_car(demo_files[1]), draws=10))
    assert {r["candidate"] for r in tables.ranking} == {"Good", "Tall", "Short", KEEP}
    assert next(r["candidate"] for r in tables.ranking if r["candidate"] != KEEP) == "Good"
    for row in tables.ranking:
        if row["candidate"] == KEEP:
            continue
        assert row["outcome"] == "measure first"
        assert "not known" in fill(row["why"])
    asked = {r["dimension"] for r in tables.to_measure}
    assert {"shaft_stickout", "pilot_diameter", "length", "mount_position"} <= asked


@pytest.mark.parametrize("section", ["engine", "driveshaft", "clutch", "tyre", "tunnel", "crank", "mount", "opening", "crossmember", "cruise", "axle", "speedometer", "car"])
def test_a_profile_without_a_section_still_ranks(demo, demo_files, section):
    """Missing keys make checks unmeasured, never a crash."""
    text = demo_files[1].read_text(encoding="utf-8")
    cut = re.sub(rf"(?ms)^\[{section}\]\n.*?(?=^\[|\Z)", "", text)
    assert cut != text
    found = make_report(compare(demo.builds.catalogue, read_car(cut), demo.builds.parts, draws=5))
    assert len([r for r in found.ranking if r["candidate"] != KEEP]) == len(demo.order)
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
    tables = make_report(compare(load_catalogue(path), demo.car, draws=20))
    cotter = next(r for r in tables.ranking if r["candidate"] == "Cotter 5")
    # Any likely length of the pad will do; stock has no likely range.
    assert cotter["outcome"] == ("measure first" if column == "mount_pad_stock" else "goes in with work")
    assert f"mount_tilt: {column.replace('_', ' ')}" in cotter["unmeasured"]
    level = next(r for r in tables.ranking if r["candidate"] == "Tarn 5A")
    assert level["outcome"] == "bolts in" and not level["unmeasured"]


def test_an_empty_profile_ranks_by_ratios(demo):
    found = make_report(compare(demo.builds.catalogue, read_car(""), draws=5))
    assert all(r["outcome"] == "measure first" for r in found.ranking)


@pytest.mark.parametrize("number", ["2.88", "2.8", "2.875", "2", "2.8755"])
def test_a_toml_number_has_one_decimal_point_by_its_own_rules(number):
    assert read_car(f"[car]\nfrontal_area = {number}\n").values["car_frontal_area"].nominal == float(number)


def test_reading_twice_gives_the_same_digest(demo_files):
    assert load_catalogue(demo_files[0]).digest == load_catalogue(demo_files[0]).digest
