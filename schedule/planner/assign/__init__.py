"""Who serves whom, before the year: buildings, classes and students to a district's teachers."""
