"""Tests of routines, class hours and load lists."""
