"""The drawing of driving against sessions moved: higher is more driving, further right is more moved."""

from itertools import combinations, pairwise

from schedule.weeks.curve import ROOM_ACROSS, ROOM_DOWN, curve_drawing

POINTS = [(2, 171), (3, 164), (8, 151), (10, 143), (12, 136), (15, 133), (24, 130)]


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


def test_dots_go_right_and_down() -> None:
    drawing = curve_drawing(POINTS)
    assert drawing is not None
    assert [(dot.moved, dot.driving) for dot in drawing.dots] == POINTS
    assert [dot.x for dot in drawing.dots] == sorted(dot.x for dot in drawing.dots)
    assert [dot.y for dot in drawing.dots] == sorted(dot.y for dot in drawing.dots)
    assert all(drawing.left <= dot.x <= drawing.right and 0 < dot.y < drawing.floor for dot in drawing.dots)


def test_figures_on_an_axis_do_not_touch_and_both_ends_are_named() -> None:
    drawing = curve_drawing(POINTS)
    assert drawing is not None
    across = [dot.x for dot in drawing.dots if dot.names_moved]
    down = [dot.y for dot in drawing.dots if dot.names_driving]
    assert all(abs(a - b) >= ROOM_ACROSS for a, b in combinations(across, 2))
    assert all(abs(a - b) >= ROOM_DOWN for a, b in combinations(down, 2))
    for end in (drawing.dots[0], drawing.dots[-1]):
        assert end.names_moved
        assert end.names_driving
    assert len(across) < len(POINTS)
