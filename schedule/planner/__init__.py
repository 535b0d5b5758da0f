"""The week planner: a pure function from a planning problem to a checked itinerary."""
