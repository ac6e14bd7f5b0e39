"""Drawings: one model in millimetres, one layout, three renderings (SVG, picture, characters)."""
