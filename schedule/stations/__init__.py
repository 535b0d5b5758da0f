"""Stations, who is where in which round of a class hour, and the cards that say so."""
