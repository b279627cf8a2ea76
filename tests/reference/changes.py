#!/usr/bin/env python3
"""Exact tests and intervals by general statistics libraries (scipy, statsmodels).

    pip install -r tests/reference/requirements.txt
    python tests/reference/changes.py            # writes changes.json beside this file
    python tests/reference/changes.py --check    # makes it anew and compares with what is stored
"""

import argparse
import itertools
import json
import pathlib
import random
import sys

import numpy
import scipy
from scipy import stats
from statsmodels.stats.proportion import confint_proportions_2indep, proportion_confint

HERE = pathlib.Path(__file__).parent
STORED = HERE / "changes.json"
TOLERANCE = 1e-12
BALLS = [(0, 10), (3, 10), (7, 10), (10, 10), (5, 20), (14, 20), (12, 30), (21, 30), (1, 3), (40, 100)]


def counts():
    """Fisher's exact test, two-sided, and Newcombe's interval for after less before."""
    rows = []
    for (a, n), (b, m) in itertools.product(BALLS, BALLS):
        p = stats.fisher_exact([[a, n - a], [b, m - b]]).pvalue
        low, high = confint_proportions_2indep(b, m, a, n, method="newcomb", compare="diff")
        rows.append({"before": [a, n], "after": [b, m], "p": float(p), "low": float(low), "high": float(high)})
    return rows


def wilson():
    """Wilson's score interval."""
    rows = []
    for a, n in BALLS:
        low, high = proportion_confint(a, n, method="wilson")
        rows.append({"count": [a, n], "low": float(low), "high": float(high)})
    return rows


def sessions():
    """Mean with Student's interval, Welch's interval of a difference, and Tukey's fences."""
    rng = random.Random(7)
    rows = []
    for n, m in [(3, 3), (5, 8), (10, 10), (12, 30), (40, 25), (200, 150)]:
        before = [round(rng.gauss(-4, 2.5), 2) for _ in range(n)]
        after = [round(rng.gauss(-2, 1.5), 2) for _ in range(m)]
        before[0] = 18.0
        one = stats.t.interval(0.95, n - 1, loc=numpy.mean(before), scale=stats.sem(before))
        both = stats.ttest_ind(after, before, equal_var=False).confidence_interval(0.95)
        first, third = numpy.percentile(before, [25, 75])
        fence = 1.5 * (third - first)
        far = [i for i, x in enumerate(before) if x < first - fence or x > third + fence] if n >= 5 else []
        rows.append(
            {
                "before": before,
                "after": after,
                "mean": float(numpy.mean(before)),
                "sd": float(numpy.std(before, ddof=1)),
                "low": float(one[0]),
                "high": float(one[1]),
                "far": far,
                "change": [float(both.low), float(both.high)],
            }
        )
    return rows


def make():
    return {
        "library": f"scipy {scipy.__version__}",
        "counts": counts(),
        "wilson": wilson(),
        "sessions": sessions(),
    }


def near(one, other):
    """Whether two values are the same but for rounding."""
    if isinstance(one, dict):
        return one.keys() == other.keys() and all(near(one[k], other[k]) for k in one)
    if isinstance(one, list):
        return len(one) == len(other) and all(near(a, b) for a, b in zip(one, other))
    if isinstance(one, float) or isinstance(other, float):
        return abs(one - other) <= TOLERANCE * max(1.0, abs(one))
    return one == other


def main():
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--check", action="store_true")
    made = make()
    if parser.parse_args().check:
        if not near(json.loads(STORED.read_text()), made):
            sys.exit(f"{STORED.name} is not what the libraries say")
        print(f"{STORED.name}: {len(made['counts'])} tables, {len(made['sessions'])} sessions as stored")
    else:
        STORED.write_text(json.dumps(made) + "\n")


if __name__ == "__main__":
    main()
