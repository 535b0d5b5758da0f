"""Each sending is taken once: the idempotency key that whoever sends it made."""
