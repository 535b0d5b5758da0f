"""A whole district as one archive, taken out while the program runs and into an empty program (docs/archive.md)."""
