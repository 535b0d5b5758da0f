"""Tests of the term's core."""
