"""Something happened: said in one place, shown before it is saved, taken back whole."""
