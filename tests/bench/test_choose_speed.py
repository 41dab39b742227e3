"""Every pair of many units and banks against single sizes, in processor time of whole commands.

Both sides find the machine code of the engine kept, and the sun, sky and ground of their climates
as the run before left them.
"""

import pytest
from invented_offers import many_offers
from timed_commands import EXAMPLES, seconds_of

CLIMATES = ("dallas-tx", "phoenix-az", "duluth-mn")
SIZES_MAX = 10.0
"""Asked for: pairs of 12 units and 8 banks in 3 climates, against so many single sizes."""


@pytest.mark.slow
def test_all_pairs_against_ten_sizes(benchmark, tmp_path):
    if benchmark.disabled:
        pytest.skip("a benchmark: run with --benchmark-enable --benchmark-only")
    spec = EXAMPLES / "white-raised-roof.toml"
    offers = tmp_path / "offers.toml"
    offers.write_text(many_offers(climates=CLIMATES), encoding="utf-8")
    sizes = [("size", spec, "--weather", name, "--json") for name in CLIMATES]
    for words in sizes:
        seconds_of(words)  # what is kept of a climate is kept from here on
    pairs = ("choose", spec, offers, "--json")
    one_s = sum(seconds_of(words).cpu_s for words in sizes) / len(sizes)
    all_s = benchmark.pedantic(seconds_of, args=(pairs,), rounds=1).cpu_s
    ratio = all_s / one_s
    benchmark.extra_info |= {"ratio": ratio, "aim": SIZES_MAX}
    print(f"\n{ratio:.1f} sizes of {one_s:.1f} s each (aim: at most {SIZES_MAX:g})")
