"""Comparing with a published figure: the tolerance is the last digit that was printed."""

from __future__ import annotations

import pytest


def printed(digits: str):
    """A figure as printed: `printed("12.65")` equals anything within half of its last digit."""
    bare = digits.lstrip("+-").replace(",", "")
    decimals = len(bare.partition(".")[2])
    return pytest.approx(float(digits.replace(",", "")), abs=0.5 * 10.0**-decimals + 1e-12)


def within(value: float, tolerance: float):
    """A figure whose source states its own tolerance."""
    return pytest.approx(value, abs=tolerance)
