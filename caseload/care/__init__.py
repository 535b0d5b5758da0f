"""How a student is helped and what to be careful about: supports, cautions, contacts, what to try at first."""
