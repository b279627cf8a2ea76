//! How people speak of bodies, and of golf in the same words.

use fairwhy::knowledge::{KnowledgeBase, Refer, Strictness, load, shipped};
use fairwhy::words::BodyReader;
use serde::Deserialize;
use std::fs;

#[derive(Deserialize)]
struct Phrases {
    phrases: Vec<Phrase>,
}

#[derive(Deserialize)]
struct Phrase {
    is: Option<Is>,
    label: Option<String>,
    #[serde(alias = "text")]
    says: String,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "kebab-case")]
enum Is {
    Emergency,
    Refer,
    Ask,
    None,
    Golf,
}

impl Phrase {
    fn is(&self) -> Is {
        self.is.unwrap_or(match self.label.as_deref() {
            Some("emergency") => Is::Emergency,
            Some("refer") => Is::Refer,
            Some("old-injury-caution") => Is::Ask,
            Some("none-any-more") => Is::None,
            _ => Is::Golf,
        })
    }
}

fn library() -> KnowledgeBase {
    load(&[shipped()], Strictness::ErrorsOnly)
        .expect("what ships is sound")
        .base
}

fn read(file: &str) -> Vec<Phrase> {
    let text = fs::read_to_string(file).expect("the phrases are there");
    let all: Phrases = serde_yaml::from_str(&text).expect("and well formed");
    all.phrases
}

/// What is read otherwise than meant, a line for each.
fn wrong<'a>(base: &KnowledgeBase, phrases: impl Iterator<Item = &'a Phrase>) -> Vec<String> {
    let reader = BodyReader::new(base);
    let mut wrong = Vec::new();
    for phrase in phrases {
        let read = reader.read(&phrase.says);
        let refer = read.refer();
        let right = match phrase.is() {
            Is::Emergency => refer == Some(Refer::Emergency),
            Is::Refer | Is::Ask => refer.is_some(),
            Is::None | Is::Golf => refer.is_none(),
        };
        if !right {
            let said: Vec<String> = read
                .there
                .iter()
                .map(|c| format!("{} ({})", c.words, c.said))
                .collect();
            wrong.push(format!(
                "{:?}: {:?} read as {said:?}",
                phrase.is(),
                phrase.says
            ));
        }
    }
    wrong
}

#[test]
fn nothing_that_hurts_is_missed_and_golf_is_golf() {
    let base = library();
    let phrases = read("tests/words/body.yaml");
    let wrong = wrong(&base, phrases.iter());
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}
