"""The rest of a week: what is planned from a moment on, and what stays as it is."""
