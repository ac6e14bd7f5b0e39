"""The topics: one question of the trade a file; plain formulas on top, the declared rules below."""

from __future__ import annotations

from importlib import import_module
from types import ModuleType

# In the order in which reports speak of them.
NAMES = (
    "gearing", "road_load", "thickness", "pilot", "hub", "bellhousing", "engine_shift", "mount",
    "crossmember", "tunnel", "opening", "driveline", "release", "speedometer", "money", "criteria",
)  # fmt: skip


def all_topics() -> tuple[ModuleType, ...]:
    """Every topic, in the order in which reports speak of them."""
    return tuple(import_module(f"compare.topics.{name}") for name in NAMES)
