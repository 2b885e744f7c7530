"""The chart script in the browser and the library that makes its figures are of one version."""

import re
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]


def test_bundle_matches_the_library():
    from plotly.offline import get_plotlyjs_version

    bundles = list((ROOT / "static").rglob("plotly-cartesian*.js"))
    assert len(bundles) == 1
    head = bundles[0].read_text("utf-8")[:400]
    assert re.search(r"plotly\.js \(cartesian[^)]*\) v([0-9.]+)", head).group(1) == get_plotlyjs_version()
