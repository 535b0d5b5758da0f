"""What is owed in a week that is planned."""
