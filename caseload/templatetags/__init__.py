"""Template tags of the caseload."""
