"""Tests of timetables found by what all weeks cost."""
