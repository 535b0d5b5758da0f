"""Reads of trips, proposals and the map."""
