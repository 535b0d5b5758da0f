"""Lists of what would be erased, their confirmation, and erasing."""
