"""Every table that a district can bring, and its columns."""
