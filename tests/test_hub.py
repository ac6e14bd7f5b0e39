"""Hub: disc turned round, share on full splines, worked by hand. Lengths in mm."""

from __future__ import annotations

import numpy as np
import pytest

from compare.standards import identify_spline
from compare.topics import hub


def col(*values):
    return np.array([[v] for v in values], dtype=float)


def test_a_disc_turned_round():
    """Design, corrections: −3 to 25, T 8 → −17 to 11."""
    assert hub.turned_round(-3.0, 25.0, 8.0) == (-17.0, 11.0)


def test_turned_round_twice_it_is_as_it_was():
    assert hub.turned_round(*hub.turned_round(-3.0, 25.0, 8.0), 8.0) == (-3.0, 25.0)


def test_hub_on_the_runout_is_a_clash_even_when_the_journal_fits():
    reading = hub.hub_seat(col(20.0), col(-0.5), col(28.0), 2.0, 0.85)
    assert reading.works[0, 0] == -0.5 and reading.value[0, 0] == -0.5


@pytest.mark.parametrize(("front", "works"), [(-4.1, True), (-4.3, False)])
def test_hub_short_at_the_front_is_tight_down_to_85_percent(front, works):
    # A hub of 28 may stand 4.2 off its splines: 85 % engaged.
    assert hub.engaged_share(-4.2, 28.0) == pytest.approx(0.85)
    assert (hub.hub_seat(col(front), col(9.0), col(28.0), 2.0, 0.85).works[0, 0] >= 0) == works


def test_wear_moves_a_hub_by_half_of_the_linings_wear():
    """Workshop manual (printed): 9.2 mm new, 8.0 to 7.8 worn: 1.2 to 1.4 of wear; the demo's 1.5
    is the most.
    """
    front = hub.hub_front_worn(col(22.0), col(-3.0), col(0.7))
    assert front[0, 0] == pytest.approx(18.3)


@pytest.mark.parametrize(
    ("teeth", "diameter", "form"),
    [
        (10, 25.4, "J499"), (10, 28.575, "J499"), (26, 28.575, "B92"), (8, 65.0, "8×56×65"), (10, 125.0, "10×112×125"),
        (18, 24.75, "W 25 × 1.25 × 18"), (14, 19.75, "W 20 × 1.25 × 14"), (14, 29.6, "W 30 × 2 × 14"),
    ],
)  # fmt: skip
def test_the_hubs_that_are_sold_are_named(teeth, diameter, form):
    """SAE J499, ANSI B92.1, ISO 14 (RoyMech; 8×56×65, where the table misprints 66), DIN 5480 tips
    (two seen).
    """
    assert any(form in name for name in identify_spline(teeth, diameter))


def test_an_unknown_disc_is_not_turned():
    blank = col(np.nan)
    options = hub.disc_round(col(24.0), col(-3.0), col(25.0), blank, col(26.0), col(6.0), col(1.0), col(1.0), col(26.0),
                             col(66.0), col(3.0), 0.85, 1.0, 1.0)  # fmt: skip
    assert np.isnan(options.works[0, 0, 1]) and options.works[0, 0, 0] < 0
