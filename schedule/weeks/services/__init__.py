"""Writes of weeks: planning runs, drafts, publishing, questions."""
