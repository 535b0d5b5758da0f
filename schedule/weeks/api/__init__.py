"""The API of weeks and of planning runs."""
