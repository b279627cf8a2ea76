//! BM25 as the index computes it, against rank_bm25: `tests/search/bm25.py` made `bm25.json`.

use fairwhy::search::PlainIndex;
use serde::Deserialize;

#[derive(Deserialize)]
struct Reference {
    documents: Vec<String>,
    queries: Vec<Query>,
}

#[derive(Deserialize)]
struct Query {
    words: String,
    scores: Vec<f64>,
}

/// The index computes in single precision: relative differences of some 1e-7 add up over a handful
/// of words. Field lengths are exact up to 40 words, and these texts are shorter.
const TOLERANCE: f64 = 1e-5;

#[test]
fn bm25_is_what_an_independent_implementation_says() {
    let reference: Reference =
        serde_json::from_str(include_str!("bm25.json")).expect("the file is well-formed");
    let index = PlainIndex::new(reference.documents.iter().map(String::as_str)).expect("memory");
    let mut compared = 0;
    for query in &reference.queries {
        let found = index.search(&query.words, 100).expect("a query");
        for (document, expected) in query.scores.iter().enumerate() {
            let score = found
                .iter()
                .find(|(number, _)| *number == document)
                .map_or(0.0, |f| f.1);
            assert!(
                (score - expected).abs() <= TOLERANCE * expected.max(1.0),
                "{}: document {document}: {score} against {expected}",
                query.words
            );
            compared += 1;
        }
    }
    assert_eq!(
        compared,
        reference.documents.len() * reference.queries.len()
    );
}
