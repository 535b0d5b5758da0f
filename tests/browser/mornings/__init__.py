"""Four mornings on a phone, by a clock that the tests set."""
