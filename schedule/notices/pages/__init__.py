"""Pages of messages and of devices."""
