"""A folder that remembers: each change of an input is named, and every label, seat, cut and cost that followed."""

from __future__ import annotations

import json
import os
import random
import shutil
from dataclasses import replace
from pathlib import Path

import pytest

from compare.answer.changes import NO_EFFECT, NOTHING, changes_between, input_rows
from compare.answer.compare import compare
from compare.answer.log import decision_units, read_log
from compare.answer.report import KEEP, make_report
from compare.cli import main
from compare.figures import figure
from compare.filling import set_cells, set_keys
from compare.read.car import load_car
from compare.read.catalogue import load_catalogue, load_parts
from compare.read.measured import append
from compare.read.sheet import has_rows
from compare.report.as_json import document

CATALOGS = Path(__file__).resolve().parent.parent / "catalogs"
NAMES = ("Tarn 5A", "Tarn 5B short tail", "Garth 5", "Hawes 5", "Cotter 5", "Keld 5")
# How many random changes: PROOFS=50 for the whole proof.
CHANGES = int(os.environ.get("PROOFS", "10"))
CELLS = {
    "price": (200, 900), "length": (560, 760), "shaft_stickout": (150, 180), "spline_end": (60, 95),
    "pilot_diameter": (12, 18), "mount_position": (520, 700), "mount_tilt": (-6, 12), "case_bottom": (90, 140),
    "torque_rating": (80, 300), "mount_drop": (80, 120), "bellhousing_depth": (150, 185), "ratio_5": (0.7, 0.95),
}  # fmt: skip
KEYS = {
    ("axle", "ratio"): (3.5, 5.2), ("cruise", "speed"): (80, 120), ("crossmember", "top"): (90, 135),
    ("crank", "bore_depth"): (25, 45), ("engine_mounts", "shift_slotted"): (0, 25), ("mount", "tilt"): (-4, 4),
    ("policy", "budget"): (600, 3000), ("workshop", "rate"): (0, 40), ("driveshaft", "pinion_x"): (1900, 2200),
    ("clutch", "hub_rear"): (18, 32), ("crank", "bush_bore"): (12.2, 15),
}  # fmt: skip


def folder(place: Path) -> Path:
    lines = (CATALOGS / "demo.csv").read_text(encoding="utf-8").splitlines()
    kept = [line for line in lines if line.startswith(("name,", *(f"{n}," for n in NAMES)))]
    (place / "catalogue.csv").write_text("\n".join(kept) + "\n", encoding="utf-8")
    shutil.copy(CATALOGS / "pellow-van.toml", place / "car.toml")
    shutil.copy(CATALOGS / "demo-parts.csv", place / "parts.csv")
    return place


def judged(place: Path, seed: int = 1) -> dict:
    log = place / "measured.csv"
    a = compare(
        load_catalogue(place / "catalogue.csv"), load_car(place / "car.toml"), load_parts(place / "parts.csv"),
        draws=64, seed=seed, measured=read_log(str(log)) if has_rows(log) else (),
    )  # fmt: skip
    return document(replace(make_report(a), extra={"inputs": input_rows(a)}))


