"""Several teachers' weeks planned together, where they share students, classes or spaces."""
