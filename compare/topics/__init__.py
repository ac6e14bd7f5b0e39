"""The topics: plain formulas on top of each file, the declared rules below them."""

from __future__ import annotations

from types import ModuleType


def all_topics() -> tuple[ModuleType, ...]:
    """Every topic, in the order in which reports speak of them."""
    from compare.topics import clutch, envelope, gearing, input_shaft, money, propshaft, road_load, speedometer

    return (gearing, road_load, input_shaft, envelope, propshaft, clutch, speedometer, money)
