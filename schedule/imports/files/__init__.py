"""Files to plain grids of text and rows, and rows back to files."""
