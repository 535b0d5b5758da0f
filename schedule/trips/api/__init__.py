"""The API of trips, of what is submitted (`vouchers`), and of the map with what it costs to move a building."""
