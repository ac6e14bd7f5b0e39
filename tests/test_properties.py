"""Properties over random cars and catalogues: what must hold whatever the numbers."""

from __future__ import annotations

import itertools
import re
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from compare.answer.report import Tables
from compare.judge.engine import Engine, compare
from compare.read.car import read_car
from compare.read.catalogue import load_catalogue, load_parts
from compare.read.cells import Value

POSITIONS = ("crank_flange_position",)
QUIET = settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])


@given(shift=st.floats(-40, 60))
@QUIET
def test_moving_every_x_by_the_same_amount_changes_nothing(demo, shift):
    """Origin of x: flange, faces, mount, crossmember, tunnel, opening and pinion all moved together."""
    car = demo.car
    moved = {
        name: replace(value, nominal=value.nominal + shift)
        for name, value in car.values.items()
        if name in ("crank_flange_position", "crossmember_start", "crossmember_end", "opening_start", "opening_end", "driveshaft_pinion_x", "car_bellhousing_depth")
    }
    pairs = {k: tuple(replace(v, nominal=v.nominal + shift) for v in pair) for k, pair in car.pairs.items()}
    stations = [s | {"x": replace(s["x"], nominal=s["x"].nominal + shift)} for s in car.stations]
    other = replace(car, values=car.values | moved, pairs=pairs, stations=stations)
    table = demo.builds.catalogue
    depth = table.columns["bellhousing_depth"]
    changed = replace(table, columns=table.columns | {"bellhousing_depth": replace(depth, nominal=depth.nominal + shift)})
    one, two = (Tables(compare(t, c, demo.builds.parts, draws=1)) for t, c in ((table, car), (changed, other)))
    assert [(r["candidate"], r["outcome"], r["score"]) for r in one.ranking] == [(r["candidate"], r["outcome"], r["score"]) for r in two.ranking]
    for a, b in zip(one.checks, two.checks, strict=True):
        assert a["value"] == pytest.approx(b["value"], abs=1e-6) if a["value"] is not None else b["value"] is None


@given(seed=st.integers(0, 10_000))
@QUIET
def test_adding_a_part_never_makes_the_best_build_worse(demo, demo_files, tmp_path, seed):
    rng = np.random.default_rng(seed)
    rows = ["part,kind,fits,price,shaft_stickout,pilot_diameter,pilot_length,spline_start,spline_end,length,adapter,adapter_thickness"]
    for i in range(4):
        fits = rng.choice(demo.builds.catalogue.names)
        kind = rng.choice(["input shaft", "tail housing", "adapter plate"])
        rows.append(f"P{i},{kind},{fits},{rng.integers(10, 200)},{rng.uniform(150, 180):.2f},{rng.uniform(12, 19):.2f},{rng.uniform(18, 32):.2f},{rng.uniform(30, 45):.2f},{rng.uniform(70, 95):.2f},{rng.uniform(600, 800):.1f},bought,{rng.uniform(5, 30):.1f}")
    path = tmp_path / "p.csv"
    path.write_text("\n".join(rows) + "\n", encoding="utf-8")
    without = compare(demo.builds.catalogue, demo.car, draws=1)
    with_parts = compare(demo.builds.catalogue, demo.car, load_parts(path), draws=1)
    before = {without.builds.candidate_name(b): (without.outcome[b], -round(without.score[b], 9)) for b in without.order}
    for b in with_parts.order:
        assert (with_parts.outcome[b], -round(with_parts.score[b], 9)) <= before[with_parts.builds.candidate_name(b)]


