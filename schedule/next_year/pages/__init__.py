"""Pages of the coming year."""
