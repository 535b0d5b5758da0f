"""The manual, served with the program, and the help that each page has."""
