"""Signing in and out, given passwords, and one's own password."""
