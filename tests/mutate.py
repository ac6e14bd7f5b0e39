"""Faults put in on purpose: what the tests of a room do not notice is a survivor.

    python tests/mutate.py topics               every fault in a room (topics, judge, cells): hours
    python tests/mutate.py topics pilot hub     in some of its files
    python tests/mutate.py --commit             some that were killed before, of one room, both by the commit; for CI
    --sample 50 --minutes 10 --seed 2           so many faults, in random order; stop after so long
    --again FILE                                those that --out wrote there
    --keep                                      write what was killed into tests/killed.txt

One fault at a time, in memory: the tests of the room are collected once, then a copy of the process (fork) puts a
fault into the functions at hand and runs the tests that reach them, quickest first, until one fails. A fault outside
functions (a limit, a table) is put in before the first import. Survivors stand in tests/survivors.txt: `equivalent`
with the reason why nothing could notice them, or `open` while no test does; any other makes the exit code 1. CI tries
faults of tests/killed.txt again: one that survives now has lost the test that noticed it.

Not made: `<` for `<=` (sums of measured lengths do not stand on the edge), faults in texts, docstrings, annotations.
"""

from __future__ import annotations

import argparse
import ast
import contextlib
import copy
import gc
import importlib.machinery
import json
import os
import random
import signal
import subprocess
import sys
import time
import types
import zlib
from collections import Counter, defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

os.environ.update(OMP_NUM_THREADS="1", OPENBLAS_NUM_THREADS="1", PYTHONDONTWRITEBYTECODE="1")
import pytest

ROOT = Path(__file__).resolve().parent.parent
KEPT = ROOT / "tests" / "survivors.txt"
KILLED = ROOT / "tests" / "killed.txt"
SHARED = ("limits", "topics_by_hand", "judge_by_hand", "built_by_hand", "demo_by_hand", "seat", "outcomes")
# Room -> its files, and the tests that hold it, beside its own doctests.
ROOMS = {
    "topics": (
        sorted(p.stem for p in (ROOT / "compare" / "topics").glob("*.py") if p.stem not in ("__init__", "views")),
        (*SHARED, "driveline", "release", "hub", "pilot", "seat_topics", "gearing_and_road_load", "speedometer",
         "splines_and_fits", "orders"),
    ),
    "judge": (
        sorted(p.stem for p in (ROOT / "compare" / "judge").glob("*.py") if p.stem != "__init__"),
        (*SHARED, "rules_and_rooms", "doubt", "plan", "deciding"),
    ),
    "cells": (
        ["cells", "measures", "numbers", "ratios"],
        ("cells_by_hand", "units_and_cells", "readers", "broken_files", "lossless"),
    ),
}  # fmt: skip
FOLDER = {"topics": "topics", "judge": "judge", "cells": "read"}
# A test that takes longer is not run on a fault, nor all tests of a fault together for longer [s of this process].
LONGEST, TOGETHER = 1.0, 4.0


# ---- faults -----------------------------------------------------------------------------------------

FLIPPED = {
    ast.Lt: ast.GtE, ast.LtE: ast.Gt, ast.Gt: ast.LtE, ast.GtE: ast.Lt, ast.Eq: ast.NotEq, ast.NotEq: ast.Eq,
    ast.Is: ast.IsNot, ast.IsNot: ast.Is, ast.In: ast.NotIn, ast.NotIn: ast.In,
}  # fmt: skip
SWAPPED_OPERATOR = {ast.Add: ast.Sub, ast.Sub: ast.Add, ast.Mult: ast.Div, ast.Div: ast.Mult, ast.BitAnd: ast.BitOr, ast.BitOr: ast.BitAnd}
PAIRS = [
    ("minimum", "maximum"), ("fmin", "fmax"), ("min", "max"), ("nanmin", "nanmax"), ("argmin", "argmax"), ("any", "all"),
    ("floor", "ceil"), ("sin", "cos"), ("deg2rad", "rad2deg"), ("AtLeast", "AtMost"),
]  # fmt: skip
SWAPPED_NAME = {a: b for pair in PAIRS for a, b in (pair, pair[::-1])}
SIDES = [("left", "right"), ("front", "rear"), ("start", "end"), ("least", "most"), ("low", "high"), ("top", "bottom"), ("near", "far")]


