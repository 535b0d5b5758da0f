"""Tokens with which programs ask the API in a person's name: what they may, until when, how often."""
