//! Asking somebody for a line, and for one of several things.

use serde_json::Value;

/// Somebody who can be asked.
pub trait Dialogue {
    /// Says a line.
    fn say(&mut self, text: &str);
    /// Asks for a line; `None` when there is nobody left to answer.
    fn ask(&mut self, prompt: &str) -> Option<String>;
    /// Is told all that has been answered so far, as [`super::Guide::take_up`] takes it, after each answer.
    fn keep(&mut self, _answers: &Value) {}
}

/// What came of a prompt.
pub(super) enum Answer<T> {
    Got(T),
    None,
    Out,
    Back,
    Quit,
}

impl<T> Answer<T> {
    pub(super) fn map<U>(self, with: impl FnOnce(T) -> U) -> Answer<U> {
        match self {
            Answer::Got(value) => Answer::Got(with(value)),
            Answer::None => Answer::None,
            Answer::Out => Answer::Out,
            Answer::Back => Answer::Back,
            Answer::Quit => Answer::Quit,
        }
    }
}

/// One line, with what every prompt takes instead of an answer.
pub(super) fn line(dialogue: &mut dyn Dialogue, prompt: &str) -> Answer<String> {
    let Some(line) = dialogue.ask(prompt) else {
        return Answer::Quit;
    };
    match line.trim() {
        "" => Answer::None,
        "<" => Answer::Back,
        "-" => Answer::Out,
        "q!" => Answer::Quit,
        line => Answer::Got(line.to_owned()),
    }
}

/// A list, unless it is empty.
pub(super) fn gathered(lines: Vec<String>) -> Answer<Value> {
    if lines.is_empty() {
        Answer::None
    } else {
        Answer::Got(Value::from(lines))
    }
}

/// One of what is offered; the only one is taken and said.
pub(super) fn choose(
    words: &str,
    offers: Vec<(String, String)>,
    dialogue: &mut dyn Dialogue,
) -> Answer<String> {
    match offers.as_slice() {
        [] => {
            dialogue.say(&format!(
                "Nothing in the library is called `{words}`; try another part of its name."
            ));
            Answer::None
        }
        [(id, name)] => {
            dialogue.say(&format!("  {name}"));
            Answer::Got(id.clone())
        }
        many => {
            for (number, (_, name)) in many.iter().enumerate() {
                dialogue.say(&format!("  {}  {name}", number + 1));
            }
            loop {
                match line(dialogue, "  Which one? (number, Enter for none) > ") {
                    Answer::Got(line) => {
                        let at = line
                            .parse::<usize>()
                            .ok()
                            .and_then(|number| number.checked_sub(1));
                        match at.and_then(|at| many.get(at)) {
                            Some((id, _)) => return Answer::Got(id.clone()),
                            None => {
                                dialogue.say(&format!("Write a number from 1 to {}.", many.len()))
                            }
                        }
                    }
                    other => return other,
                }
            }
        }
    }
}
