"""Tests of common meetings."""
