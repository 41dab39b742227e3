"""The picture of the offers: nothing that is written there lies over anything else."""

from itertools import combinations

import pytest
from invented_offers import invented_choice
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.text import Annotation, Text

from restcab.output.choose_figure import choose_figure
from restcab.output.figures import saved
from restcab.output.labels import Label, place_labels

LONG = "a climate file of a very long name, as people have them, 2019 to 2023.epw"


@pytest.fixture(scope="module", params=[("dallas-tx",), (LONG, "phoenix-az", "duluth-mn")])
def drawn(request):
    """The figure as it is drawn, and its renderer."""
    figure = choose_figure(invented_choice(climates=request.param), "us")
    canvas = FigureCanvasAgg(figure)
    canvas.draw()
    return figure, canvas.get_renderer()


def test_no_label_lies_over_another_or_leaves_its_plot(drawn):
    figure, renderer = drawn
    for axes in figure.axes:
        # the words alone, without the line that leads to them
        labels = [text for text in axes.texts if isinstance(text, Annotation)]
        assert len(labels) > 5
        extents = [Text.get_window_extent(text, renderer) for text in labels]
        for (one, a), (other, b) in combinations(zip(labels, extents, strict=True), 2):
            assert not a.overlaps(b), (one.get_text(), other.get_text())
        frame = axes.get_window_extent(renderer).padded(1.0)
        assert all(frame.contains(box.x0, box.y0) and frame.contains(box.x1, box.y1)
                   for box in extents)  # fmt: skip


def test_titles_names_and_legend_keep_apart(drawn):
    figure, renderer = drawn
    blocks = [
        figure._suptitle,
        *(axes.title for axes in figure.axes),
        *figure.legends,
        *(axes.xaxis.label for axes in figure.axes),
        *(text for text in figure.axes[-1].texts if not isinstance(text, Annotation)),
    ]
    boxes = [block.get_window_extent(renderer) for block in blocks]  # fmt: skip
    for (one, a), (other, b) in combinations(zip(blocks, boxes, strict=True), 2):
        assert not a.overlaps(b), (one, other)
    assert all(figure.bbox.padded(1.0).contains(box.x0, box.y0) for box in boxes)
    assert all(figure.bbox.padded(1.0).contains(box.x1, box.y1) for box in boxes)


def test_units_have_colours_and_batteries_marks_of_their_own(drawn):
    figure, _ = drawn
    (legend,) = figure.legends
    looks = [(h.get_marker(), h.get_markerfacecolor(), h.get_markersize(), h.get_linestyle(),
              h.get_linewidth()) for h in legend.legend_handles]  # fmt: skip
    assert len(looks) == len(set(looks)) == 12 + 8 + 3 + 3


def test_of_several_climates_it_says_which_is_drawn():
    for climates in (("dallas-tx",), ("dallas-tx", "duluth-mn")):
        title = choose_figure(invented_choice(3, 2, climates), "us")._suptitle.get_text()
        assert ("where the first pair is least sure" in title) == (len(climates) > 1)


def test_the_same_answer_is_the_same_bytes():
    first, second = (saved(choose_figure(invented_choice(3, 2), "si"), "svg") for _ in range(2))
    assert first == second


def test_what_finds_no_room_is_named():
    figure = Figure(figsize=(1.0, 1.0))
    FigureCanvasAgg(figure)
    axes = figure.subplots()
    axes.plot([0.0, 1.0], [0.0, 1.0])
    figure.draw_without_rendering()
    labels = [Label(0.5, 0.5, f"label {at}") for at in range(40)]
    left_out = place_labels(axes, labels)
    assert 0 < len(left_out) < 40
    assert len(axes.texts) == 40 - len(left_out)
