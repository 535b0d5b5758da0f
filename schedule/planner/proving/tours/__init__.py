"""One day on which everything is to be placed: its tour, by sets of visits or by a circuit."""
