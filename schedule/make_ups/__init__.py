"""Minutes that wait to be made up: what is open, where it fits, booking and taking back."""
