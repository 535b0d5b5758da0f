"""Who stands in for a teacher who is away: arranged from the absence, changed, and taken back."""
