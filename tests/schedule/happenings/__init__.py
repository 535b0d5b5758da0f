"""Something happened, and what every surface says of the day then."""
