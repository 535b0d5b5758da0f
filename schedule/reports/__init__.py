"""Reports of minutes: on screen, as data and as files."""
