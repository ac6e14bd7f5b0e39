"""Money: fitting itself, opening the gearbox for a part, and all of it against what may be spent."""

from __future__ import annotations

import numpy as np

from compare.judge.rules import Ask, Limit, Own, Reading, check, decision

Array = np.ndarray

# Under what the material of a decision is counted, by what it is done to.
OTHER = "other material"
KIND_OF = {
    "car": "oil and gaskets", "gearbox": "oil and gaskets", "transport": "transport", "adapter plate": "plate",
    "clutch": "disc", "clutch slave": "slave", "clutch release": "slave", "release bearing": "release bearing",
    "crankshaft": "bushes and material", "input shaft": "bushes and material", "register ring": "bushes and material",
    "gearbox mount": "mount", "gearbox tail": "mount", "propeller shaft": "propeller shaft", "rear axle": "axle wedges",
    "speedometer": "speedometer", "speedometer drive": "speedometer",
}  # fmt: skip

BUDGET_OVER = Limit("budget_over", 15.0, "%", "practice: overspending that most budgets stand")


# Trade time on a lift is 2.8 to 4.2 h (published labour-time tables, 1986 light truck); at home
# on stands
# two to three times that (practice). Oil 1.0 to 2.5 l (practice), gaskets.
@decision(
    "Take the old gearbox out and fit the new one",
    "car",
    unit="",
    fitting=True,
    hours=8.0,
    cost=35.0,
    words="on stands, with two people; oil and gaskets",
    when="fit",
    halves={"out": "Take the old gearbox out", "fit": "Fit the new gearbox"},
)
def fitted_in() -> Ask:
    return Ask(np.ones((1, 1)))


@decision("Fetch the gearbox", "transport", unit="", fitting=True,
          words="what fetching it costs, as you state it", when="fetched")  # fmt: skip
def fetched(policy_transport: Array) -> Ask:
    return Ask(np.where(policy_transport > 0, 1.0, 0.0), cost=policy_transport)


@decision("Open the gearbox and fit the part", "gearbox", unit="", hours=4.0, cost=20.0,
          words="{parts_inside} to change inside; new gaskets")  # fmt: skip
def parts_fitted(parts_inside: Array) -> Ask:
    return Ask(np.where(parts_inside > 0, 1.0, 0.0))


@check(
    "Does it stay within your budget?",
    "",
    Own("clear within the budget, tight up to {budget_over} % above it"),
    "Gearbox, parts and work together; the work that cannot be done at home is what is forgotten.",
    kind="wish",
    words={
        "tight": "{budget} in all, a little over",
        "clash": "{budget} in all, over your {policy_budget}",
    },
)
def budget(total_cost: Array, policy_budget: Array, budget_over: float) -> Reading:
    applies = np.where(np.isinf(policy_budget), 0.0, 1.0)
    most = policy_budget * (1.0 + budget_over / 100.0)
    return Reading(total_cost, most - total_cost, policy_budget - total_cost, applies)
