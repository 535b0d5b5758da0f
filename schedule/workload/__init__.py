"""What each teacher's week is made of, for the coordinators of a district."""
