"""A whole district out of one database and into another."""
