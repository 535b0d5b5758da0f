"""A district's own tables: which of their columns is which of ours, and what in them is no row. Pure."""
