"""What is known of a day, and who hears of it."""
