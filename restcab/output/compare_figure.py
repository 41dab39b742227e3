"""The chart of ``restcab compare``: present cost with its span, and where it comes from."""

from typing import TYPE_CHECKING, Any

from restcab.output.figures import name_figure, new_figure
from restcab.output.units import share
from restcab.results.result import Result

if TYPE_CHECKING:
    from matplotlib.figure import Figure

_PARTS = (
    ("price_usd", "equipment", "#4a6fa5"),
    ("fuel_usd_per_year", "diesel", "#b5651d"),
    ("energy_usd_per_year", "shore fee or electricity", "#8a9a5b"),
    ("upkeep_usd_per_year", "service and wear", "#9a8fb0"),
    ("payload_usd_per_year", "payload", "#7f7f7f"),
)
_RC: Any = {"font.size": 9.0}


def compare_figure(result: Result, units: str = "us") -> "Figure":  # noqa: ARG001 - USD in both
    """Draw the options, the best on top.

    Parameters
    ----------
    result
        From ``restcab.studies.compare``.
    units
        As for all figures; money is the same in each.

    Returns
    -------
    Figure
        On the left present cost with its span, on the right the first year's cost by part, the
        purchase apart.
    """
    from matplotlib import rc_context

    v = result.values
    by_name = {row["option"]: row for row in v["options"]}
    rows = [by_name[name] for name in v["ranking"]][::-1]
    with rc_context(_RC):
        figure = new_figure(9.0, 1.9 + 0.42 * len(rows))
        cost, parts = figure.subplots(1, 2, sharey=True)
        _draw_cost(cost, rows, v)
        _draw_parts(parts, rows)
        handles, labels = parts.get_legend_handles_labels()
        figure.legend(handles, labels, loc="outside lower center", ncols=len(labels), frameon=False)
        name_figure(figure, f"Ways to rest: {result.extra['spec']}, {result.extra['weather']}")
    return figure


def _draw_cost(axes: Any, rows: list[Any], v: Any) -> None:
    place = list(range(len(rows)))
    cost = [row["net_present_cost_usd"] for row in rows]
    span = [
        [row["net_present_cost_usd"] - row["net_present_cost_low_usd"] for row in rows],
        [row["net_present_cost_high_usd"] - row["net_present_cost_usd"] for row in rows],
    ]
    colours = ["#4a6fa5" if row["does_the_job"] else "#d9d9d9" for row in rows]
    axes.barh(place, cost, xerr=span, color=colours, ecolor="#333333", capsize=2)
    axes.set_yticks(place, [_label(row) for row in rows])
    axes.xaxis.set_major_formatter("{x:,.0f}")
    axes.set_xlabel(f"present cost over {v['years']:g} years [USD]")


def _draw_parts(axes: Any, rows: list[Any]) -> None:
    left = [0.0] * len(rows)
    for key, label, colour in _PARTS:
        values = [row[key] for row in rows]
        if not any(values):
            continue
        hatch = "///" if key == "price_usd" else None
        axes.barh(
            range(len(rows)), values, left=left, color=colour, label=label, hatch=hatch,
            edgecolor="white", linewidth=0.3,
        )  # fmt: skip
        left = [start + value for start, value in zip(left, values, strict=True)]
    axes.xaxis.set_major_formatter("{x:,.0f}")
    axes.set_xlabel("purchase, and running cost of one year [USD]")


def _label(row: Any) -> str:
    held = f"{share(row['held_frac'])} held"
    return f"{row['option']}\n({held if row['does_the_job'] else held + ', too few'})"
