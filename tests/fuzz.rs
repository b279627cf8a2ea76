//! Bytes from anyone: no panic, no runaway memory.
//!
//! Inputs are good ones with damage done to them, drawn from a fixed seed, run in a child process
//! that the system holds to a bounded address space. `FAIRWHY_FUZZ_ROUNDS` and `FAIRWHY_FUZZ_SEED`
//! ask for more and for others; `tests/fuzz/guided.rs` looks further.

#[path = "fuzz/targets.rs"]
mod targets;

use fairwhy::authoring::{EntryKind, template};
use fairwhy::knowledge::shipped;
use rand::seq::IndexedRandom as _;
use rand::{Rng as _, SeedableRng as _};
use rand_pcg::Pcg64;
use std::path::PathBuf;
use std::process::Command;
use targets::{SMALL, TARGETS};

/// Inputs a target gets unless more are asked for.
const ROUNDS: u64 = 400;
/// What a child may map, in KiB. The program, its threads and the indices of a small library take
/// about a fifth of it.
const MOST_KIB: u64 = 1 << 20;
/// No input grows beyond this by being damaged, in bytes.
const LONGEST: usize = 60_000;

/// What means something to a reader, or is known to upset one.
const TOKENS: &[&str] = &[
    ": ",
    "- ",
    "\n  - ",
    "{",
    "}",
    "[",
    "]",
    "[[[[[[[[",
    "{{{{",
    "&a ",
    "*a",
    "<<: *a",
    "!!binary ",
    "|\n",
    ">-\n",
    "'",
    "\"",
    "\\",
    "\\u0000",
    "#",
    "---\n",
    "...\n",
    "%YAML 1.1\n",
    "? ",
    "\t",
    "\r\n",
    "\u{feff}",
    "\0",
    "\u{85}",
    "\u{2028}",
    "\u{202e}",
    "\u{1b}[2J",
    "\u{7}",
    "\u{301}",
    "\u{1f3cc}\u{200d}\u{2642}",
    "ﷺ",
    "ß",
    "İ",
    "~",
    "null",
    "true",
    ".nan",
    ".inf",
    "-.inf",
    "1e999",
    "0x7fffffffffffffff",
    "18446744073709551616",
    "-1",
    "0.0",
    "1.0",
    "0.999999999999999999",
    "id: ",
    "name: ",
    "drills:\n",
    "faults:\n",
    "links:\n",
    "treats: [{id: hangs-back}]",
    "replaces: hangs-back",
    "retired_for: hangs-back",
    "caused_by: [{id: thud, strength: 0.5}]",
    "after: [slow-step]",
    "effect: certain",
    " not ",
    " and ",
    " left ",
    "hook",
    "n't",
    "\"quoted\"",
];

/// Good inputs of a target, to do damage to.
fn seeds(target: &str) -> Vec<Vec<u8>> {
    let mut texts: Vec<String> = EntryKind::ALL
        .iter()
        .map(|kind| template(*kind).to_owned())
        .collect();
    texts.push(SMALL.to_owned());
    let files = shipped().files;
    // A piece of each shipped file: whole entries, so that they are read and not only refused.
    for file in &files {
        let lines: Vec<&str> = file.text.lines().collect();
        let entries = lines.iter().enumerate().skip(2);
        let mut ends = entries.filter(|(_, line)| line.trim_start().starts_with("- id:"));
        if let Some((end, _)) = ends.nth(2) {
            texts.push(lines[..end].join("\n") + "\n");
        }
    }
    match target {
        "library" | "indexed" | "shared" | "draft" => {
            texts.into_iter().map(String::into_bytes).collect()
        }
        "query" => PHRASES
            .iter()
            .map(|words| {
                [
                    b"\xff\xff\0\xff\xff\xff\xff\0",
                    words.as_bytes(),
                    b"\0towel,stick",
                ]
                .concat()
            })
            .collect(),
        _ => PHRASES
            .iter()
            .map(|words| words.as_bytes().to_vec())
            .collect(),
    }
}

const PHRASES: &[&str] = &[
    "hangs back",
    "fat from the tee, not thin",
    "starts left and curves left",
    "step thru w/ a towel",
    "two-way miss & no low point; heavy!",
    "sore lower back",
    "чизкейк",
    "かかとを上げる",
];

