"""The API of the schedule floor, one module a concern."""
