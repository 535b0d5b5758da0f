"""Finding one student among a district's thousands by name or code, without either in an address."""
