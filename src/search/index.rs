//! An index in memory over texts that are already cut into stems, ranked by BM25.

use std::path::{Path, PathBuf};
use tantivy::collector::TopDocs;
use tantivy::directory::RamDirectory;
use tantivy::query::{BooleanQuery, BoostQuery, DisjunctionMaxQuery, Occur, Query, TermQuery};
use tantivy::schema::{Field, IndexRecordOption, Schema, TextFieldIndexing, TextOptions};
use tantivy::tokenizer::{TextAnalyzer, Token, TokenStream, Tokenizer, TokenizerManager};
use tantivy::{
    Directory, Index, IndexBuilder, IndexReader, IndexSettings, ReloadPolicy, TantivyDocument, Term,
};

/// Working memory of the one writer; the smallest that holds a shipped library without a flush.
const ARENA: usize = 1_000_000;
/// Our tokenizer, [`Stems`], by name.
const STEMS: &str = "stems";

/// Why an index could not be built or asked; only a lack of memory is known to bring it about.
#[derive(Debug, thiserror::Error)]
#[error("the search index could not be {doing}: {source}")]
pub struct IndexError {
    doing: &'static str,
    source: tantivy::TantivyError,
}

/// A typed word: the stems that it can stand for, with how much each counts.
pub(super) type Alternatives = Vec<(String, f64)>;

/// One segment in memory. Documents are numbered in the order given.
pub(super) struct StemIndex {
    reader: IndexReader,
    fields: Vec<(Field, f32)>,
    directory: RamDirectory,
}

/// The file that says which others make up the index.
const META: &str = "meta.json";

impl StemIndex {
    /// Builds the index. `boosts` has one factor a field, and every document one text a field: its
    /// stems, each with a blank behind it. A stem may be empty: then it counts for the length of the
    /// text and cannot be asked for.
    pub(super) fn new<const N: usize>(
        boosts: [f32; N],
        documents: impl IntoIterator<Item = [String; N]>,
    ) -> Result<Self, IndexError> {
        Self::build(boosts, documents).map_err(|source| IndexError {
            doing: "built",
            source,
        })
    }

    fn build<const N: usize>(
        boosts: [f32; N],
        documents: impl IntoIterator<Item = [String; N]>,
    ) -> tantivy::Result<Self> {
        let (schema, fields) = schema_of(&boosts);
        // An empty manager would lack what tantivy itself asks for; ours comes on top.
        let tokenizers = TokenizerManager::default();
        tokenizers.register(STEMS, TextAnalyzer::builder(Stems::default()).build());
        let settings = IndexSettings {
            docstore_compress_dedicated_thread: false,
            ..IndexSettings::default()
        };
        let directory = RamDirectory::create();
        let mut writer = IndexBuilder::new()
            .schema(schema)
            .settings(settings)
            .tokenizers(tokenizers)
            .single_segment_index_writer(directory.clone(), ARENA)?;
        for texts in documents {
            let mut document = TantivyDocument::default();
            for ((field, _), text) in fields.iter().zip(texts) {
                document.add_text(*field, text);
            }
            writer.add_document(document)?;
        }
        let index = writer.finalize()?;
        Self::opened(&index, fields, directory)
    }

    fn opened(
        index: &Index,
        fields: Vec<(Field, f32)>,
        directory: RamDirectory,
    ) -> tantivy::Result<Self> {
        let reader = index
            .reader_builder()
            .reload_policy(ReloadPolicy::Manual)
            .try_into()?;
        Ok(Self {
            reader,
            fields,
            directory,
        })
    }

    /// Its files, by name.
    pub(super) fn files(&self) -> tantivy::Result<Vec<(String, Vec<u8>)>> {
        let meta = self.reader.searcher().index().load_metas()?;
        let mut paths: Vec<PathBuf> = meta.list_segment_files().into_iter().collect();
        paths.push(PathBuf::from(META));
        paths.sort();
        let mut files = Vec::new();
        for path in paths {
            if self.directory.exists(&path)? {
                let bytes = self.directory.atomic_read(&path)?;
                files.push((path.to_string_lossy().into_owned(), bytes));
            }
        }
        Ok(files)
    }

