"""Where drive minutes between buildings come from."""
