"""Pages of weeks."""