@given(seed=st.integers(0, 10_000))
@QUIET
def test_a_stricter_policy_never_lets_more_in(demo, seed):
    """Each step of the undo scale permitted lets in at least what the step before did."""
    rng = np.random.default_rng(seed)
    values = dict(demo.car.values)
    for name in ("crossmember_top", "crossmember_start", "opening_start", "crank_bore_diameter", "lever_crank_most"):
        values[name] = Value(values[name].nominal + rng.uniform(-8, 8) if name != "lever_crank_most" else rng.uniform(0, 60), 0.0)
    going = []
    for step in range(5):
        car = replace(demo.car, values=values, choices=demo.car.choices | {"policy_deepest_cut": float(step)})
        found = compare(demo.builds.catalogue, car, draws=1)
        going.append({found.builds.candidate_name(b) for b in found.order if found.outcome[b] <= 1})
        for b in found.order:
            result = found.nominal([int(b)])
            if found.outcome[b] <= 1:
                assert result.cuts[0, 0, step + 1 :].sum() == 0 or step == 4
    for smaller, larger in itertools.pairwise(going):
        assert smaller <= larger


def test_limits_are_honoured_everywhere(demo, demo_files):
    text = demo_files[1].read_text(encoding="utf-8")
    strict = read_car(text + '\n[limits]\nend_gap_tight = "0.3 in"\nend_gap_clear = "0.4 in"\ntunnel_tight = 45\n')
    found = Tables(compare(demo.builds.catalogue, strict, demo.builds.parts, draws=5))
    row = next(c for c in found.checks if c["candidate"] == "Tarn 5A" and c["check"] == "end_gap")
    assert row["verdict"] == "clash" and row["margin"] == pytest.approx(6 - 7.62)
    assert any(w["operation"] == "Shorten the tip" and w["candidate"] == "Tarn 5A" for w in found.work)
    assert any("tunnel" in w["operation"] for w in found.work if w["candidate"] == "Tarn 5A")
    from compare.problems import InputError

    with pytest.raises(InputError, match="Did you mean end_gap_tight"):
        Engine(read_car(text + "\n[limits]\nend_gap_tihgt = 2\n"))
    with pytest.raises(InputError, match="is not a length"):
        Engine(read_car(text + '\n[limits]\nend_gap_tight = "soon"\n'))


def test_twelve_candidates_with_all_their_parts_are_no_burden(demo, tmp_path):
    """12 candidates × (5 + 1) shafts × (3 + 1) tails × (3 + 1) plates, as one run."""
    rows = ["part,kind,fits,price,shaft_stickout,length,adapter,adapter_thickness"]
    lines = ["name,family,ratio_1,ratio_4,shaft_stickout,length,bellhousing,bellhousing_depth,adapter,pilot_diameter"]
    lines += [f"C{i},F,3.5,1,163,700,own,160,none,15" for i in range(12)]
    for kind, count, cell in (("input shaft", 5, "{0},,,"), ("tail housing", 3, ",{1},,"), ("adapter plate", 3, ",,bought,{2}")):
        rows += [f"{kind} {i},{kind},F,{10 * i},{cell.format(160 + i, 690 + i, 5 + i)}" for i in range(count)]
    (tmp_path / "c.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")
    (tmp_path / "p.csv").write_text("\n".join(rows) + "\n", encoding="utf-8")
    found = compare(load_catalogue(tmp_path / "c.csv"), demo.car, load_parts(tmp_path / "p.csv"), draws=50)
    assert len(found.builds) == 12 * 6 * 4 * 4
    assert len(found.order) == 12


def test_a_free_choice_and_its_fixed_best_agree(demo, demo_files, tmp_path):
    """Fixing the plate at the thickness that was chosen changes no verdict."""
    seat = next(s for s in Tables(demo).seats if s["candidate"] == "Ravenseat 5")
    text = demo_files[0].read_text(encoding="utf-8").replace("10..36 mm", f"{seat['adapter_thickness_mm']:.4f} ±0")
    path = tmp_path / "fixed.csv"
    path.write_text(text, encoding="utf-8")
    fixed = Tables(compare(load_catalogue(path), demo.car, draws=1, only=["Ravenseat 5"]))
    free = Tables(compare(demo.builds.catalogue, demo.car, draws=1, only=["Ravenseat 5"]))
    assert [(c["check"], c["verdict"]) for c in fixed.checks] == [(c["check"], c["verdict"]) for c in free.checks]
    assert re.search(r"\d", fixed.ranking[0]["why"]) or fixed.ranking[0]["why"]
