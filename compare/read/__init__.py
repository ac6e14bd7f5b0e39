"""Files at the bench -> columns of numbers, each cell with its origin."""
