"""The district's own page, with all that may be asked of servers elsewhere."""
