"""A district's own tables: what they look like, how they are read, checked, written and taken back."""