@dataclass(frozen=True)
class Fault:
    """One change: the node `at` (its number in a walk of the file) becomes `after`."""

    file: str
    function: str
    inside: tuple[str, int] | None
    at: int
    variant: int
    line: int
    words: str

    @property
    def key(self) -> str:
        return f"{self.file} | {self.function} | {self.words}"


def other_side(name: str) -> str | None:
    """The name of the other side: `opening_left` and `opening_right`."""
    parts = name.split("_")
    for pair in SIDES:
        for a, b in (pair, pair[::-1]):
            if a in parts:
                return "_".join(b if p == a else p for p in parts)
    return None


def changes(node: ast.AST, names: set[str]) -> Iterator[ast.AST]:
    """What a node may become; `names` are those that the function knows."""
    if isinstance(node, ast.Compare):
        yield ast.Compare(node.left, [FLIPPED[type(node.ops[0])](), *node.ops[1:]], node.comparators)
    elif isinstance(node, ast.BinOp) and type(node.op) in SWAPPED_OPERATOR:
        if not any(isinstance(x, ast.Constant | ast.JoinedStr) and not isinstance(getattr(x, "value", 0), int | float) for x in (node.left, node.right)):
            yield ast.BinOp(node.left, SWAPPED_OPERATOR[type(node.op)](), node.right)
            if isinstance(node.op, ast.Add | ast.Sub):
                yield node.left
    elif isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.Not | ast.Invert | ast.USub):
        yield node.operand
    elif isinstance(node, ast.BoolOp):
        yield ast.BoolOp(ast.And() if isinstance(node.op, ast.Or) else ast.Or(), node.values)
    elif isinstance(node, ast.Constant) and type(node.value) in (int, float) and node.value not in (0, 0.0):
        yield ast.Constant(node.value + 1 if type(node.value) is int else node.value * 1.25)
    elif isinstance(node, ast.Attribute) and node.attr in SWAPPED_NAME and isinstance(node.ctx, ast.Load):
        yield ast.Attribute(node.value, SWAPPED_NAME[node.attr], node.ctx)
    elif isinstance(node, ast.Name) and isinstance(node.ctx, ast.Load):
        if node.id in SWAPPED_NAME:
            yield ast.Name(SWAPPED_NAME[node.id], node.ctx)
        elif (other := other_side(node.id)) in names:
            yield ast.Name(other, node.ctx)
    elif isinstance(node, ast.IfExp):
        yield ast.IfExp(node.test, node.orelse, node.body)
    elif isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute) and node.func.attr == "where" and len(node.args) == 3:
        yield ast.Call(node.func, [node.args[0], node.args[2], node.args[1]], node.keywords)
    elif isinstance(node, ast.If) and not isinstance(node.test, ast.Compare):
        yield ast.If(ast.UnaryOp(ast.Not(), node.test), node.body, node.orelse)
    if isinstance(node, ast.If) and isinstance(node.body[-1], ast.Return | ast.Raise | ast.Continue) and not node.orelse:
        yield ast.If(ast.Constant(False), node.body, [])


