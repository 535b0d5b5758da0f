"""Pages of goals and their data."""
