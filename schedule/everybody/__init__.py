"""One week of all teachers of a district, planned in the background, for its coordinators."""
