"""Teams that share a caseload: who sees whose students, from which day to which, and at which pages."""
