"""The drawing of driving against sessions moved: higher is more driving, further right is more moved."""

from itertools import pairwise

from schedule.curve_drawing import curve_drawing


def test_dots_stand_in_order() -> None:
    drawn = curve_drawing([(2, 231), (4, 215), (10, 193)])
    assert drawn is not None
    assert all(a.x < b.x and a.y < b.y for a, b in pairwise(drawn.dots))
    assert all(0 < dot.x < drawn.width and 0 < dot.y < drawn.floor for dot in drawn.dots)
    assert drawn.path.count("H") == 2


def test_distances_are_to_scale() -> None:
    drawn = curve_drawing([(0, 40), (1, 30), (4, 0)])
    assert drawn is not None
    first, second, last = drawn.dots
    assert abs(3 * (second.x - first.x) - (last.x - second.x)) < 1
    assert abs(3 * (second.y - first.y) - (last.y - second.y)) < 1


def test_one_point_is_no_curve() -> None:
    assert curve_drawing([(3, 100)]) is None
