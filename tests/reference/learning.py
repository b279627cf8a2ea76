#!/usr/bin/env python3
"""Posterior means, intervals and agreement by general statistics libraries (scipy, statsmodels).

    pip install -r tests/reference/requirements.txt
    python tests/reference/learning.py            # writes learning.json beside this file
    python tests/reference/learning.py --check    # makes it anew and compares with what is stored
"""

import argparse
import json
import pathlib
import random
import sys

import numpy
import scipy
from scipy import stats
from statsmodels.stats.inter_rater import cohens_kappa

HERE = pathlib.Path(__file__).parent
STORED = HERE / "learning.json"
TOLERANCE = 1e-9


def rows():
    """The mean of a Dirichlet with shares of a weight and counts."""
    rng = random.Random(11)
    made = []
    for size in (2, 3, 5, 9):
        for students in (0, 1, 14, 60):
            shares = numpy.array([rng.random() + 0.05 for _ in range(size)])
            shares /= shares.sum()
            counts = numpy.array([0.0] * size)
            for _ in range(students):
                counts[rng.randrange(size)] += rng.choice([0.5, 0.8, 1.0])
            mean = stats.dirichlet(20.0 * shares + counts).mean()
            made.append({"shares": shares.tolist(), "counts": counts.tolist(), "mean": mean.tolist()})
    return made


def effects():
    """The mean and the 95 % interval of a Beta."""
    made = []
    for prior in (0.2, 0.55, 0.84):
        for told, worked in ((0, 0.0), (1, 0.5), (4, 0.0), (10, 7.5), (40, 39.0)):
            beta = stats.beta(8.0 * prior + worked, 8.0 * (1 - prior) + told - worked)
            low, high = beta.ppf([0.025, 0.975])
            made.append(
                {
                    "prior": prior,
                    "told": told,
                    "worked": worked,
                    "mean": float(beta.mean()),
                    "low": float(low),
                    "high": float(high),
                }
            )
    return made


def agreements():
    """Cohen's kappa and its standard error for large samples."""
    rng = random.Random(5)
    made = []
    for size, students, alike in ((2, 20, 0.8), (3, 40, 0.6), (4, 90, 0.4), (3, 30, 0.95)):
        pairs = []
        for _ in range(students):
            one = rng.randrange(size)
            pairs.append([one, one if rng.random() < alike else rng.randrange(size)])
        table = numpy.zeros((size, size))
        for one, other in pairs:
            table[one, other] += 1
        found = cohens_kappa(table)
        made.append({"pairs": pairs, "kappa": float(found.kappa), "error": float(found.std_kappa)})
    return made


def make():
    return {
        "library": f"scipy {scipy.__version__}",
        "rows": rows(),
        "effects": effects(),
        "agreements": agreements(),
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
        print(f"{STORED.name}: {len(made['rows'])} rows, {len(made['effects'])} effects, {len(made['agreements'])} agreements as stored")
    else:
        STORED.write_text(json.dumps(made) + "\n")


if __name__ == "__main__":
    main()
