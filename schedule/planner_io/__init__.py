"""From rows to a planning problem, and from a plan back to rows."""
