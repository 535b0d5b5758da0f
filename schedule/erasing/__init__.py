"""What would be erased by the district's rules, shown first; then erased, for good."""
