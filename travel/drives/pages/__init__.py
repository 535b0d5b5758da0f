"""Pages of drive times and of what was driven."""
