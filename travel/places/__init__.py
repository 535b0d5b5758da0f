"""Buildings and spaces, where they are, and maps of them."""
