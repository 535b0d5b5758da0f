"""What was delivered or missed, session by session, and students' ledgers."""
