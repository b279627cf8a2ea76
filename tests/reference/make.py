#!/usr/bin/env python3
"""Posteriors of generated noisy-OR networks, by a general-purpose library (pyAgrum, lazy propagation).

    pip install pyagrum==3.3.1
    python tests/reference/make.py            # writes posteriors.json beside this file
    python tests/reference/make.py --check    # makes them anew and compares with what is stored

The networks are themed and sparse, 50 to 200 nodes: leaks 0.01 to 0.3, strengths from a verbal scale, links mostly
within a theme. Reports are seen, not seen and likelihood ratios. `addNoisyORNet` takes strengths without the leak
("net" strengths), which is what the engine takes; `addNoisyOR` would fold the leak into them.
"""

import argparse
import json
import pathlib
import random
import sys

import pyagrum

HERE = pathlib.Path(__file__).parent
STORED = HERE / "posteriors.json"
STRENGTHS = [0.15, 0.25, 0.5, 0.75, 0.85, 0.99]
# Nodes and findings seen; the last is the one that speed.py and the benchmark time.
SIZES = [(50 + 150 * i // 23, 3 + i % 13) for i in range(24)] + [(200, 15)]
# Two runs of the library on the same machine differ by rounding only.
TOLERANCE = 1e-9


def generate(seed, count, positives):
    """A network and reports on it, as plain lists; the same seed gives the same bytes."""
    rng = random.Random(seed)
    theme = 14
    leaks = [round(rng.uniform(0.01, 0.3), 4) for _ in range(count)]
    links = {}
    for node in range(1, count):
        start = node - node % theme
        for _ in range(rng.choice([0, 1, 1, 2, 2, 3, 4])):
            within = node > start and rng.random() < 0.93
            parent = rng.randrange(start, node) if within else rng.randrange(node)
            links[(parent, node)] = rng.choice(STRENGTHS)
    inner = [n for n in range(count) if n % theme >= theme // 2]
    chosen = rng.sample(inner, positives + 6)
    reports = [[node, "present", 1] for node in chosen[:positives]]
    reports += [[node, "absent", 0] for node in chosen[positives : positives + 3]]
    reports += [[node, "ratio", round(rng.uniform(0.2, 6), 3)] for node in chosen[positives + 3 :]]
    return {
        "leaks": leaks,
        "links": [[u, x, s] for (u, x), s in sorted(links.items())],
        "reports": sorted(reports),
    }


def build(case):
    """The case as a pyAgrum network."""
    net = pyagrum.BayesNet()
    ids = [net.addNoisyORNet(pyagrum.LabelizedVariable(f"n{i}", "", 2), leak) for i, leak in enumerate(case["leaks"])]
    for u, x, s in case["links"]:
        net.addWeightedArc(ids[u], ids[x], s)
    return net


def inference(net, case):
    """Lazy propagation with the case's reports set, nothing computed yet."""
    engine = pyagrum.LazyPropagation(net)
    weights = {"present": lambda _: [0, 1], "absent": lambda _: [1, 0], "ratio": lambda r: [1, r]}
    engine.setEvidence({f"n{node}": weights[kind](ratio) for node, kind, ratio in case["reports"]})
    return engine


def posteriors(case):
    """P(present | reports) per node."""
    net = build(case)
    engine = inference(net, case)
    engine.makeInference()
    return [float(engine.posterior(f"n{i}")[1]) for i in range(len(case["leaks"]))]


def cases():
    """All cases with their posteriors."""
    made = []
    for seed, (count, positives) in enumerate(SIZES):
        case = generate(seed, count, positives)
        case["posterior"] = posteriors(case)
        made.append(case)
    return made


def formula_holds():
    """The library's noisy-OR is the one of Pearl (1988): leak 0.05, strengths 0.8 and 0.6 give 0.924."""
    net = build({"leaks": [0.5, 0.5, 0.05], "links": [[0, 2, 0.8], [1, 2, 0.6]]})
    table = net.cpt("n2")
    found = [float(table[{"n0": a, "n1": b}][1]) for a, b in [(0, 0), (1, 0), (1, 1)]]
    expected = [0.05, 0.81, 0.924]
    return all(abs(f - e) < 1e-7 for f, e in zip(found, expected))


def main():
    """Writes the file, or compares with it."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--check", action="store_true", help="compare with the stored values instead of writing them")
    arguments = parser.parse_args()
    if not formula_holds():
        sys.exit("pyAgrum's noisy-OR is not the one that the engine takes")
    made = {"library": f"pyagrum {pyagrum.__version__}", "cases": cases()}
    if not arguments.check:
        STORED.write_text(json.dumps(made, separators=(",", ":")) + "\n")
        print(f"{STORED.name}: {len(SIZES)} networks")
        return
    stored = json.loads(STORED.read_text())
    worst = 0.0
    for number, (old, new) in enumerate(zip(stored["cases"], made["cases"], strict=True)):
        for key in ("leaks", "links", "reports"):
            if old[key] != new[key]:
                sys.exit(f"case {number}: {key} are not what this script makes")
        pairs = zip(old["posterior"], new["posterior"], strict=True)
        worst = max(worst, max(abs(a - b) for a, b in pairs))
    print(f"{len(SIZES)} networks, largest difference {worst:.1e}")
    if worst > TOLERANCE:
        sys.exit(f"stored posteriors differ by {worst:.1e}")


if __name__ == "__main__":
    main()
