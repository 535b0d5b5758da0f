"""Aides: on which days and at which hours each is there, from a first day on, and what that bars."""
