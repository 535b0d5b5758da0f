"""Road engines and estimates: what a drive between two places takes."""
