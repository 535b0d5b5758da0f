"""Which roles people hold, and in which of them a session works."""
