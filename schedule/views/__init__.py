"""Views of the schedule floor: parse, authorise, call one service or selector, render."""
