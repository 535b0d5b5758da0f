"""Tests of the coming year."""
