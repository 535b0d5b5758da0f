"""What would be erased, and what stays and why."""
