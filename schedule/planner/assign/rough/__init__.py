"""The search over a rougher picture of weeks, compiled."""
