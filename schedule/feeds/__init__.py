"""Calendar feeds: what is in each, what changed since, and the bytes of it."""
