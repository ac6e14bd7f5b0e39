"""What `add` and the measured log write:

the new row as it was asked for, everything else byte for byte as it was.

The oracles are Python's own csv module and openpyxl, which the program does not use for this.
"""

from __future__ import annotations

import csv
import io
import os
import random
import stat
import zipfile

import openpyxl
import pytest

from compare import forms
from compare.problems import InputError
from compare.read.catalogue import load_catalogue
from compare.read.measured import append, latest, load_measured

# 2,000 is the agreed number; CI takes a share of it at every run, `FILES=2000` all.
FILES = int(os.environ.get("FILES", "300"))
NAMES = [
    "Keld 5", "Löwen", 'six" case', "a;b", "a,b", "tab\there", "Ω special", "x = y", "'quoted",
    " two  spaces ", "#five", "½ box", "日本",
]  # fmt: skip
NOTES = [
    "plain", 'says "fine", maybe', "two\nlines", "semi;colon", 'ends in 6"', '6", or 7; maybe',
    "tab\tinside", "# no comment", "é", "Ω", "", "=1+1", "\u2028", "x\x0by", '"', '""', "a\r\nb",
]  # fmt: skip
VALUES = {
    "length": ["24 1/8 in", "612", "612,5", '23½"', "610 ±5", "?", "24 1/8"],
    "ratio_4": ["1", "direct", "41/11", "1,05"],
    "price": ["£1,200", "450", "free", "1.200 €"],
    "release_type": ["fork", "concentric", "frok"],
    "mark_feel": ["7", "11"],
    "shaft_stickout": ["163", "6 1/2 in"],
}


def a_csv(chance):
    """(bytes, encoding, separator, newline): a catalogue as somebody may have it."""
    encoding = chance.choice(["utf-8", "utf-8-sig", "utf-16-le", "utf-16-be", "cp1252"])
    newline, separator = chance.choice(["\n", "\r\n", "\r"]), chance.choice(",;\t")
    heads = ["name", "length [in]" if chance.random() < 0.3 else "length", "ratio_4", "notes"]
    if chance.random() < 0.3:
        heads.insert(chance.randrange(4), "year")
    lines = [f"sep={separator}"] if chance.random() < 0.2 else []
    lines += ["# kept; as, it is", ""] if chance.random() < 0.5 else []
    tail = separator * chance.choice([0, 0, 0, 2])
    lines.append(quoted(heads, separator, newline) + tail)
    for number in range(chance.randrange(5)):
        note = (
            chance.choice(NOTES)
            if encoding != "cp1252"
            else chance.choice(["plain", "two\nlines", 'six" x', "é"])
        )
        cells = {
            "name": f"G{number}",
            "length": "24 1/8 in",
            "length [in]": "24",
            "ratio_4": "1",
            "notes": note,
            "year": "1971",
        }
        lines.append(
            quoted([cells[h] for h in heads], separator, newline)
            + (tail if chance.random() < 0.5 else "")
        )
        lines += (
            [chance.choice(["# between", "", "   ", separator * 3])]
            if chance.random() < 0.3
            else []
        )
    text = newline.join(lines) + (newline if chance.random() < 0.7 else "")
    mark = {"utf-16-le": b"\xff\xfe", "utf-16-be": b"\xfe\xff"}.get(encoding, b"")
    data = mark + text.encode(encoding)
    if encoding == "cp1252":
        data += (
            (b"" if data.endswith((b"\n", b"\r")) else newline.encode())
            + b"# \x81 undefined, \xe9 defined"
            + newline.encode()
        )
    return data, encoding, separator, newline


def quoted(cells, separator, newline):
    out = io.StringIO()
    csv.writer(out, delimiter=separator, lineterminator="").writerow(
        [c.replace("\r\n", "\n").replace("\n", newline) for c in cells]
    )
    return out.getvalue()


def records(data, encoding, separator):
    codec = {"utf-16-le": "utf-16", "utf-16-be": "utf-16"}.get(encoding, encoding)
    errors = "surrogateescape" if codec == "cp1252" else "strict"
    text = data.decode(codec, errors)
    return list(csv.reader(io.StringIO(text, newline=""), delimiter=separator))


def settings(chance):
    chosen = {"ratio_4": chance.choice(VALUES["ratio_4"])}
    for column in chance.sample(sorted(VALUES), chance.randrange(4)):
        chosen[column] = chance.choice(VALUES[column])
    if chance.random() < 0.7:
        chosen["notes"] = chance.choice(NOTES)
    return chosen


def one_line(text):
    return " ".join(text.split())


