"""Pages of routines, of their parts, and of class hours."""
