"""What a person asks: comparison, windows, what to measure, what changed."""
