"""People: who signs in with which role, given passwords, and who covers whom."""
