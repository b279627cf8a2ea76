#!/usr/bin/env python3
"""The row of every condition, from an independent reading of the YAML, against what the program says.

    pip install pyyaml==6.0.3
    cargo build && python tests/reference/rows.py --check

Reads the shipped library by itself, and twelve made-up libraries of two layers whose second adds links with shares and
strengths, works every row out from the formulas of docs/model.md, and compares all of them, and which conditions'
links pass the cap, with `check --rows --format json`. Entries below 1e-12 are not shown.
"""

import json
import os
import pathlib
import random
import subprocess
import sys
import tempfile

import yaml

ROOT = pathlib.Path(__file__).parents[2]
BINARY = ROOT / "target" / "debug" / "fairwhy"
TOLERANCE = 1e-12
STRENGTH = {
    "certain": 0.99,
    "probable": 0.85,
    "expected": 0.75,
    "fifty-fifty": 0.5,
    "uncertain": 0.25,
    "improbable": 0.15,
}
COMMON = {"rare": 0.02, "uncommon": 0.06, "occasional": 0.12, "common": 0.22, "very-common": 0.35, "usual": 0.5}


def number(value, scale):
    """A number, or what a word of the scale stands for."""
    return value if isinstance(value, (int, float)) else scale[value]


def read(folders):
    """Every condition of the layers by id, with its links as (cause, strength, share, from its own layer)."""
    conditions, added = {}, []
    for layer, folder in enumerate(folders):
        for path in sorted(folder.rglob("*.yaml")):
            document = yaml.safe_load(path.read_text()) or {}
            for kind in ("outcomes", "faults", "causes"):
                for entry in document.get(kind) or []:
                    common = number(entry["how_common"], COMMON) if "how_common" in entry else 0.1
                    conditions[entry["id"]] = {
                        "outcome": kind == "outcomes",
                        "layer": layer,
                        "b": min(max(common, 0.005), 0.9),
                        "links": [(l["id"], number(l["strength"], STRENGTH), None, True) for l in entry.get("caused_by") or []],
                        "behind": {b["id"]: b["share"] for b in entry.get("behind") or []},
                    }
            added += [(layer, link) for link in document.get("links") or []]
    for layer, link in added:
        effect = conditions[link["effect"]]
        strength = number(link["strength"], STRENGTH) if "strength" in link else None
        own = layer == effect["layer"] and "share" not in link
        effect["links"].append((link["cause"], strength, link.get("share"), own))
    return conditions


def causes_first(conditions):
    """Every id, causes before effects."""
    order, done = [], set()

    def visit(key):
        if key in done:
            return
        done.add(key)
        for link in sorted(conditions[key]["links"]):
            visit(link[0])
        order.append(key)

    for key in sorted(conditions):
        visit(key)
    return order


def handed_on(conditions, key, own):
    """The share of each direct cause, capped, and whether the cap was passed."""
    x = conditions[key]
    r = {}
    for cause, strength, share, of_own_layer in x["links"]:
        if of_own_layer == own:
            r[cause] = share if share is not None else strength * conditions[cause]["b"] / x["b"]
    cap = 0.97 if x["outcome"] else 0.85
    total = sum(r.values())
    if total > cap:
        r = {cause: share * cap / total for cause, share in r.items()}
    return r, total > cap


def add(row, times, other):
    """Adds a multiple of one row to another."""
    for key, share in other.items():
        row[key] = row.get(key, 0.0) + times * share


def rows(conditions):
    """The row of every condition, and the conditions whose links pass the cap."""
    order = causes_first(conditions)
    walks, found, past = {}, {}, []
    for key in order:
        x = conditions[key]
        r, over = handed_on(conditions, key, True)
        past += [key] * over
        walk = {} if x["outcome"] else {key: 1 - sum(r.values())}
        for cause, share in r.items():
            add(walk, share, walks[cause])
        walks[key] = walk
        if not x["behind"]:
            found[key] = dict(walk)
            continue
        stated = dict(x["behind"])
        if not x["outcome"]:
            stated[key] = max(1 - sum(x["behind"].values()), 0)
        found[key] = {}
        add(found[key], 0.85, stated)
        add(found[key], 0.15, walk)
    later = {key: handed_on(conditions, key, False) for key in order}
    past += [key for key in order if later[key][1]]
    met = set()

    def bring_in(key):
        """Later links into one row, after the rows that it needs."""
        if key in met:
            return
        met.add(key)
        before, r = found[key], later[key][0]
        for at in sorted(before):
            if at != key:
                for cause in sorted(later[at][0]):
                    bring_in(cause)
        for cause in sorted(r):
            bring_in(cause)
        q = sum(r.values())
        row = {}
        for at, share in before.items():
            behind = later[at][0] if at != key else {}
            add(row, (1 - q) * share * (1 - sum(behind.values())), {at: 1.0})
            for cause, part in behind.items():
                add(row, (1 - q) * share * part, found[cause])
        for cause, share in r.items():
            add(row, share, found[cause])
        found[key] = row

    for key in sorted(found):
        bring_in(key)
    return found, sorted(past)


