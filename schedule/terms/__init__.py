"""One timetable for a term: planned over its weeks, published together, changed in the middle."""
