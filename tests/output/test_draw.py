"""Charts as SVG: ticks, places, bars, and texts that stay texts."""

import re
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from restcab.output.report.draw import WIDTH, Bar, Plot, Span, Tick, bars, cells, nice_ticks

MARKS = [Tick(at, str(at)) for at in (0.0, 5.0, 10.0)]


@given(st.floats(-1e5, 1e5), st.floats(1e-3, 1e5))
def test_ticks_cover_the_span_in_a_few_even_steps(low, width):
    found = nice_ticks(low, low + width)
    assert found[0] <= low + 1e-6 * width
    assert found[-1] >= low + width - 1e-6 * width
    assert 2 <= len(found) <= 8
    steps = [b - a for a, b in pairwise(found)]
    assert steps == pytest.approx([steps[0]] * len(steps), rel=1e-4, abs=2e-10)


def test_ticks_are_round_numbers():
    assert nice_ticks(3.0, 97.0) == [0.0, 20.0, 40.0, 60.0, 80.0, 100.0]
    assert nice_ticks(0.0, 1.0, 4) == [0.0, 0.25, 0.5, 0.75, 1.0]
    assert nice_ticks(7.0, 7.0)[0] < 7.0 < nice_ticks(7.0, 7.0)[-1]


def test_a_line_goes_where_its_values_are():
    plot = Plot(MARKS, MARKS, "a line")
    plot.line([0.0, 10.0], [0.0, 10.0], "a")
    (x0, y0), (x1, y1) = (
        map(float, pair.split(","))
        for pair in re.search(r'points="([^"]+)"', plot.svg())[1].split()
    )
    assert x0 == plot.at_x(0.0) < x1 == plot.at_x(10.0) < WIDTH
    assert y0 == plot.at_y(0.0) > y1 == plot.at_y(10.0) > 0.0
    assert plot.at_y(5.0) == pytest.approx(0.5 * (y0 + y1))


def test_bars_are_as_long_as_their_values():
    drawn = bars([Bar("one", "1", [(1.0, "a")]), Bar("four", "4", [(3.0, "a"), (1.0, "b")])], "x")
    short, long, more = (
        float(width) for width in re.findall(r'class="area \w+"[^>]*? width="([\d.]+)"', drawn)
    )
    assert long == pytest.approx(3.0 * short, abs=0.2)
    assert more == pytest.approx(short, abs=0.2)


def test_a_loss_runs_to_the_other_side_of_the_line():
    drawn = bars([Bar("gain", "2", [(2.0, "a")]), Bar("loss", "-1", [(-1.0, "out")])], "x")
    zero = float(re.search(r'class="axis" x1="([\d.]+)"', drawn)[1])
    gain, loss = (float(x) for x in re.findall(r'class="area \w+" x="([\d.]+)"', drawn))
    assert gain == pytest.approx(zero, abs=0.2)
    assert loss < zero
    assert zero == pytest.approx(WIDTH / 3.0, abs=2.0)


def test_a_whisker_may_be_longer_than_its_bar():
    drawn = bars([Bar("cost", "2", [(2.0, "a")], span=Span(1.0, 8.0))], "x")
    ends = [float(at) for at in re.findall(r"M([\d.]+) ", re.search(r'd="([^"]+)"', drawn)[1])]
    assert max(ends) <= WIDTH
    assert max(ends) > 7.0 * min(ends)


@pytest.mark.parametrize("words", ["<b>&\"'", "a < b"])
def test_every_text_is_escaped(words):
    plot = Plot([Tick(0.0, words), Tick(1.0, "")], MARKS, words, words)
    plot.level(1.0, "set", words)
    plot.uprights([(0.5, words)], "set")
    plot.hover(0.0, 1.0, words)
    drawn = [
        plot.svg(),
        bars([Bar(words, words, [(1.0, "a")], words)], words),
        cells([words], [words], [[("none", words)]], words),
    ]
    for text in drawn:
        assert words not in text
        assert "&lt;" in text


def test_long_labels_wrap_and_nothing_is_cut():
    name = "a very long name of a measure that nobody would have thought of before"
    drawn = bars([Bar(name, "1", [(1.0, "a")], "told")], "x")
    labels = re.findall(r'class="label"[^>]*>([^<]+)<', drawn)
    assert " ".join(labels) == name
    assert max(map(len, labels)) <= 38


@pytest.mark.parametrize("at", [[3.0], [8.0], [5.0, 6.0], [6.0, 5.0]])
def test_words_of_uprights_stand_above_the_plot_and_apart(at):
    plot = Plot(MARKS, MARKS, "lines")
    plot.uprights([(x, "words") for x in at], "set")
    found = re.findall(
        r'<text class="note" x="([\d.]+)" y="([\d.]+)" text-anchor="(\w+)">', plot.svg()
    )
    assert all(float(y) < plot.at_y(10.0) for _, y, _ in found)
    for x, (place, _, anchor) in zip(at, found, strict=True):
        assert float(place) == pytest.approx(plot.at_x(x), abs=3.0)
        # away from the nearer end of the plot, or from the other's words
        right = x == max(at) if len(at) > 1 else x < 5.0
        assert anchor == ("start" if right else "end")
