"""Activities, and the equipment that they take: how much there is, where it stays, what is broken, worn or lent."""