def walk(tree: ast.Module) -> Iterator[tuple[ast.AST, str, tuple[str, int] | None, set[str]]]:
    """Every node that may be changed, with its function's name, the function whose code holds it, the names known."""

    def visit(node, name, inside, names):
        if isinstance(node, ast.FunctionDef | ast.ClassDef | ast.Module) and ast.get_docstring(node) is not None:
            skipped = {id(node.body[0])}
        else:
            skipped = set()
        if isinstance(node, ast.FunctionDef):
            for part in (*node.decorator_list, *node.args.defaults, *(d for d in node.args.kw_defaults if d)):
                yield from visit(part, f"{name}.{node.name}" if name else node.name, inside, names)
            inner = f"{name}.{node.name}" if name else node.name
            known = names | {a.arg for a in (*node.args.args, *node.args.kwonlyargs)}
            known |= {n.id for n in ast.walk(node) if isinstance(n, ast.Name) and isinstance(n.ctx, ast.Store)}
            line = min([node.lineno, *(d.lineno for d in node.decorator_list)])
            for part in node.body:
                if id(part) not in skipped:
                    yield from visit(part, inner, inside or (node.name, line), known)
            return
        yield node, name, inside, names
        if isinstance(node, ast.ClassDef):
            name = f"{name}.{node.name}" if name else node.name
        for field, value in ast.iter_fields(node):
            if field in ("annotation", "returns"):
                continue
            if isinstance(node, ast.AnnAssign) and field == "target":
                continue
            for child in value if isinstance(value, list) else [value]:
                if isinstance(child, ast.AST) and id(child) not in skipped and not isinstance(child, ast.JoinedStr):
                    yield from visit(child, name, inside, names)

    yield from visit(tree, "", None, set())


def short(node: ast.AST) -> str:
    text = " ".join(ast.unparse(node.test if isinstance(node, ast.If) else node).split())
    return f"if {text}" if isinstance(node, ast.If) else text


def faults(path: Path) -> list[Fault]:
    """All faults of a file, each with a key that survives changes elsewhere in it."""
    found: list[Fault] = []
    seen: Counter[str] = Counter()
    name = str(path.relative_to(ROOT))
    parents: dict[int, ast.AST] = {}
    tree = ast.parse(path.read_text(encoding="utf-8"))
    for node in ast.walk(tree):
        for child in ast.iter_child_nodes(node):
            parents[id(child)] = node
    for at, (node, function, inside, names) in enumerate(walk(tree)):
        for variant, after in enumerate(changes(node, names)):
            # A bare constant or name says little: the expression around it is shown.
            before, now = short(node), short(after)
            if isinstance(node, ast.Constant | ast.Name):
                before = f"{before} of {short(parents[id(node)])[:70]}" if not isinstance(parents[id(node)], ast.stmt) else before
            words = f"{before[:110]} => {now[:110]}"
            seen[f"{function}|{words}"] += 1
            if (count := seen[f"{function}|{words}"]) > 1:
                words += f" ({count})"
            found.append(Fault(name, function or "the file", inside, at, variant, getattr(node, "lineno", 0), words))
    return found


def with_fault(fault: Fault) -> ast.Module:
    """The file's tree with the fault in it."""
    tree = ast.parse((ROOT / fault.file).read_text(encoding="utf-8"))
    for at, (node, _, _, names) in enumerate(walk(tree)):
        if at == fault.at:
            after = list(changes(node, names))[fault.variant]
            after = copy.deepcopy(after)
            for new in ast.walk(after):
                ast.copy_location(new, node) if not hasattr(new, "lineno") and isinstance(new, ast.expr | ast.stmt) else None
            for parent in ast.walk(tree):
                for field, value in ast.iter_fields(parent):
                    if value is node:
                        setattr(parent, field, after)
                    elif isinstance(value, list) and any(v is node for v in value):
                        value[next(i for i, v in enumerate(value) if v is node)] = after
            return ast.fix_missing_locations(tree)
    raise LookupError(fault.key)


def codes(code: types.CodeType) -> Iterator[types.CodeType]:
    for part in code.co_consts:
        if isinstance(part, types.CodeType):
            yield part
            yield from codes(part)


def put_in(fault: Fault) -> None:
    """The fault into the functions that are already there."""
    path = str(ROOT / fault.file)
    new = {(c.co_qualname, c.co_firstlineno): c for c in codes(compile(with_fault(fault), path, "exec", dont_inherit=True))}
    for thing in gc.get_objects():
        if type(thing) is types.FunctionType and thing.__code__.co_filename == path:
            code = new.get((thing.__code__.co_qualname, thing.__code__.co_firstlineno))
            if code is not None and code != thing.__code__ and code.co_freevars == thing.__code__.co_freevars:
                thing.__code__ = code


