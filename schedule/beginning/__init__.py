"""The first hour: what a district needs before a week can be planned, what of it is there, and ways to the rest."""