/// A good input with up to twelve pieces of damage.
fn damaged(seeds: &[Vec<u8>], random: &mut Pcg64) -> Vec<u8> {
    let mut bytes = seeds.choose(random).cloned().unwrap_or_default();
    for _ in 0..random.random_range(1..=12) {
        let at = random.random_range(0..=bytes.len());
        let end = (at + random.random_range(0..=40)).min(bytes.len());
        match random.random_range(0..8) {
            0 => drop(bytes.drain(at..end)),
            1 if at < bytes.len() => bytes[at] ^= 1 << random.random_range(0..8),
            2 => {
                let noise: Vec<u8> = (0..random.random_range(1..20))
                    .map(|_| random.random())
                    .collect();
                drop(bytes.splice(at..end, noise));
            }
            3 => {
                let other = seeds.choose(random).cloned().unwrap_or_default();
                let from = random.random_range(0..=other.len());
                let to = (from + random.random_range(0..200)).min(other.len());
                drop(bytes.splice(at..at, other[from..to].iter().copied()));
            }
            4 => {
                let times = 1 << random.random_range(0..12);
                let piece = bytes[at..end].repeat(times);
                drop(bytes.splice(at..at, piece));
            }
            5 => {
                let token = TOKENS.choose(random).copied().unwrap_or_default();
                drop(bytes.splice(
                    at..at,
                    token.repeat(1 << random.random_range(0..12)).into_bytes(),
                ));
            }
            _ => {
                let token = TOKENS.choose(random).copied().unwrap_or_default();
                drop(bytes.splice(at..end, token.bytes()));
            }
        }
        bytes.truncate(LONGEST);
    }
    bytes
}

/// A number from the environment.
fn asked(name: &str, otherwise: u64) -> u64 {
    std::env::var(name)
        .ok()
        .and_then(|set| set.parse().ok())
        .unwrap_or(otherwise)
}

/// Where the input at hand is kept, so that it is still there when its child is not.
fn kept(target: &str) -> PathBuf {
    PathBuf::from(env!("CARGO_TARGET_TMPDIR")).join(format!("fuzz-{target}.input"))
}

/// Runs by itself in a bounded process; see [`in_a_bounded_process`].
#[test]
#[ignore = "the child of the other tests"]
fn rounds() {
    let name = std::env::var("FAIRWHY_FUZZ").unwrap_or_default();
    let Some((_, target)) = TARGETS.iter().find(|(known, _)| *known == name) else {
        return;
    };
    if let Ok(input) = std::env::var("FAIRWHY_FUZZ_INPUT") {
        target(&std::fs::read(input).expect("the input"));
        return;
    }
    let seeds = seeds(&name);
    for seed in &seeds {
        std::fs::write(kept(&name), seed).expect("kept");
        target(seed);
    }
    let mut random = Pcg64::seed_from_u64(asked("FAIRWHY_FUZZ_SEED", 7));
    for _ in 0..asked("FAIRWHY_FUZZ_ROUNDS", ROUNDS) {
        let input = damaged(&seeds, &mut random);
        std::fs::write(kept(&name), &input).expect("kept");
        target(&input);
    }
    std::fs::remove_file(kept(&name)).expect("cleared");
}

/// Where the system has no such limit, only panics are found.
fn in_a_bounded_process(target: &str) {
    let this = std::env::current_exe().expect("a path");
    let mut command = if cfg!(target_os = "linux") {
        let mut shell = Command::new("sh");
        shell
            .args(["-c", &format!("ulimit -v {MOST_KIB} && exec \"$0\" \"$@\"")])
            .arg(this);
        shell
    } else {
        Command::new(this)
    };
    let output = command
        .args(["rounds", "--exact", "--ignored", "--nocapture"])
        .env("FAIRWHY_FUZZ", target)
        .output()
        .expect("runs");
    let said = String::from_utf8_lossy(&output.stdout);
    assert!(
        output.status.success() && said.contains("1 passed"),
        "{target}: {:?}, the input is kept in {}\n{said}{}",
        output.status,
        kept(target).display(),
        String::from_utf8_lossy(&output.stderr)
    );
}

#[test]
fn files_of_a_library() {
    in_a_bounded_process("library");
}

#[test]
fn libraries_that_load() {
    in_a_bounded_process("indexed");
}

#[test]
fn libraries_to_share() {
    in_a_bounded_process("shared");
}

#[test]
fn drafts() {
    in_a_bounded_process("draft");
}

#[test]
fn words_of_a_coach() {
    in_a_bounded_process("words");
}

#[test]
fn searches_for_drills() {
    in_a_bounded_process("query");
}

/// The limit is real: what asks for too much is ended.
#[cfg(target_os = "linux")]
#[test]
fn a_runaway_would_be_noticed() {
    let script = format!("ulimit -v {MOST_KIB} && exec \"$0\" \"$@\"");
    let output = Command::new("sh")
        .args(["-c", &script])
        .arg(std::env::current_exe().expect("a path"))
        .args(["takes_too_much", "--exact", "--ignored"])
        .output()
        .expect("runs");
    assert!(!output.status.success());
}

#[test]
#[ignore = "the child of `a_runaway_would_be_noticed`"]
fn takes_too_much() {
    let bytes = usize::try_from(MOST_KIB * 1024).expect("64 bits");
    assert_ne!(std::hint::black_box(vec![1_u8; bytes]).len(), 0);
}
