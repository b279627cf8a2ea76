#!/usr/bin/env python3
"""How long a general-purpose library takes for what the exact engine does, on the last network of posteriors.json.

    pip install pyagrum==3.3.1
    python tests/reference/speed.py

All posteriors of a 200-node network with 15 findings seen, three not seen and three likelihood ratios. Prints the
median of the runs in milliseconds, the network being built beforehand, beside the engine's own from
`cargo bench --bench inference -- posteriors`, and the ratio.
"""

import json
import pathlib
import re
import statistics
import subprocess
import time

import pyagrum

from make import STORED, build, inference


def median_ms(run, times):
    """Median wall time of `run` in milliseconds."""
    taken = []
    for _ in range(times):
        start = time.perf_counter()
        run()
        taken.append((time.perf_counter() - start) * 1e3)
    return statistics.median(taken)


def with_pyagrum(case, engine_class, threads):
    """All posteriors by one of pyAgrum's exact engines."""
    net = build(case)
    nodes = list(net.nodes())
    weights = {"present": lambda _: [0, 1], "absent": lambda _: [1, 0], "ratio": lambda r: [1, r]}
    evidence = {f"n{node}": weights[kind](ratio) for node, kind, ratio in case["reports"]}

    def run():
        engine = engine_class(net)
        engine.setNumberOfThreads(threads)
        engine.setEvidence(evidence)
        engine.makeInference()
        for node in nodes:
            engine.posterior(node)

    return median_ms(run, 15)


def own():
    """The engine's own median in milliseconds, from the benchmark."""
    root = pathlib.Path(__file__).parents[2]
    command = ["cargo", "bench", "--quiet", "--bench", "inference", "--", "posteriors"]
    out = subprocess.run(command, cwd=root, check=True, capture_output=True, text=True).stdout
    return float(re.search(r"all posteriors: ([0-9.]+) ms", out).group(1))


def main():
    """Times everything and prints one line each."""
    case = json.loads(STORED.read_text())["cases"][-1]
    inference(build(case), case)  # fails early if the case cannot be set up
    mine = own()
    print(f"fairwhy, exact engine: {mine:.3f} ms")
    for name in ("LazyPropagation", "ShaferShenoyInference", "VariableElimination"):
        for threads in (1, 2):
            ms = with_pyagrum(case, getattr(pyagrum, name), threads)
            print(f"pyagrum {pyagrum.__version__} {name}, {threads} thread(s): {ms:.1f} ms, {ms / mine:.0f} times as long")


if __name__ == "__main__":
    main()
