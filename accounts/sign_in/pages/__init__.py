"""Pages of signing in: the way in, passwords, what one signs in with, and the district's rules about it."""