def same_places(before, after, width):
    """Every old record stands where it stood; those that were made wider got empty cells only."""
    for old, new in zip(before, after, strict=False):
        assert new[: len(old)] == old or (new[:width] == old[:width])
        assert not any(c.strip() for c in new[max(len(old), width) :]) or "name" in new


@pytest.mark.parametrize("part", range(6))
def test_add_writes_what_was_asked_for_and_leaves_the_rest(tmp_path, part):
    added = refused = 0
    for number in range(part, FILES, 6):
        chance = random.Random(number)
        data, encoding, separator, newline = a_csv(chance)
        place = tmp_path / str(number)
        place.mkdir()
        path = place / "c.csv"
        path.write_bytes(data)
        path.chmod(0o640)
        target = path
        if chance.random() < 0.2:
            target = place / "link.csv"
            target.symlink_to(path)
        name, chosen = chance.choice(NAMES), settings(chance)
        before = records(data, encoding, separator)
        try:
            forms.add(str(target), name, [f"{k}={v}" for k, v in chosen.items()])
        except InputError as error:
            refused += 1
            assert all(p.found and p.fix for p in error.problems)
            assert path.read_bytes() == data and {p.name for p in place.iterdir()} <= {
                "c.csv",
                "link.csv",
            }
            continue
        added += 1
        after_bytes = path.read_bytes()
        assert (place / "c.csv.1.bak").read_bytes() == data
        assert stat.S_IMODE(path.stat().st_mode) == 0o640 and target.is_symlink() == (
            target != path
        )
        after = records(after_bytes, encoding, separator)
        head_at = next(i for i, r in enumerate(after) if r and any(c.startswith("name") for c in r))
        heads = [h.partition(" [")[0].strip() for h in after[head_at]]
        row = dict(zip(heads, after[-1], strict=False))
        assert one_line(row["name"]) == one_line(name)
        for column, value in chosen.items():
            assert one_line(row[column]) == one_line(value), (number, column)
        width = len([h for h in before[head_at] if h.strip()])
        same_places([r for r in before if r], [r for r in after if r], width)
        if all(c in [h.partition(" [")[0].strip() for h in before[head_at]] for c in chosen):
            assert after_bytes.startswith(
                data
            )  # no new column: nothing before the new row has moved
        text = after_bytes.decode(
            {"utf-16-le": "utf-16", "utf-16-be": "utf-16"}.get(encoding, encoding),
            "surrogateescape",
        )
        if (
            newline == "\r\n"
            and newline.encode(encoding if encoding != "utf-8-sig" else "utf-8") in data
        ):
            assert "\n" not in text.replace("\r\n", "")
        assert load_catalogue(path).names[-1] == name.strip()
    assert added > FILES // 30 and refused > FILES // 60


def a_book(chance, path):
    """A workbook with what people have in theirs:

    colours, notes, other sheets, formatted empty rows, formulas.
    """
    from openpyxl.comments import Comment
    from openpyxl.styles import Font, PatternFill

    book = openpyxl.Workbook()
    sheet = book.active
    sheet.title = chance.choice(["Catalogue", "Sheet1"])
    heads = ["name", "ratio_4", "length", "notes"]
    sheet.append(heads)
    sheet["A1"].comment = Comment("mine", "me")
    sheet["B1"].font = Font(bold=True)
    for number in range(chance.randrange(4)):
        sheet.append(
            [
                f"G{number}",
                1.0,
                "24 1/8 in" if chance.random() < 0.5 else 612.125,
                chance.choice(["plain", "é", "<&>", "two\nlines"]),
            ]
        )
        sheet.cell(sheet.max_row, 3).fill = PatternFill("solid", fgColor="FFEECC")
    for row in range(sheet.max_row + 1, sheet.max_row + chance.randrange(1, 6)):
        sheet.cell(row, 2).number_format = "@"
    other = book.create_sheet("Other")
    other["A1"] = "=1+1"
    book.save(path)
    return sheet.title


def values(path, title):
    return {
        c.coordinate: c.value
        for row in openpyxl.load_workbook(path)[title].iter_rows()
        for c in row
        if c.value is not None
    }


