"""Scores of a small corpus by rank_bm25, for tests/search/ranking.rs.

rank_bm25 (Dorian Brown, PyPI) computes BM25 as Robertson and Zaragoza (2009) give it, with k1 and b
free. Its inverse document frequency may fall below zero; ours has one added inside the logarithm, as
full-text engines do, so that one function is replaced here and all the rest is the library's.

    python tests/search/bm25.py            writes bm25.json beside this file
    python tests/search/bm25.py --check    fails when bm25.json says anything else
"""

import json
import math
import sys
from pathlib import Path

from rank_bm25 import BM25Okapi

# Words whose stem is the word itself, so that stemming plays no part.
DOCUMENTS = [
    "towel under lead foot press towel turn",
    "stick on chest turn chest turn slow",
    "ball back chip ball chip chip land spot",
    "grip thumb short grip soft grip count",
    "lead foot press turn hip turn hip hip",
    "spot chip land towel spot",
    "putt soft grip putt line string line putt line",
    "slow turn",
    "string line stick line ball",
    "hip chest shoulder arm wrist club club club club",
]
QUERIES = [
    "towel",
    "turn",
    "lead foot press",
    "chip land spot towel",
    "line",
    "club turn",
    "grip soft putt",
    "hip hip turn",
    "nothing here",
]
STORE = Path(__file__).with_name("bm25.json")


class Bm25(BM25Okapi):
    def _calc_idf(self, nd):
        for word, n in nd.items():
            self.idf[word] = math.log(1 + (self.corpus_size - n + 0.5) / (n + 0.5))


def table():
    ranking = Bm25([text.split() for text in DOCUMENTS], k1=1.2, b=0.75)
    queries = []
    for words in QUERIES:
        # A word typed twice is asked once.
        scores = ranking.get_scores(list(dict.fromkeys(words.split())))
        queries.append({"words": words, "scores": [round(float(s), 9) for s in scores]})
    return {"documents": DOCUMENTS, "queries": queries}


made = table()
if "--check" in sys.argv:
    stored = json.loads(STORE.read_text())
    same = stored["documents"] == made["documents"] and all(
        a["words"] == b["words"]
        and all(math.isclose(x, y, abs_tol=1e-8) for x, y in zip(a["scores"], b["scores"], strict=True))
        for a, b in zip(stored["queries"], made["queries"], strict=True)
    )
    if not same:
        sys.exit(f"{STORE} is not what rank_bm25 says; run this script without --check")
    print(f"{STORE.name}: {len(made['queries'])} queries as stored")
else:
    STORE.write_text(json.dumps(made, indent=1) + "\n")
