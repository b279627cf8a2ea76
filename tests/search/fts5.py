"""The same texts and queries as `cargo bench --bench search -- --write DIR`, asked of SQLite FTS5.

    python tests/search/fts5.py DIR

FTS5 ranks by BM25 with its Porter stemmer; a query is its words joined by OR, as in the bench's
plain ranking. Times are medians; sqlite3 is the standard library's, in memory.
"""

import re
import sqlite3
import statistics
import sys
import time
from pathlib import Path

folder = Path(sys.argv[1])
queries = (folder / "queries.txt").read_text().splitlines()
print("SQLite", sqlite3.sqlite_version)
for path in sorted(folder.glob("drills-*.txt"), key=lambda p: int(re.search(r"\d+", p.name)[0])):
    texts = path.read_text().splitlines()
    start = time.perf_counter()
    db = sqlite3.connect(":memory:")
    db.execute("create virtual table drills using fts5(text, tokenize='porter unicode61', content='')")
    db.executemany("insert into drills(rowid, text) values (?, ?)", enumerate(texts, 1))
    db.execute("insert into drills(drills) values ('optimize')")
    print(f"{len(texts)} drills: build the index {1e3 * (time.perf_counter() - start):.1f} ms")
    for words in queries:
        asked = " OR ".join(f'"{word}"' for word in re.findall(r"\w+", words))
        took = []
        for _ in range(21):
            start = time.perf_counter()
            db.execute(
                "select rowid, bm25(drills) from drills where drills match ? order by rank limit 10",
                (asked,),
            ).fetchall()
            took.append(time.perf_counter() - start)
        print(f"  {words:34} {1e3 * statistics.median(took):9.2f} ms")
