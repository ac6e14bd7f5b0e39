"""Money: what gearbox, parts and work come to, against what may be spent."""

from __future__ import annotations

import numpy as np

from compare.judge.rules import Amount, Limit, Own, Reading, check, work

Array = np.ndarray

BUDGET_OVER = Limit("budget_over", 15.0, "%", "practice: overspending that most budgets stand")


@check(
    "Does it stay within your budget?",
    "",
    Own("clear within the budget, tight up to {budget_over} % above it"),
    "Gearbox, parts and work together; the work that cannot be done at home is what is forgotten.",
    decides=False,
    words={"tight": "{budget} in all, a little over", "clash": "{budget} in all, over your {policy_budget}"},
)
def budget(total_cost: Array, policy_budget: Array, budget_over: float) -> Reading:
    applies = np.where(np.isinf(policy_budget), 0.0, 1.0)
    return Reading(total_cost, policy_budget * (1.0 + budget_over / 100.0) - total_cost, policy_budget - total_cost, applies)


@work("Open the gearbox and fit the part", "gearbox", "bolts back", hours=4.0, cost=20.0,
      words="{parts_inside} to change inside; new gaskets")  # fmt: skip
def fit_parts(parts_inside: Array) -> Amount:
    return Amount(np.where(parts_inside > 0, 1.0, 0.0), hours=4.0 + 0.0 * parts_inside)
