//! Every code a problem can carry. A code once published keeps its meaning.

use super::problem::Severity::{self, Error, Warning};

/// A code, how heavy it weighs, and what it says in general; sorted by code.
pub const CODES: &[(&str, Severity, &str)] = &[
    (
        "after-cycle",
        Error,
        "drills that each want another of them done first",
    ),
    (
        "after-itself",
        Error,
        "a drill that is to come after itself",
    ),
    (
        "alias-ambiguous",
        Warning,
        "words that mean two entries which can be met in the same lesson",
    ),
    (
        "alias-repeated",
        Warning,
        "a name or alias that the entry already has",
    ),
    (
        "anchor-or-alias",
        Error,
        "a word that starts with `&` or `*`",
    ),
    (
        "bad-id",
        Error,
        "an id that is not lower-case words with single hyphens",
    ),
    (
        "behind-itself",
        Error,
        "a condition named as being behind itself",
    ),
    (
        "behind-outcome",
        Error,
        "an outcome named as being behind something",
    ),
    (
        "behind-sum",
        Error,
        "shares behind one finding that add up to more than 1",
    ),
    (
        "behind-twice",
        Error,
        "the same condition twice behind one finding",
    ),
    (
        "behind-unlinked",
        Warning,
        "something behind a finding that no chain of causes leads from",
    ),
    (
        "body-words",
        Error,
        "words about the body that take away from earlier ones, or go in a circle",
    ),
    ("case-expects-nothing", Warning, "a case that cannot fail"),
    (
        "case-unusable",
        Error,
        "a case with nothing seen, a contradiction, or an impossible rank",
    ),
    (
        "caution-dropped",
        Error,
        "an entry that replaces another and leaves out its pain, referral, caution or `not_with` without saying why",
    ),
    ("common-and-leak", Error, "both `how_common` and `leak`"),
    ("cycle", Error, "causes that go in a circle"),
    (
        "dose",
        Error,
        "a dose that nobody could do; a warning when a rehearsal has balls",
    ),
    (
        "drill-against-pain",
        Error,
        "a remedy other than a referral that treats a pain",
    ),
    ("empty-item", Error, "an item of a list with nothing in it"),
    (
        "empty-library",
        Error,
        "a folder without a single library file",
    ),
    ("empty-step", Error, "a step with nothing in it"),
    ("empty-text", Error, "a name or citation with nothing in it"),
    (
        "empty-value",
        Warning,
        "a key with nothing after it; it counts as left out",
    ),
    ("file-too-large", Error, "a file above the size limit"),
    (
        "file-unreadable",
        Error,
        "a file that the system does not let us read",
    ),
    ("folder-missing", Error, "a folder that is not there"),
    (
        "folder-unreadable",
        Error,
        "a folder that the system does not let us read",
    ),
    (
        "folders-too-deep",
        Error,
        "folders too deep inside one another",
    ),
    (
        "forbidden-character",
        Error,
        "a control character, or one that turns the direction of writing",
    ),
    ("id-twice", Error, "two entries of one id"),
    (
        "key-not-text",
        Error,
        "a list, a group or nothing where a key belongs",
    ),
    ("key-twice", Error, "the same key twice in one entry"),
    (
        "left-or-right",
        Warning,
        "text that depends on which hand a player leads with",
    ),
    (
        "library-too-large",
        Error,
        "a library above the limits on files, size or values",
    ),
    (
        "link-not-followed",
        Warning,
        "a link in the folder that leads out of it",
    ),
    (
        "link-twice",
        Error,
        "the same cause of the same effect twice",
    ),
    ("missing-key", Error, "a key that the entry must have"),
    (
        "name-too-long",
        Error,
        "a name or alias of more than 160 characters",
    ),
    (
        "near-copy",
        Warning,
        "a drill that says nearly the same as another",
    ),
    (
        "no-basis",
        Warning,
        "a strength, effect, measure or cost that rests on nothing named",
    ),
    (
        "no-cause",
        Warning,
        "an outcome that nothing is said to cause",
    ),
    (
        "no-check",
        Warning,
        "a drill that does not say how the student knows that it worked",
    ),
    (
        "no-remedy",
        Warning,
        "a fault or cause with no remedy and nothing upstream",
    ),
    ("no-steps", Warning, "a drill without steps"),
    (
        "not-a-file",
        Warning,
        "a pipe or a device in the folder with a library file's name",
    ),
    ("not-a-folder", Error, "a file where a folder belongs"),
    ("not-on-list", Error, "a word that is not on a closed list"),
    ("not-utf-8", Error, "a file that is not plain UTF-8 text"),
    (
        "nothing-links-here",
        Warning,
        "a fault or cause that brings nothing about",
    ),
    (
        "off-scale",
        Error,
        "a word that is not on its scale, or a number that is not between 0 and 1",
    ),
    (
        "opposite-of-itself",
        Error,
        "a condition named as its own opposite",
    ),
    (
        "out-of-range",
        Error,
        "a share, cost or measuring error outside its range",
    ),
    (
        "range-reversed",
        Error,
        "a sound range with the higher number first",
    ),
    (
        "referral-at-speed",
        Error,
        "a referral, which sends to a professional, with a `ladder` of half speed or more",
    ),
    (
        "replaces-nothing",
        Error,
        "a `replaces` that no earlier layer has",
    ),
    (
        "replaces-other",
        Error,
        "a `replaces` that is not the entry's own id",
    ),
    (
        "replaces-other-kind",
        Error,
        "a drill that replaces a condition, or the reverse",
    ),
    (
        "replaces-own-layer",
        Error,
        "a `replaces` of an entry of the same layer",
    ),
    (
        "retired-for-nothing",
        Error,
        "a retired entry whose heir is not there",
    ),
    (
        "retired-id-reused",
        Error,
        "a new entry with the id of a retired one",
    ),
    (
        "retired-in-a-circle",
        Error,
        "retired entries that point at each other",
    ),
    ("retired-link", Warning, "a link to a retired entry"),
    (
        "same-twice",
        Warning,
        "an entry that two layers hold word for word; it is taken once",
    ),
    ("several-documents", Error, "a second document in one file"),
    (
        "share-and-strength",
        Error,
        "a link with both a share and a strength",
    ),
    (
        "tag",
        Error,
        "a word that starts with `!`, or a line that starts with `%`",
    ),
    ("told-twice", Error, "the same fact twice under `told`"),
    (
        "too-deep",
        Error,
        "lists and keys too deep inside one another",
    ),
    ("too-many-problems", Error, "more errors than are listed"),
    ("too-many-values", Error, "a file above the limit on values"),
    (
        "too-many-warnings",
        Warning,
        "more warnings than are listed",
    ),
    (
        "treats-and-aggravates",
        Error,
        "a drill said to treat a condition and to make it worse",
    ),
    ("treats-nothing", Error, "a drill that treats nothing"),
    (
        "treats-twice",
        Error,
        "the same condition twice under `treats`",
    ),
    ("unit-clash", Error, "two units for one quantity"),
    ("unknown-id", Error, "an id that no entry has"),
    (
        "unknown-key",
        Error,
        "a key or list that the format does not know",
    ),
    (
        "unreadable-entry",
        Error,
        "an entry that cannot be read for a reason without a code",
    ),
    ("unused-source", Warning, "a source that nothing names"),
    (
        "wrong-kind",
        Error,
        "a drill where a condition belongs, or the reverse",
    ),
    (
        "wrong-type",
        Error,
        "a list, a group, a number or one text where another of these belongs",
    ),
    (
        "yaml-syntax",
        Error,
        "text that cannot be told into keys, lists and values",
    ),
];
