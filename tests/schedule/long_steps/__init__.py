"""Steps that are done in the background."""
