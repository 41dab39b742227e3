"""Evenly spread numbers for seed 0, drawn by scipy once so that a command need not load it.

``tests/odds/test_odds.py`` has scipy draw them again. With one more unsure input, write anew by::

    python tests/reference/even_samples.py
"""

from pathlib import Path

import numpy as np

from restcab.odds.unsure import PARTS, SHIPPED, SHIPPED_SEED, drawn

COUNT = 1024
"""As many as ``claim`` draws by default."""

if __name__ == "__main__":
    import restcab

    parts = PARTS * drawn(COUNT, SHIPPED_SEED)
    assert (parts == np.round(parts)).all(), "points of scipy's sequence have 30 binary digits"
    np.save(Path(restcab.__file__).parent / "data" / SHIPPED, parts.astype(np.uint32))
