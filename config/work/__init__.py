"""Background work of a district that broke off, and the way to have it done after all."""