def changed(place: Path, rng: random.Random) -> list[str]:
    """Change one input; what its sentence must hold."""
    kind = rng.choice(("cell", "cell", "key", "key", "log", "price", "status", "part"))
    name = rng.choice(NAMES)
    number = lambda low, high: f"{rng.uniform(low, high):.2f}"
    if kind in ("cell", "price"):
        column = "price" if kind == "price" else rng.choice(sorted(CELLS))
        text = number(*CELLS[column])
        was = load_catalogue(place / "catalogue.csv")
        heads = [h.split(" [")[0] for h in was.head]
        old = was.rows[was.names.index(name)][heads.index(column)].strip()
        set_cells(place / "catalogue.csv", name, {column: text}, keep=False)
        return [name, f"{column} {old or 'not given'} → {text}"]
    if kind == "key":
        section, key = rng.choice(sorted(KEYS))
        text = number(*KEYS[section, key])
        old = next((t for s, k, t in load_car(place / "car.toml").shown if (s, k) == (section, key)), "not given")
        set_keys(place / "car.toml", {(section, key): text}, keep=False)
        shown = str(float(text))
        return ["car", f"{section}.{key} {old} → {shown}" if shown != old else ""]
    if kind == "log":
        text = number(*CELLS["length"])
        append(place / "measured.csv", [{"of": name, "dimension": "length", "value": text, "by": "Ann"}], decision_units())
        return ["Log: ", f"{name} length = {text}", "by Ann"]
    if kind == "status":
        set_cells(place / "catalogue.csv", name, {"status": "sold"}, keep=False)
        return [name, "status not given → sold"]
    path = place / "parts.csv"
    parts = load_parts(path)
    heads, price = parts.head, number(20, 300)
    old = parts.rows[0][heads.index("price")].strip()
    text = path.read_text(encoding="utf-8")
    line = next(row for row in text.splitlines() if row.startswith(parts.names[0]))
    cells = line.split(",")
    cells[heads.index("price")] = price
    path.write_text(text.replace(line, ",".join(cells)), encoding="utf-8")
    return [parts.names[0], f"price {old} → {price}"]


def must_be_told(old: dict, new: dict) -> list[tuple[str, str]]:
    """(name, words) of every change of label, cost, cut and seat, from the two reports."""
    found = []
    before = {r["candidate"]: r for r in old["ranking"]}
    seats = [{r["candidate"]: r for r in report["seats"]} for report in (old, new)]
    for row in new["ranking"]:
        name, was = row["candidate"], before.get(row["candidate"])
        if was is None or name == KEEP:
            continue
        if was["outcome"] != row["outcome"]:
            found.append((name, f"{was['outcome']} → {row['outcome']}"))
        if was["cost"] is not None and abs(was["cost"] - row["cost"]) >= 0.5:
            found.append((name, f"cost {was['cost']:.0f} → {row['cost']:.0f}"))
        if abs(was["cut_mm"] - row["cut_mm"]) >= 0.05:
            found.append((name, f"→ {row['undo']} {figure(row['cut_mm'], 'mm')}" if row["cut_mm"] else "→ nothing"))
        for key, word in (("planned_adapter_thickness_mm", "plate"), ("planned_engine_shift_mm", "engine forward")):
            a, b = (one[name][key] for one in seats)
            if a is not None and b is not None and abs(a - b) >= 0.05:
                found.append((name, f"seat: {word} {figure(a, 'mm')} → {figure(b, 'mm')}"))
    return found


@pytest.fixture(scope="module")
def first(tmp_path_factory):
    place = folder(tmp_path_factory.mktemp("first"))
    return place, judged(place)


@pytest.mark.parametrize("number", range(CHANGES))
def test_a_random_change_is_named_with_all_that_follows(first, tmp_path, number):
    place, old = first
    shutil.copytree(place, tmp_path, dirs_exist_ok=True)
    rng = random.Random(number)
    wanted = [changed(tmp_path, rng) for _ in range(rng.choice((1, 2)))]
    new = judged(tmp_path)
    lines = changes_between(old, new)
    last = {tuple(w[:1]) + (w[1].split(" ")[0],): w for w in wanted}  # a cell that was changed twice counts once
    for words in last.values():
        start = words[1].rpartition(" → ")[2]
        assert any(all(w in line for w in (words[0], start)) for line in lines), (words, lines)
        if len(last) == len(wanted):
            assert any(all(w in line for w in words) for line in lines), (words, lines)
    for name, words in must_be_told(old, new):
        assert any(line.startswith(f"{name}: ") and words in line for line in lines), (name, words, lines)
    assert NOTHING not in lines


