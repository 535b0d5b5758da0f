"""Weeks of several teachers planned together, for the coordinators of a district."""
