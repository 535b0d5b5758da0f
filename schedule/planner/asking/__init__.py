"""What-if questions: what clashes, what to ask for, what staying the same costs."""
