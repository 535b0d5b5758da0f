"""The coming school year, made beside this one from a copy, started on its first day."""
