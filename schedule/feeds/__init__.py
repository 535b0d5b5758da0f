"""Calendar feeds: what stands in each, what changed since, and the bytes of it."""
