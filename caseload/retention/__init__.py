"""How long which records are kept, what holds them back, and what was erased."""
