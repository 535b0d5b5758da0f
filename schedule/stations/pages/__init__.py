"""Pages of stations and of who is where."""
