"""What several tests share: the demo, read and judged once."""

from __future__ import annotations

import os
import shutil
import sys
from pathlib import Path

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


@pytest.fixture
def soffice():
    """The path of LibreOffice; CI requires it, elsewhere the test says why it is left out."""
    found = shutil.which("soffice")
    if found is None:
        if os.environ.get("LIBREOFFICE_REQUIRED"):
            pytest.fail("LibreOffice is required here and soffice is not on the path")
        pytest.skip("soffice is not on the path: install LibreOffice Calc to run this test")
    return found
