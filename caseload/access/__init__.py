"""Who saw what: views of students, files that take their data out, feeds, sign-ins; recorded in one place."""
