"""Reads of posts, questions and proposals."""