def test_another_seed_is_nothing(first):
    place, old = first
    assert changes_between(old, judged(place, seed=7)) == [NOTHING]


def test_a_sold_candidate_is_one_line(first, tmp_path):
    place, old = first
    shutil.copytree(place, tmp_path, dirs_exist_ok=True)
    best = next(r["candidate"] for r in old["ranking"] if r["candidate"] != KEEP)
    assert main(["status", str(tmp_path), best, "sold"]) == 0
    assert changes_between(old, judged(tmp_path)) == [f"{best}: status not given → sold, no longer ranked."]
    assert main(["status", str(tmp_path), best, "considering"]) == 0
    assert main(["status", str(tmp_path), "no such", "sold"]) == 2


def test_a_change_of_price_is_never_nothing(first, tmp_path):
    place, old = first
    shutil.copytree(place, tmp_path, dirs_exist_ok=True)
    set_cells(tmp_path / "catalogue.csv", "Keld 5", {"notes": "kept dry"}, keep=False)
    assert changes_between(old, judged(tmp_path))[1:] == [NO_EFFECT]
    set_cells(tmp_path / "catalogue.csv", "Keld 5", {"price": "390.2"}, keep=False)
    lines = changes_between(old, judged(tmp_path))
    assert "price 390 → 390.2" in lines[0] and lines[1:] == [NO_EFFECT]


def test_a_run_in_a_folder_keeps_its_history(tmp_path, capsys):
    place = folder(tmp_path)
    words = ["rank", str(place), "--draws", "64", "--no-workbook"]
    assert main(words) == 0
    assert "First run." in (place / "history.txt").read_text(encoding="utf-8")
    assert main([*words, "--seed", "5"]) == 0
    assert "Nothing changed." in capsys.readouterr().out
    assert (place / "history.txt").read_text(encoding="utf-8").count("\n") == 2
    append(place / "measured.csv", [{"of": "Garth 5", "dimension": "torque_rating", "value": "90"}], decision_units())
    assert main(words) == 0
    said = capsys.readouterr().out
    assert "Log: Garth 5 torque_rating = 90." in said and "Garth 5: goes in with work → ruled out" in said
    assert "Garth 5: goes in with work → ruled out" in (place / "history.txt").read_text(encoding="utf-8")
    content = json.loads((place / "last-report.json").read_text(encoding="utf-8"))
    assert content["stage"]["reached"] == content["stage"]["of"] == 4
    set_cells(place / "catalogue.csv", "Garth 5", {"spline_end": "?"}, keep=False)
    set_cells(place / "catalogue.csv", "Garth 5", {"torque_rating": "170"}, keep=False)
    (place / "measured.csv").unlink()
    assert main(words) == 0
    assert "Garth 5 spline end (F)" in capsys.readouterr().out
    first = json.loads((place / "last-report.json").read_text(encoding="utf-8"))["stage"]["next"][0]
    assert (first["of"], first["dimension"], first["stage"], first["letter"]) == ("Garth 5", "spline_end", 2, "F")


def test_the_page_keeps_its_length_whatever_changed(demo_files, tmp_path, capsys, monkeypatch):
    monkeypatch.setenv("COLUMNS", "80")
    for source, name in zip(demo_files, ("catalogue.csv", "car.toml", "parts.csv"), strict=True):
        shutil.copy(source, tmp_path / name)
    assert main(["rank", str(tmp_path), "--draws", "64", "--no-workbook"]) == 0
    set_keys(tmp_path / "car.toml", {("axle", "ratio"): "4.1", ("cruise", "speed"): "110"}, keep=False)
    capsys.readouterr()
    assert main(["rank", str(tmp_path), "--draws", "64", "--no-workbook"]) == 0
    said = capsys.readouterr().out
    assert len(said.splitlines()) <= 60
    assert "car: axle.ratio 4.875 → 4.1, cruise.speed 95 → 110." in said.replace("\n  ", " ") and "more: see" in said
