"""Pages of the room, by what they are about."""
