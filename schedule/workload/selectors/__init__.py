"""Reads workloads: of the teachers on a page row by row, of a district as sums that the database makes."""