def before_import(fault: Fault) -> None:
    """The fault into a file that is not yet imported."""
    path, real = str(ROOT / fault.file), importlib.machinery.SourceFileLoader.get_code

    def get_code(self, name):
        if self.path == path:
            return compile(with_fault(fault), path, "exec", dont_inherit=True)
        return real(self, name)

    importlib.machinery.SourceFileLoader.get_code = get_code


# ---- running ----------------------------------------------------------------------------------------


def in_a_copy(work, seconds: float) -> str:
    """`killed`, `survived` or `unreached`, as a copy of this process finds it; out of time is killed."""
    child = os.fork()
    if not child:
        signal.signal(signal.SIGALRM, signal.SIG_DFL)
        signal.alarm(int(seconds))
        with contextlib.suppress(BaseException):
            null = os.open(os.devnull, os.O_RDWR)
            for stream in (0, 1, 2):
                os.dup2(null, stream)
            os._exit(work())
        os._exit(1)
    _, status = os.waitpid(child, 0)
    return {0: "survived", 3: "unreached"}.get(os.waitstatus_to_exitcode(status), "killed")


class Failed(Exception):
    pass


class Runner:
    """Collects the tests of a room once, learns what each reaches, then runs faults."""

    def __init__(self, todo: list[Fault], minutes: float, learnt: Path | None):
        self.todo, self.minutes, self.learnt, self.found = todo, minutes, learnt, {}
        self.outside: list[Fault] = []

    def pytest_runtest_logreport(self, report):
        if report.failed:
            raise Failed(report.nodeid)

    def pytest_runtestloop(self, session):
        start = time.monotonic()
        reach, seconds = self.learn(session)
        print(f"{len(seconds)} tests, {sum(s <= LONGEST for s in seconds)} of them quick enough, learned in {time.monotonic() - start:.0f} s", file=sys.stderr, flush=True)
        until = time.monotonic() + self.minutes * 60
        for number, fault in enumerate(self.todo):
            if time.monotonic() > until:
                break
            tests = reach.get((str(ROOT / fault.file), fault.inside[1]), []) if fault.inside else []
            if not tests:
                self.outside.append(fault)
                continue
            tests = sorted(tests, key=lambda at: seconds[at])
            self.found[fault] = in_a_copy(lambda f=fault, t=tests: self.one(session, f, t, seconds), 10 * TOGETHER)
            report(number, len(self.todo), fault, self.found[fault])
        return True

    def one(self, session, fault, tests, seconds) -> int:
        put_in(fault)
        spent = time.process_time()
        for here, at in enumerate(tests):
            if time.process_time() - spent > TOGETHER:
                break
            following = session.items[tests[here + 1]] if here + 1 < len(tests) else None
            session.config.hook.pytest_runtest_protocol(item=session.items[at], nextitem=following)
        return 0

    def learn(self, session):
        """Per function (file, line): the numbers of the tests that reach it; and how long each test takes."""
        rows = json.loads(self.learnt.read_text(encoding="utf-8")) if self.learnt and self.learnt.exists() else []
        known = {row["test"] for row in rows}
        items = [item for item in session.items if item.nodeid not in known]
        read, write = os.pipe()
        child = os.fork()
        if not child:
            with contextlib.suppress(BaseException):
                os.close(read)
                found = learned(session, items)
                with os.fdopen(write, "w") as stream:
                    json.dump(found, stream)
                os._exit(0)
            os._exit(1)
        os.close(write)
        with os.fdopen(read) as stream:
            text = stream.read()
        os.waitpid(child, 0)
        if not text:
            raise SystemExit("the tests fail without any fault: run them first")
        rows += json.loads(text)
        if self.learnt:
            self.learnt.write_text(json.dumps(rows), encoding="utf-8")
        return reached(rows, session)


def reached(rows, session):
    """Turned round: per function the numbers of its tests as they stand in this session; and the seconds of each."""
    known = {row["test"]: row for row in rows}
    mine = [known.get(item.nodeid, {"seconds": 0.0, "reached": []}) for item in session.items]
    found = defaultdict(list)
    for at, row in enumerate(mine):
        if row["seconds"] <= LONGEST:
            for file, line in row["reached"]:
                found[file, line].append(at)
    return found, [row["seconds"] for row in mine]


