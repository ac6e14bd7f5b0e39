"""Papers to take along: one self-contained HTML file per candidate, and the measuring guide."""
