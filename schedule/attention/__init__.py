"""Who needs attention first, and how each service is likely to end."""