def program(layers):
    """The same by the program; the first layer is the shipped one when there is only one."""
    command = [str(BINARY), "check", "--rows", "--no-cases", "--format", "json"]
    if len(layers) > 1:
        command += ["--no-shipped", "--library", str(layers[0]), str(layers[1])]
    with tempfile.TemporaryDirectory() as home:
        environment = {**os.environ, "FAIRWHY_HOME": home}
        out = subprocess.run(command, capture_output=True, text=True, env=environment)
    if out.returncode:
        sys.exit(f"{' '.join(command)}: {out.stdout[:2000]}{out.stderr[:2000]}")
    notes = json.loads(out.stdout)["rows"]
    found = {}
    for row in notes["rows"]:
        found[row["id"]] = {entry["id"]: entry["share"] for entry in row["row"]}
        found[row["id"]][row["id"]] = row["own"]
    return found, sorted(note["id"] for note in notes["past_the_cap"])


def made_up(seed, folder):
    """Two layers: twenty conditions with links and shares, and links that the second adds."""
    rng = random.Random(seed)
    names = [f"c{i:02}" for i in range(20)]
    lists = {"causes": [], "faults": [], "outcomes": []}
    linked = set()
    for i, name in enumerate(names):
        kind = "causes" if i < 5 else "faults" if i < 15 else "outcomes"
        entry = {"id": name, "name": f"Condition {i}", "stage": "strike" if kind == "outcomes" else "setup"}
        if rng.random() < 0.8:
            entry["how_common"] = rng.choice([round(rng.uniform(0.001, 0.95), 3), "rare", "common", "usual"])
        causes = rng.sample(range(i), min(i, rng.randint(0, 4)))
        linked |= {(cause, i) for cause in causes}
        entry["caused_by"] = [
            {"id": names[cause], "strength": rng.choice([*STRENGTH, round(rng.uniform(0.05, 0.95), 2)])} for cause in causes
        ]
        behind = rng.sample(range(min(i, 15)), min(i, 15, rng.randint(0, 3)))
        entry["behind"] = [{"id": names[cause], "share": round(rng.uniform(0.01, 0.33), 2)} for cause in behind]
        lists[kind].append(entry)
    links = []
    for _ in range(8):
        cause, effect = sorted(rng.sample(range(20), 2))
        if cause < 15 and (cause, effect) not in linked:
            linked.add((cause, effect))
            how = {"share": round(rng.uniform(0.05, 0.6), 2)} if rng.random() < 0.6 else {"strength": rng.choice([*STRENGTH])}
            links.append({"cause": names[cause], "effect": names[effect], **how})
    layers = [folder / "one", folder / "two"]
    for layer, document in zip(layers, (lists, {"links": links})):
        layer.mkdir()
        (layer / "a.yaml").write_text(yaml.safe_dump(document))
    return layers


def compare(what, layers):
    """The largest difference between the two, and how many entries there are."""
    mine, past = rows(read(layers))
    theirs, their_past = program(layers)
    if mine.keys() != theirs.keys():
        sys.exit(f"{what}: other conditions: {sorted(mine.keys() ^ theirs.keys())[:5]}")
    if past != their_past:
        sys.exit(f"{what}: other links pass the cap: {past} against {their_past}")
    worst, entries = 0.0, 0
    for key, row in mine.items():
        for cause in row.keys() | theirs[key].keys():
            difference = abs(row.get(cause, 0.0) - theirs[key].get(cause, 0.0))
            entries += 1
            worst = max(worst, difference)
            if difference > 2 * TOLERANCE:
                sys.exit(f"{what}: {cause} behind {key}: {row.get(cause, 0.0)} against {theirs[key].get(cause, 0.0)}")
        if sum(row.values()) > 1 + TOLERANCE or min(row.values(), default=0) < 0:
            sys.exit(f"{what}: the row of {key} is no row: {row}")
    return worst, entries


def main():
    """Compares everything; what is below 1e-12 the program does not show."""
    worst, entries = compare("shipped", [ROOT / "knowledge"])
    print(f"shipped library: {entries} entries, largest difference {worst:.1e}")
    for seed in range(12):
        with tempfile.TemporaryDirectory() as folder:
            other, more = compare(f"library {seed}", made_up(seed, pathlib.Path(folder)))
            worst, entries = max(worst, other), entries + more
    print(f"with twelve of two layers: {entries} entries, largest difference {worst:.1e}")


if __name__ == "__main__":
    main()
