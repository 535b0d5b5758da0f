"""Progress reports and the annual meeting's page, drafted from data, worded and signed by a person."""
