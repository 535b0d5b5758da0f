"""Drive times: own, learned and estimated, by time of day; and what was driven."""
