"""Telling people what changed of a day: who hears of it, by which way, once, and what became of it."""
