"""Pages of a day: the sheet with its taps, and the screen of the session that runs."""
