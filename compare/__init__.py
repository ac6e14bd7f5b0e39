"""Gearbox swap feasibility comparer: candidates against a car, before any money is spent."""

from __future__ import annotations

from typing import Any

__version__ = "0.1.0"
__all__ = ["__version__", "compare", "load_car", "load_catalogue", "load_parts"]


def __getattr__(name: str) -> Any:
    # Heavy packages are imported only when a script really asks for the work.
    if name in __all__:
        from compare.answer import compare as answer
        from compare.read import car, catalogue

        return {
            "compare": answer.compare,
            "load_car": car.load_car,
            "load_catalogue": catalogue.load_catalogue,
            "load_parts": catalogue.load_parts,
        }[name]
    raise AttributeError(f"module 'compare' has no attribute {name!r}")
