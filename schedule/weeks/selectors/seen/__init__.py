"""What one viewer sees of a version of a week, or of one of its dates."""
