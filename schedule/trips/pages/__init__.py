"""Pages of trips, vouchers and the map."""
