"""How a district stands, for its coordinators: counted a teacher at a time in the background, added up here."""
