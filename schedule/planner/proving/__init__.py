"""Whole days as columns: bounds and proofs."""
