"""The delivery log: entries, their versions, decisions of the team, and a district's rules."""
