"""Pages of terms."""
