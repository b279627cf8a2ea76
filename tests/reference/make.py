#!/usr/bin/env python3
"""Posteriors of generated two-layer noisy-OR networks, by a general-purpose library (pyAgrum, lazy propagation).

    pip install pyagrum==3.3.1
    python tests/reference/make.py            # writes posteriors.json beside this file
    python tests/reference/make.py --check    # makes them anew and compares with what is stored

Origins with priors 0.05 to 0.5, findings with leaks 0.005 to 0.2 and up to seven origins behind each, strengths 0.02 to
0.97. Reports are seen, not seen and likelihood ratios. `addNoisyORNet` takes strengths without the leak ("net"
strengths), which is what the engine takes; `addNoisyOR` would fold the leak into them.
"""

import argparse
import json
import pathlib
import random
import sys

import pyagrum

HERE = pathlib.Path(__file__).parent
STORED = HERE / "posteriors.json"
# Origins and findings.
SIZES = [(10 + 2 * i, 4 + i % 10) for i in range(20)]
# Two runs of the library on the same machine differ by rounding only.
TOLERANCE = 1e-9


def generate(seed, origins, findings):
    """A model and reports on it, as plain lists; the same seed gives the same bytes."""
    rng = random.Random(seed)
    case = {
        "priors": [round(rng.uniform(0.05, 0.5), 4) for _ in range(origins)],
        "leaks": [round(rng.uniform(0.005, 0.2), 4) for _ in range(findings)],
        "links": [],
        "reports": [],
    }
    for finding in range(findings):
        # Most origins stand near the finding, so that neighbours share them.
        start = finding * origins // findings
        for step in sorted(rng.sample(range(min(origins, 10)), rng.randint(2, 7))):
            case["links"].append([(start + step) % origins, finding, round(rng.uniform(0.02, 0.97), 4)])
        kind = rng.choice(["present"] * 5 + ["absent", "ratio", "none"])
        if kind != "none":
            ratio = {"present": 1, "absent": 0}.get(kind, round(rng.uniform(0.2, 6), 3))
            case["reports"].append([finding, kind, ratio])
    return case


def build(case):
    """The case as a pyAgrum network: origins first, then findings."""
    net = pyagrum.BayesNet()
    for i, prior in enumerate(case["priors"]):
        node = net.add(pyagrum.LabelizedVariable(f"o{i}", "", 2))
        net.cpt(node).fillWith([1 - prior, prior])
    for i, leak in enumerate(case["leaks"]):
        net.addNoisyORNet(pyagrum.LabelizedVariable(f"f{i}", "", 2), leak)
    for origin, finding, strength in case["links"]:
        net.addWeightedArc(net.idFromName(f"o{origin}"), net.idFromName(f"f{finding}"), strength)
    return net


def inference(net, case):
    """Lazy propagation with the case's reports set, nothing computed yet."""
    engine = pyagrum.LazyPropagation(net)
    weights = {"present": lambda _: [0, 1], "absent": lambda _: [1, 0], "ratio": lambda r: [1, r]}
    engine.setEvidence({f"f{finding}": weights[kind](ratio) for finding, kind, ratio in case["reports"]})
    return engine


def posteriors(case):
    """P(origin present | reports), one per origin."""
    net = build(case)
    engine = inference(net, case)
    engine.makeInference()
    return [float(engine.posterior(f"o{i}")[1]) for i in range(len(case["priors"]))]


def cases():
    """All cases with their posteriors."""
    made = []
    for seed, (origins, findings) in enumerate(SIZES):
        case = generate(seed, origins, findings)
        case["posterior"] = posteriors(case)
        made.append(case)
    return made


def formula_holds():
    """The library's noisy-OR is the one of Pearl (1988): leak 0.05, strengths 0.8 and 0.6 give 0.924."""
    net = build({"priors": [0.5, 0.5], "leaks": [0.05], "links": [[0, 0, 0.8], [1, 0, 0.6]]})
    table = net.cpt("f0")
    found = [float(table[{"o0": a, "o1": b}][1]) for a, b in [(0, 0), (1, 0), (1, 1)]]
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
        for key in ("priors", "leaks", "links", "reports"):
            if old[key] != new[key]:
                sys.exit(f"case {number}: {key} are not what this script makes")
        pairs = zip(old["posterior"], new["posterior"], strict=True)
        worst = max(worst, max(abs(a - b) for a, b in pairs))
    print(f"{len(SIZES)} networks, largest difference {worst:.1e}")
    if worst > TOLERANCE:
        sys.exit(f"stored posteriors differ by {worst:.1e}")


if __name__ == "__main__":
    main()
