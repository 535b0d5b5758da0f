"""Reads of stations and rotations."""
