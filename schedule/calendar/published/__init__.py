"""Reading school calendars that are published: from files, from addresses, and what their words mean."""