def learned(session, items):
    """Each test's time and the functions of the product that it reaches, shared fixtures included."""
    reached: set[tuple[str, int]] = set()
    of_fixture: dict[object, set] = {}
    inside = str(ROOT / "compare")

    def trace(frame, event, argument):
        if frame.f_code.co_filename.startswith(inside):
            reached.add((frame.f_code.co_filename, frame.f_code.co_firstlineno))

    class Watch:
        @pytest.hookimpl(hookwrapper=True)
        def pytest_fixture_setup(self, fixturedef, request):
            outer = set(reached)
            reached.clear()
            yield
            of_fixture[fixturedef.argname, str(fixturedef.baseid)] = set(reached)
            reached.update(outer)

    session.config.pluginmanager.register(Watch())
    rows = []
    for at, item in enumerate(items):
        reached.clear()
        following = items[at + 1] if at + 1 < len(items) else None
        start = time.process_time()
        sys.settrace(trace)
        session.config.hook.pytest_runtest_protocol(item=item, nextitem=following)
        sys.settrace(None)
        mine = set(reached)
        for name in getattr(item, "fixturenames", ()):
            for (of, _), what in of_fixture.items():
                if of == name:
                    mine |= what
        rows.append({"test": item.nodeid, "seconds": time.process_time() - start, "reached": sorted(mine)})
    return rows


def report(number, count, fault, outcome):
    if outcome != "killed":
        print(f"{number + 1}/{count} {outcome}: {fault.key}  [line {fault.line}]", file=sys.stderr, flush=True)


def tests_of(room: str) -> list[str]:
    files = [f"tests/test_{name}.py" for name in ROOMS[room][1]]
    doctests = [f"compare/{FOLDER[room]}/{name}.py" for name in ROOMS[room][0]]
    return [*files, *doctests]


def run(room: str, todo: list[Fault], minutes: float, learnt: Path | None = None) -> dict[Fault, str]:
    options = ["-p", "no:cacheprovider", "-p", "no:faulthandler", "-m", "quick"]
    runner = Runner([f for f in todo if f.inside], minutes, learnt)
    read, write = os.pipe()
    child = os.fork()  # so that what follows starts without the product imported
    if not child:
        os.close(read)
        with contextlib.redirect_stdout(open(os.devnull, "w")):
            pytest.main([*options, *tests_of(room)], plugins=[runner])
        index = {f: i for i, f in enumerate(todo)}
        with os.fdopen(write, "w") as stream:
            json.dump([{index[f]: o for f, o in runner.found.items()}, [index[f] for f in runner.outside]], stream)
        os._exit(0)
    os.close(write)
    with os.fdopen(read) as stream:
        done, outside = json.loads(stream.read())
    os.waitpid(child, 0)
    found = {todo[int(i)]: outcome for i, outcome in done.items()}
    rest = [todo[i] for i in outside] + [f for f in todo if not f.inside]
    until = time.monotonic() + minutes * 60
    for number, fault in enumerate(rest):
        if time.monotonic() > until:
            break
        found[fault] = in_a_copy(lambda f=fault: whole(room, f, options), 90)
        report(number, len(rest), fault, found[fault])
    return found


def whole(room: str, fault: Fault, options: list[str]) -> int:
    """All tests of the room, collected anew with the fault in."""
    before_import(fault)
    return int(pytest.main([*options, "-x", *tests_of(room)]) != 0)


# ---- what is kept -----------------------------------------------------------------------------------


def kept() -> dict[str, str]:
    """Key -> reason, of tests/survivors.txt: a line with the key, the reason indented below."""
    found: dict[str, str] = {}
    key = ""
    for line in KEPT.read_text(encoding="utf-8").splitlines() if KEPT.exists() else []:
        if line.startswith("#") or not line.strip():
            continue
        if line.startswith(" "):
            found[key] = (found[key] + " " + line.strip()).strip()
        else:
            key = line.strip()
            found[key] = ""
    return found


