#!/usr/bin/env python3
"""How long general-purpose libraries take for what the exact engine does, on the last network of posteriors.json.

    pip install pyagrum==3.3.1 pgmpy==1.1.2
    python tests/reference/speed.py

All posteriors of a 200-node network with 15 findings seen, three not seen and three likelihood ratios. Prints the
median of the runs in milliseconds, the network being built beforehand, beside the engine's own from
`cargo bench --bench inference -- posteriors`, and the ratio. pgmpy is timed when it is installed.
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


def with_pgmpy(case):
    """All posteriors by pgmpy's belief propagation over tables; ratios as virtual evidence."""
    from pgmpy.factors.discrete import TabularCPD
    from pgmpy.inference import BeliefPropagation
    from pgmpy.models import DiscreteBayesianNetwork

    parents = {node: [] for node in range(len(case["leaks"]))}
    for u, x, s in case["links"]:
        parents[x].append((u, s))
    net = DiscreteBayesianNetwork([(u, x) for u, x, _ in case["links"]])
    net.add_nodes_from(parents)
    for node, causes in parents.items():
        absent = [1 - case["leaks"][node]]
        for _, s in causes:
            absent = [p * q for p in absent for q in (1, 1 - s)]
        table = [absent, [1 - p for p in absent]]
        net.add_cpds(TabularCPD(node, 2, table, [u for u, _ in causes], [2] * len(causes)))
    hard = {node: int(kind == "present") for node, kind, _ in case["reports"] if kind != "ratio"}
    soft = [TabularCPD(n, 2, [[1 / (1 + r)], [r / (1 + r)]]) for n, kind, r in case["reports"] if kind == "ratio"]

    def run():
        engine = BeliefPropagation(net)
        for node in parents:
            if node not in hard:
                engine.query([node], hard, virtual_evidence=soft, show_progress=False)

    return median_ms(run, 1)


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
    try:
        ms = with_pgmpy(case)
        print(f"pgmpy BeliefPropagation: {ms:.0f} ms, {ms / mine:.0f} times as long")
    except ImportError:
        print("pgmpy is not installed")


if __name__ == "__main__":
    main()
