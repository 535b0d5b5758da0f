"""Rows of those who sign in, and of who stands in for whom."""
