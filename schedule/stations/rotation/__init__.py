"""The pure part of a station rotation: what is asked, the exact search, what clashes, and an independent judge."""
