"""The texts and queries of `cargo bench --bench search`, asked of SQLite FTS5; the bench starts this.

    python3 tests/search/fts5.py DIR

DIR holds `drills-N.txt`, one drill a line, and `queries.txt`. FTS5 ranks by BM25 with its Porter
stemmer; a query is its words joined by OR, as in the bench's plain ranking. The database is in memory.
Prints JSON: for each N the build, and for each query the median of batches, in milliseconds of the
processor.
"""

import json
import re
import sqlite3
import statistics
import sys
import time
from pathlib import Path

BATCH, BATCHES = 3, 9

folder = Path(sys.argv[1])
queries = (folder / "queries.txt").read_text().splitlines()
sizes = {}
for path in folder.glob("drills-*.txt"):
    texts = path.read_text().split("\n")[:-1]
    start = time.process_time()
    db = sqlite3.connect(":memory:")
    db.execute("create virtual table drills using fts5(text, tokenize='porter unicode61', content='')")
    db.executemany("insert into drills(rowid, text) values (?, ?)", enumerate(texts, 1))
    db.execute("insert into drills(drills) values ('optimize')")
    build = time.process_time() - start
    query_ms = []
    for words in queries:
        asked = " OR ".join(f'"{word}"' for word in re.findall(r"\w+", words))
        took = []
        for _ in range(BATCHES):
            start = time.process_time()
            for _ in range(BATCH):
                db.execute(
                    "select rowid, bm25(drills) from drills where drills match ? order by rank limit 10",
                    (asked,),
                ).fetchall()
            took.append((time.process_time() - start) / BATCH)
        query_ms.append(1e3 * statistics.median(took))
    sizes[str(len(texts))] = {"build_ms": 1e3 * build, "query_ms": query_ms}
print(json.dumps({"sqlite": sqlite3.sqlite_version, "sizes": sizes}))
