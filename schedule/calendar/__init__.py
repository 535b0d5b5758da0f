"""When schools are open and on which bells, when classes meet, and when teachers work."""
