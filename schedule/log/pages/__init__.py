"""Pages of the log and of ledgers."""
