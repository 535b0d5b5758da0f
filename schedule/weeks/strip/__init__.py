"""The time-distance strip: a week drawn as railways draw the traffic of a line. Pure geometry, no markup.

Time runs along one axis, the buildings lie along the other in the order of the road, and the teacher's path
steps between them: level where the teacher stays, sloped where the teacher drives. ``layout.week_strip`` draws
one row a day with time running across; ``layout.day_strip`` draws one day with time running down, for a narrow
screen. Both take the same dataclasses (``shapes``). Times are minutes after local midnight; lengths are units
of the drawing.
"""
