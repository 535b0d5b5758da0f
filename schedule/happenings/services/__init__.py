"""The only writers of what happened, and what it would do."""