    /// The index of which these are the files, with a document for each of `documents`; `None` when
    /// they do not make one.
    pub(super) fn of_files(
        boosts: &[f32],
        documents: usize,
        files: Vec<(String, Vec<u8>)>,
    ) -> Option<Self> {
        let (schema, fields) = schema_of(boosts);
        let directory = RamDirectory::create();
        for (path, bytes) in files {
            directory.atomic_write(Path::new(&path), &bytes).ok()?;
        }
        let index = Index::open(directory.clone()).ok()?;
        let whole = index.schema() == schema && index.searchable_segment_metas().ok()?.len() <= 1;
        let opened = Self::opened(&index, fields, directory).ok()?;
        (whole && opened.reader.searcher().num_docs() == documents as u64).then_some(opened)
    }

    /// The best `limit` documents for the typed words, with their BM25 scores; ties in the order in
    /// which they were given. A word counts once, by the best of what it can stand for in the best
    /// field.
    pub(super) fn search(
        &self,
        words: &[Alternatives],
        limit: usize,
    ) -> Result<Vec<(usize, f64)>, IndexError> {
        self.ask(words, limit).map_err(|source| IndexError {
            doing: "asked",
            source,
        })
    }

    fn ask(&self, words: &[Alternatives], limit: usize) -> tantivy::Result<Vec<(usize, f64)>> {
        let clauses: Vec<(Occur, Box<dyn Query>)> = words
            .iter()
            .filter(|alternatives| !alternatives.is_empty())
            .map(|alternatives| (Occur::Should, self.any_of(alternatives)))
            .collect();
        if clauses.is_empty() || limit == 0 {
            return Ok(Vec::new());
        }
        let searcher = self.reader.searcher();
        let found = searcher.search(
            &BooleanQuery::new(clauses),
            &TopDocs::with_limit(limit).order_by_score(),
        )?;
        // One segment, filled in order: the document's number in it is the ordinal.
        Ok(found
            .into_iter()
            .map(|(score, address)| (address.doc_id as usize, f64::from(score)))
            .collect())
    }

    fn any_of(&self, alternatives: &[(String, f64)]) -> Box<dyn Query> {
        let mut queries: Vec<Box<dyn Query>> = Vec::new();
        for (stem, weight) in alternatives {
            for (field, boost) in &self.fields {
                let term = TermQuery::new(
                    Term::from_field_text(*field, stem),
                    IndexRecordOption::WithFreqs,
                );
                #[allow(clippy::cast_possible_truncation, reason = "a factor between 0 and 10")]
                let factor = *boost * *weight as f32;
                queries.push(Box::new(BoostQuery::new(Box::new(term), factor)));
            }
        }
        Box::new(DisjunctionMaxQuery::new(queries))
    }
}

/// One field for each boost.
fn schema_of(boosts: &[f32]) -> (Schema, Vec<(Field, f32)>) {
    let mut schema = Schema::builder();
    let options = TextOptions::default().set_indexing_options(
        TextFieldIndexing::default()
            .set_tokenizer(STEMS)
            .set_index_option(IndexRecordOption::WithFreqs),
    );
    let mut fields = Vec::new();
    for (number, boost) in boosts.iter().enumerate() {
        let field = schema.add_text_field(&format!("text{number}"), options.clone());
        fields.push((field, *boost));
    }
    (schema.build(), fields)
}

/// Stems come in ready, each with one blank behind it.
#[derive(Clone, Default)]
struct Stems {
    token: Token,
}

struct StemStream<'a> {
    rest: &'a str,
    token: &'a mut Token,
}

impl Tokenizer for Stems {
    type TokenStream<'a> = StemStream<'a>;

    fn token_stream<'a>(&'a mut self, text: &'a str) -> StemStream<'a> {
        self.token.reset();
        StemStream {
            rest: text,
            token: &mut self.token,
        }
    }
}

impl TokenStream for StemStream<'_> {
    fn advance(&mut self) -> bool {
        let Some(end) = self.rest.bytes().position(|b| b == b' ') else {
            return false;
        };
        self.token.text.clear();
        self.token.text.push_str(&self.rest[..end]);
        self.token.position = self.token.position.wrapping_add(1);
        self.rest = &self.rest[end + 1..];
        true
    }

    fn token(&self) -> &Token {
        self.token
    }

    fn token_mut(&mut self) -> &mut Token {
        self.token
    }
}
