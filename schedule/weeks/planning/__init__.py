"""From rows to a planning problem, and from the planner's answer back to rows."""
