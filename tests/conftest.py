"""What several tests share: the demo, read and judged once; commands run in this process; which tests are quick."""

from __future__ import annotations

import contextlib
import io
import os
import pickle
import shutil
import sys
from pathlib import Path
from types import SimpleNamespace

import pytest

ROOT = Path(__file__).resolve().parent.parent
sys.path.insert(0, str(ROOT / "tests"))
CATALOGS = ROOT / "catalogs"


@pytest.fixture(scope="session")
def demo_files():
    return CATALOGS / "demo.csv", CATALOGS / "pellow-van.toml", CATALOGS / "demo-parts.csv"


@pytest.fixture(scope="session")
def demo(demo_files):
    from compare.answer.compare import compare
    from compare.read.car import load_car
    from compare.read.catalogue import load_catalogue, load_parts

    catalogue, car, parts = demo_files
    return compare(load_catalogue(catalogue), load_car(car), load_parts(parts), draws=512, seed=1)


@pytest.fixture(scope="session")
def demo_report(demo):
    from compare.answer.report import make_report

    return make_report(demo)


@pytest.fixture(scope="session")
def judged_once():
    """Within it, what was asked before is not worked out again: the same files, options, draws give the same answer.

    Only the sums are remembered (compare, first_page, in_depth); files are read and pages written each time.
    """
    from compare.answer import compare as comparing
    from compare.answer import complete

    remembered: dict[object, object] = {}

    def once(function, key_of):
        def asked(*given, **options):
            key = (function.__name__, key_of(*given, **options))
            if key not in remembered:
                remembered[key] = function(*given, **options)
            return remembered[key]

        return asked

    def by_content(*given, progress=None, **options):
        return pickle.dumps((given, sorted(options.items())))

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(comparing, "compare", once(comparing.compare, by_content))
        for name in ("first_page", "in_depth"):
            # An Assessment is remembered as long as its pages are, so its id is its own.
            patch.setattr(complete, name, once(getattr(complete, name), lambda a, top=0: (id(a), top)))
        yield


def run_here(*words, width=None, encoding="utf-8", cwd=ROOT, **environment):
    """One command in this process, with streams, folder and environment of its own: (returncode, stdout, stderr)."""
    from compare.cli import common, main

    streams = [io.TextIOWrapper(io.BytesIO(), encoding=encoding, write_through=True) for _ in range(2)]
    with pytest.MonkeyPatch.context() as patch, contextlib.chdir(cwd):
        for name in ("COLUMNS", "NO_COLOR"):
            patch.delenv(name, raising=False)
        for name, value in (environment | ({"COLUMNS": str(width)} if width else {})).items():
            patch.setenv(name, value)
        patch.setattr(sys, "argv", ["gearbox-compare", *words])
        patch.setattr(sys, "stdout", streams[0])
        patch.setattr(sys, "stderr", streams[1])
        patch.setattr(common, "finished", [])
        try:
            code = main(list(words))
        except SystemExit as stopped:
            code = stopped.code or 0
    printed = [stream.buffer.getvalue().decode(encoding) for stream in streams]
    return SimpleNamespace(returncode=code, stdout=printed[0], stderr=printed[1])


@pytest.fixture
def soffice():
    """The path of LibreOffice; CI requires it, elsewhere the test says why it is left out."""
    found = shutil.which("soffice")
    if found is None:
        if os.environ.get("LIBREOFFICE_REQUIRED"):
            pytest.fail("LibreOffice is required here and soffice is not on the path")
        pytest.skip("soffice is not on the path: install LibreOffice Calc to run this test")
    return found
