//! A note cut into pieces at its marks.

/// What stands behind a piece.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Mark {
    /// A comma, a bracket, a dash.
    Comma,
    /// A full stop or the like.
    Stop,
    /// A question mark.
    Question,
}

/// A piece of a note between two marks.
#[derive(Clone, Copy, Debug)]
pub(super) struct Piece {
    /// Where it starts in the note, in bytes.
    pub(super) from: usize,
    /// Where it ends.
    pub(super) to: usize,
    /// What stands behind it.
    pub(super) mark: Mark,
}

/// The pieces of a note that have a word in them.
pub(super) fn pieces(text: &str) -> Vec<Piece> {
    let mut pieces = Vec::new();
    let mut from = 0;
    let mut before = ' ';
    let mut chars = text.char_indices().peekable();
    while let Some((at, c)) = chars.next() {
        let after = chars.peek().map_or(' ', |(_, c)| *c);
        let mark = match c {
            // `1.31`, `7:30`, `1,000`.
            '.' | ':' | ',' if before.is_ascii_digit() && after.is_ascii_digit() => None,
            ',' | ';' | ':' | '(' | ')' | '[' | ']' | '{' | '}' | '"' | '\u{201C}' | '\u{201D}'
            | '\u{2013}' | '\u{2014}' | '\u{2026}' | '\u{2022}' | '|' | '\u{2192}' | '>' | '=' => {
                Some(Mark::Comma)
            }
            '-' if before.is_whitespace() && !after.is_ascii_digit() => Some(Mark::Comma),
            '-' if after.is_whitespace() => Some(Mark::Comma),
            '.' | '!' | '\n' => Some(Mark::Stop),
            '?' => Some(Mark::Question),
            _ => None,
        };
        before = c;
        if let Some(mark) = mark {
            push(text, from, at, mark, &mut pieces);
            from = at + c.len_utf8();
        }
    }
    push(text, from, text.len(), Mark::Stop, &mut pieces);
    pieces
}

fn push(text: &str, from: usize, to: usize, mark: Mark, pieces: &mut Vec<Piece>) {
    let part = &text[from..to];
    if !part.chars().any(char::is_alphanumeric) {
        // `...` after a piece ends it all the same.
        if let (Some(last), true) = (pieces.last_mut(), mark != Mark::Comma) {
            last.mark = mark;
        }
        return;
    }
    let start = from + (part.len() - part.trim_start().len());
    let end = to - (part.len() - part.trim_end().len());
    pieces.push(Piece {
        from: start,
        to: end,
        mark,
    });
}

#[cfg(test)]
mod tests {
    use super::*;

    fn texts(text: &str) -> Vec<&str> {
        let pieces = pieces(text).into_iter();
        pieces.map(|piece| &text[piece.from..piece.to]).collect()
    }

    #[test]
    fn marks_part_and_numbers_hold_together() {
        assert_eq!(
            texts("smash only 1.31 driver, heel strike... crowding; good - no"),
            [
                "smash only 1.31 driver",
                "heel strike",
                "crowding",
                "good",
                "no"
            ]
        );
        assert_eq!(
            texts("AoA -8 with 7-iron (w/ driver)"),
            ["AoA -8 with 7-iron", "w/ driver"]
        );
        assert!(texts(&",".repeat(15_000)).is_empty());
    }
}
