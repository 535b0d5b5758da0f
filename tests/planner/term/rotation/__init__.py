"""Terms with rotating days."""
