#!/usr/bin/env python3
"""How long one question takes, beside two other ways to answer the same two layers.

    cargo build --release
    python3 -m venv target/reference-env && target/reference-env/bin/pip install -r tests/reference/requirements.txt
    target/reference-env/bin/python tests/bench/beside.py target/release/fairwhy

For 3, 8, 12 and 15 findings that are seen it prints CPU milliseconds, the median of its runs, of

- the whole process of `fairwhy why`, start-up, reading the library, redraws and page included, and of a process that
  only shows an entry (what starting and reading cost);
- a textbook quickscore (Heckerman D. (1990), A tractable inference algorithm for diagnosing multiple diseases, in
  Uncertainty in Artificial Intelligence 5, 163-171): the sum over all sets of findings, by numpy;
- pyAgrum, lazy propagation over the same network (`addNoisyORNet`), given twenty seconds at most.

The network is made anew here from what `show` says of rows, with the formulas of docs/model.md, entries of 0.004 and up.
The three have the same posteriors, or the script stops.
"""

import json
import multiprocessing
import os
import resource
import statistics
import subprocess
import sys
import time

import numpy

SIZES = (3, 8, 12, 15)
# Findings of one long iron shot's lesson, most telling first.
SEEN = [
    "fat-strike", "pull", "divot-points-in", "sway", "casting", "hangs-back", "slice", "early-extension", "thin-strike",
    "over-the-top", "low-point-behind-ball", "path-out-to-in", "clubface-open-at-impact", "inconsistent-strike", "topped-shot",
]
PRIOR, STRONGEST, LEAST_UNKNOWN, LEAST_ENTRY = 0.1, 0.97, 0.02, 0.004


def show(program, entry):
    out = subprocess.run([program, "show", entry, "--no-own", "--format", "json"], capture_output=True, check=True).stdout
    return json.loads(out)


def network(entries):
    """Priors by origin, and for each finding its leak and its strengths by origin."""
    rows = []
    for entry in entries:
        row = {item["id"]: item["share"] for item in entry["row"]}
        if entry["own"]:
            row[entry["id"]] = entry["own"]
        row = {cause: share for cause, share in row.items() if share >= LEAST_ENTRY or cause == entry["id"]}
        common = min(max(entry["how_common"] or 0.1, 0.005), 0.9)
        rows.append((entry["id"], common, row))
    priors = {}
    for _, common, row in rows:
        for cause, share in row.items():
            priors[cause] = min(max(priors.get(cause, PRIOR), share * common / STRONGEST), STRONGEST)
    findings = []
    for name, common, row in rows:
        leak = common * max(1 - sum(row.values()), LEAST_UNKNOWN)
        strengths = {cause: min(share * common / priors[cause], STRONGEST) for cause, share in row.items()}
        findings.append((name, leak, strengths))
    return priors, findings


def quickscore(priors, findings):
    """P(origin | all findings): inclusion and exclusion over every set of findings, one array entry each."""
    origins = sorted(priors)
    sets = 1 << len(findings)
    sign_and_leak = numpy.ones(sets)
    for at, (_, leak, _) in enumerate(findings):
        has = (numpy.arange(sets) >> at) & 1
        sign_and_leak *= numpy.where(has, -(1 - leak), 1.0)
    absent, factor = {}, {}
    for origin in origins:
        q = numpy.ones(sets)
        for at, (_, _, strengths) in enumerate(findings):
            if origin in strengths:
                has = (numpy.arange(sets) >> at) & 1
                q *= numpy.where(has, 1 - strengths[origin], 1.0)
        absent[origin] = q
        factor[origin] = 1 - priors[origin] + priors[origin] * q
    whole = sign_and_leak.copy()
    for origin in origins:
        whole *= factor[origin]
    evidence = whole.sum()
    return {o: float((whole / factor[o] * priors[o] * absent[o]).sum() / evidence) for o in origins}


def lazy(priors, findings, pipe):
    import pyagrum

    started = time.process_time()
    net = pyagrum.BayesNet()
    for origin, prior in priors.items():
        node = net.add(pyagrum.LabelizedVariable(f"o-{origin}", "", 2))
        net.cpt(node).fillWith([1 - prior, prior])
    for name, leak, strengths in findings:
        net.addNoisyORNet(pyagrum.LabelizedVariable(f"f-{name}", "", 2), leak)
        for origin, strength in strengths.items():
            net.addWeightedArc(net.idFromName(f"o-{origin}"), net.idFromName(f"f-{name}"), strength)
    engine = pyagrum.LazyPropagation(net)
    engine.setEvidence({f"f-{name}": 1 for name, _, _ in findings})
    engine.makeInference()
    found = {o: float(engine.posterior(f"o-{o}")[1]) for o in priors}
    pipe.send((1e3 * (time.process_time() - started), found))


def in_time(priors, findings):
    ours, theirs = multiprocessing.Pipe()
    worker = multiprocessing.Process(target=lazy, args=(priors, findings, theirs))
    worker.start()
    theirs.close()
    try:
        answer = ours.recv() if ours.poll(20) else None
    except EOFError:
        answer = None
    worker.kill()
    worker.join()
    return answer


def cpu(command, runs=9):
    taken = []
    for _ in range(runs):
        before = resource.getrusage(resource.RUSAGE_CHILDREN)
        subprocess.run(command, stdout=subprocess.DEVNULL, check=True)
        after = resource.getrusage(resource.RUSAGE_CHILDREN)
        taken.append(1e3 * (after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime))
    return statistics.median(taken)


def main():
    program = os.path.abspath(sys.argv[1])
    shown = {entry: show(program, entry) for entry in SEEN}
    print(f"start-up, reading and one entry: {cpu([program, 'show', 'slice', '--no-own']):.0f} ms")
    print("findings  origins  fairwhy why  quickscore  pyAgrum")
    for size in SIZES:
        seen = SEEN[:size]
        priors, findings = network([shown[entry] for entry in seen])
        ours = cpu([program, "why", *seen, "--no-own", "--format", "json"])
        times = []
        for _ in range(3):
            started = time.process_time()
            sums = quickscore(priors, findings)
            times.append(1e3 * (time.process_time() - started))
        other = in_time(priors, findings)
        if other:
            apart = max(abs(sums[o] - other[1][o]) for o in priors)
            if apart > 1e-6:
                sys.exit(f"{size} findings: the two are {apart} apart")
        said = f"{other[0]:.0f} ms" if other else "none in 20 s"
        print(f"{size:8}  {len(priors):7}  {ours:8.0f} ms  {statistics.median(times):7.0f} ms  {said}")


if __name__ == "__main__":
    main()