def test_add_to_a_workbook_touches_one_row_of_one_part(tmp_path):
    for number in range(max(FILES // 10, 20)):
        chance = random.Random(1000 + number)
        path = tmp_path / f"{number}.xlsx"
        title = a_book(chance, path)
        data, before = path.read_bytes(), values(path, title)
        name, chosen = chance.choice(NAMES), settings(chance)
        try:
            forms.add(str(path), name, [f"{k}={v}" for k, v in chosen.items()])
        except InputError:
            assert path.read_bytes() == data
            continue
        after = values(path, title)
        assert {k: v for k, v in after.items() if k in before} == before
        new = {k: v for k, v in after.items() if k not in before}
        assert one_line(name) in {one_line(str(v)) for v in new.values()}
        table = load_catalogue(path)
        for column, value in chosen.items():
            at = [h.partition(" [")[0] for h in table.head].index(column)
            assert one_line(table.rows[-1][at]) == one_line(value) or float(
                table.rows[-1][at]
            ) == float(value)
        with zipfile.ZipFile(io.BytesIO(data)) as old, zipfile.ZipFile(path) as now:
            differing = [n for n in old.namelist() if old.read(n) != now.read(n)]
            assert (
                len(differing) == 1 and old.namelist() == now.namelist() and "sheet" in differing[0]
            )
        book = openpyxl.load_workbook(path)
        assert (
            book[title]["A1"].comment.text == "mine"
            and book[title]["B1"].font.bold
            and book["Other"]["A1"].value == "=1+1"
        )


def test_what_the_encoding_cannot_hold_is_said_before_anything_is_written(tmp_path):
    path = tmp_path / "old.csv"
    data = "name;ratio_4;notes\nLöwen;1;x\n".encode("cp1252")
    path.write_bytes(data)
    with pytest.raises(InputError, match="cannot be written: the file is in Windows-1252"):
        forms.add(str(path), "Ω", ["ratio_4=1"])
    assert path.read_bytes() == data and [p.name for p in tmp_path.iterdir()] == ["old.csv"]


def test_backups_are_numbered_and_never_overwritten(tmp_path):
    path = tmp_path / "c.csv"
    path.write_text("name,ratio_4\nA,1\n")
    versions = [path.read_bytes()]
    for name in "BCD":
        forms.add(str(path), name, ["ratio_4=1"])
        versions.append(path.read_bytes())
    assert [(tmp_path / f"c.csv.{n}.bak").read_bytes() for n in (1, 2, 3)] == versions[:3]
    assert len(list(tmp_path.iterdir())) == 4


# ---- the measured log ----------------------------------------------------------------------------


def test_the_measured_log_grows_and_the_last_value_counts(tmp_path):
    path = tmp_path / "measured.csv"
    first = {
        "on": "2026-11-25",
        "by": "me",
        "of": "Keld 5",
        "dimension": "shaft_stickout",
        "value": "6 7/16 in",
        "with": "depth gauge",
    }
    assert append(path, [first]) is None
    kept = append(
        path,
        [
            first | {"value": "163 ±0.2", "note": "again, pulled forward"},
            {"of": "car", "dimension": "crank.bore_depth", "value": "34"},
        ],
    )
    assert kept is not None and kept.name == "measured.csv.1.bak"
    decisions = {"engine_shift": "mm", "wedge": "deg"}
    more = [
        {"of": "Keld 5", "dimension": "engine_shift", "value": "9 mm"},
        {"of": "Keld 5", "dimension": "release_type", "value": "fork"},
        {"of": "car", "dimension": "tyre.size", "value": "155R13"},
        {"of": "car", "dimension": "gearbox.length", "value": "?"},
    ]
    append(path, more, decisions)
    log = load_measured(path, decisions)
    found = latest(log.entries)
    assert len(log.entries) == 7 and len(log.readings) == 7
    assert (
        found["Keld 5", "shaft_stickout"].value.nominal,
        found["Keld 5", "shaft_stickout"].value.half,
    ) == (163, 0.2)
    assert found["Keld 5", "shaft_stickout"].line == 3 and log.entries[
        0
    ].value.nominal == pytest.approx(163.5125)
    assert found["car", "crank.bore_depth"].value.nominal == 34
    assert (
        found["Keld 5", "engine_shift"].value.nominal == 9
        and found["Keld 5", "release_type"].value == "fork"
    )
    assert (
        found["car", "tyre.size"].value == "155R13" and found["car", "gearbox.length"].value is None
    )
    assert [r["state"] for r in log.readings] == ["read"] * 6 + ["unknown"]
    before = path.read_bytes()
    for bad, words in (
        ({"of": "Keld 5", "dimension": "lenght", "value": "1"}, "Did you mean length"),
        ({"of": "Keld 5", "dimension": "length", "value": "610?"}, "question mark"),
        ({"of": "", "dimension": "length", "value": "610"}, "of what"),
        ({"of": "car", "dimension": "tunnel.stations", "value": "1"}, "one cell"),
        ({"whose": "x"}, "no column"),
    ):
        with pytest.raises(InputError, match=words):
            append(path, [bad], decisions)
    assert path.read_bytes() == before
