"""A week of routes under construction: built, improved, explained."""
