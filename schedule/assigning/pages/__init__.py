"""Pages of who serves whom."""
