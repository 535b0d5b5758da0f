"""The API of trips: `month` has trips and vouchers, `road_map` the map and what it costs to move a building."""
