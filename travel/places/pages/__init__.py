"""Pages of buildings and spaces, and pictures of roads for a map's ground."""
