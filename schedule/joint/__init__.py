"""Joint sessions: sessions that two teachers give one student together, said by services, from a day on."""
