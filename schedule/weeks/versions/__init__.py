"""What a version of a week holds, read, written and compared with others."""