def killed_before() -> set[str]:
    return set(KILLED.read_text(encoding="utf-8").splitlines()) if KILLED.exists() else set()


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("room", nargs="?", choices=ROOMS)
    parser.add_argument("files", nargs="*")
    parser.add_argument("--commit", action="store_true", help="some that were killed before, of one room, both by the commit")
    parser.add_argument("--again", type=Path, help="only the faults that --out wrote there")
    parser.add_argument("--keep", action="store_true", help="write what was killed into tests/killed.txt")
    parser.add_argument("--sample", type=int, default=0)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--minutes", type=float, default=600.0)
    parser.add_argument("--out", type=Path, help="write survivors there too")
    parser.add_argument("--learnt", type=Path, help="keep there what each test reaches, or take it from there")
    given = parser.parse_args()
    room, seed, sample, minutes = given.room, given.seed, given.sample, given.minutes
    if given.commit:
        head = subprocess.run(["git", "rev-parse", "HEAD"], cwd=ROOT, capture_output=True, text=True, check=False).stdout
        seed = zlib.crc32(head.encode())
        rooms = [r for r in sorted(ROOMS) if any(key.startswith(f"compare/{FOLDER[r]}/") for key in killed_before())]
        room, sample, minutes = room or rooms[seed % len(rooms)], sample or 25, min(minutes, 2.0)
    if room is None:
        parser.error("name a room, or --commit")
    files = [f for f in ROOMS[room][0] if not given.files or f in given.files]
    todo = [f for name in files for f in faults(ROOT / "compare" / FOLDER[room] / f"{name}.py")]
    if given.commit:
        before = killed_before()
        todo = [f for f in todo if f.key in before]
    if given.again:
        todo = [f for f in todo if f.key in given.again.read_text(encoding="utf-8").splitlines()]
    random.Random(seed).shuffle(todo)  # so that what is done before the time is up is a fair sample
    todo = todo[: sample or None]
    os.chdir(ROOT)
    sys.path.insert(0, str(ROOT))
    found = run(room, todo, minutes, given.learnt)
    if todo and not found:
        print("No fault was tried: the quick tests fail without any. Run them first.")
        return 2
    if given.keep:
        alive = {f.key for f, outcome in found.items() if outcome != "killed"}
        keys = killed_before() - alive | {f.key for f, outcome in found.items() if outcome == "killed"}
        KILLED.write_text("".join(f"{key}\n" for key in sorted(keys)), encoding="utf-8")
    return told(found, kept(), given.out)


def told(found: dict[Fault, str], reasons: dict[str, str], out: Path | None) -> int:
    """The share per file, equivalents apart; the survivors that nobody has given a reason for."""
    equal = {f for f, o in found.items() if o == "survived" and reasons.get(f.key, "").startswith("equivalent")}
    new = [f for f, o in found.items() if o == "survived" and not reasons.get(f.key)]
    for file in sorted({f.file for f in found}):
        mine = [f for f in found if f.file == file and f not in equal]
        dead = sum(found[f] == "killed" for f in mine)
        print(f"{file}: {dead} of {len(mine)} killed ({100 * dead / max(len(mine), 1):.0f} %), {sum(f.file == file for f in equal)} equivalent")
    if out:
        out.write_text("".join(f"{f.key}\n    line {f.line}\n" for f in sorted(new, key=lambda f: (f.file, f.line))), encoding="utf-8")
    for fault in new:
        print(f"survived: {fault.key}  [line {fault.line}]")
    if new:
        print("Write a test that fails with the fault in; where nothing can notice it, put its line and the reason into tests/survivors.txt.")
    dead, rest = sum(o == "killed" for o in found.values()), len(found) - len(equal)
    print(f"{dead} of {rest} faults killed ({100 * dead / max(rest, 1):.0f} %), {len(equal)} equivalent, {len(new)} new survivors")
    return int(bool(new))


if __name__ == "__main__":
    sys.exit(main())
