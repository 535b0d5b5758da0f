"""The whole database in one file, taken while the program runs, and put back (docs/running.md)."""
