"""Pages of imports."""
