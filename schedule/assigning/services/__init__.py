"""Writes of posts, questions and proposals; taking one over and back."""
