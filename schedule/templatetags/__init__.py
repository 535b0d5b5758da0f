"""Template tags of the schedule floor."""
