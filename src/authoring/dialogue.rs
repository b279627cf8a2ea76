//! Asking somebody for a line, and for one of several things.

use serde_json::Value;

/// Somebody who can be asked.
pub trait Respondent {
    /// Says a line.
    fn say(&mut self, text: &str);
    /// Asks for a line; `None` when there is nobody left to answer.
    fn ask(&mut self, prompt: &str) -> Option<String>;
    /// Is told all that has been answered so far, as [`super::Guide::take_up`] takes it, after each answer.
    fn keep(&mut self, _answers: &Value) {}
}

/// What came of a prompt.
pub(super) enum Prompted<T> {
    Got(T),
    None,
    Out,
    Back,
    Quit,
}

impl<T> Prompted<T> {
    pub(super) fn map<U>(self, with: impl FnOnce(T) -> U) -> Prompted<U> {
        match self {
            Prompted::Got(value) => Prompted::Got(with(value)),
            Prompted::None => Prompted::None,
            Prompted::Out => Prompted::Out,
            Prompted::Back => Prompted::Back,
            Prompted::Quit => Prompted::Quit,
        }
    }
}

/// One line, with what every prompt takes instead of an answer.
pub(super) fn line(dialogue: &mut dyn Respondent, prompt: &str) -> Prompted<String> {
    let Some(line) = dialogue.ask(prompt) else {
        return Prompted::Quit;
    };
    match line.trim() {
        "" => Prompted::None,
        "<" => Prompted::Back,
        "-" => Prompted::Out,
        "q!" => Prompted::Quit,
        line => Prompted::Got(line.to_owned()),
    }
}

/// A list, unless it is empty.
pub(super) fn gathered(lines: Vec<String>) -> Prompted<Value> {
    if lines.is_empty() {
        Prompted::None
    } else {
        Prompted::Got(Value::from(lines))
    }
}

/// One of what is offered; the only one is taken and said.
pub(super) fn choose(
    words: &str,
    offers: Vec<(String, String)>,
    dialogue: &mut dyn Respondent,
) -> Prompted<String> {
    match offers.as_slice() {
        [] => {
            dialogue.say(&format!(
                "Nothing in the library is called `{words}`; try another part of its name."
            ));
            Prompted::None
        }
        [(id, name)] => {
            dialogue.say(&format!("  {name}"));
            Prompted::Got(id.clone())
        }
        many => {
            for (number, (_, name)) in many.iter().enumerate() {
                dialogue.say(&format!("  {}  {name}", number + 1));
            }
            loop {
                match line(dialogue, "  Which one? (number, Enter for none) > ") {
                    Prompted::Got(line) => {
                        let number: usize = line.parse().unwrap_or_default();
                        if let Some((id, _)) = number.checked_sub(1).and_then(|at| many.get(at)) {
                            return Prompted::Got(id.clone());
                        }
                        dialogue.say(&format!("Write a number from 1 to {}.", many.len()));
                    }
                    other => return other,
                }
            }
        }
    }
}
