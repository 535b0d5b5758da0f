"""Mutation runs of core modules: `python -m tests.mutation` (see docs/mutants.md)."""
