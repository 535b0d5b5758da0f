"""The manual and the help of each page."""
