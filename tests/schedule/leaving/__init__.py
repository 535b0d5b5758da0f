"""Tests of leaves."""
