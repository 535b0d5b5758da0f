"""What happens in a class hour: routines, fitted to the minutes of the day, the running view, the load list."""
