"""Named arrays (builds, draws) -> decisions, verdicts, outcome, value."""
