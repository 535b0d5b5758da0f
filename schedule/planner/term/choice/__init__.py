"""Timetables for a term without rotations: found by what all of its weeks cost, and the better one chosen."""
