//! Which file names which, by the paths in its code: `use` lines, and paths that begin with `crate` or
//! `super` elsewhere. What a `mod.rs` hands on counts as the file that it comes from. A method that is called
//! on a value is not seen, nor what a macro makes, nor what a test at the end of a file names.

use super::source::{before_tests, code, files};
use petgraph::algo::tarjan_scc;
use petgraph::graph::{DiGraph, NodeIndex};
use std::collections::{BTreeMap, BTreeSet};

/// The one room in which files still name each other: there a clause is read by what reads numbers, and a
/// number by what reads clauses.
const STILL: &str = "words";

/// The modules of the source, each with its code.
struct Modules {
    code: BTreeMap<Vec<String>, String>,
    /// What a module hands on, by name, with the path that it writes for it.
    handed_on: BTreeMap<Vec<String>, BTreeMap<String, Vec<String>>>,
}

/// Every path in a use tree: `a::{b, c::{d, e}}` has three.
fn spread(before: &str, tree: &str, paths: &mut Vec<Vec<String>>) {
    let tree = tree.trim();
    let Some((head, rest)) = tree.split_once('{') else {
        let tree = tree.split(" as ").next().unwrap_or(tree);
        let path = format!("{before}{tree}");
        paths.push(
            path.split("::")
                .map(|part| part.trim().to_owned())
                .collect(),
        );
        return;
    };
    let before = format!("{before}{head}");
    let inner = rest.rsplit_once('}').map_or(rest, |(inner, _)| inner);
    let (mut depth, mut from) = (0, 0);
    for (at, c) in inner.char_indices().chain([(inner.len(), ',')]) {
        match c {
            '{' => depth += 1,
            '}' => depth -= 1,
            ',' if depth == 0 => {
                if !inner[from..at].trim().is_empty() {
                    spread(&before, &inner[from..at], paths);
                }
                from = at + 1;
            }
            _ => {}
        }
    }
}

/// The use trees of a text with what stands before the word `use` in their line.
fn trees(code: &str) -> Vec<(&str, &str)> {
    let uses = code.match_indices("use ").filter_map(|(at, _)| {
        let line = code[..at].rsplit('\n').next().unwrap_or_default().trim();
        let own = line.is_empty() || line.starts_with("pub");
        let tree = code[at + 4..].split(';').next()?;
        own.then_some((line, tree))
    });
    uses.collect()
}

/// Paths that begin with `crate` or `super`, wherever they stand.
fn inline(code: &str, paths: &mut Vec<Vec<String>>) {
    for begin in ["crate::", "super::"] {
        for (at, _) in code.match_indices(begin) {
            let end = code[at..].find(|c: char| !(c.is_alphanumeric() || matches!(c, '_' | ':')));
            let path = &code[at..end.map_or(code.len(), |end| at + end)];
            let before = code[..at].chars().next_back();
            // A tree is spread where it is used.
            if path.ends_with("::") || before.is_some_and(|c| c == ':' || c.is_alphanumeric()) {
                continue;
            }
            let parts = path.split("::").filter(|part| !part.is_empty());
            paths.push(parts.map(str::to_owned).collect());
        }
    }
}

impl Modules {
    fn of_the_source() -> Self {
        let mut modules = Self {
            code: BTreeMap::new(),
            handed_on: BTreeMap::new(),
        };
        for file in files() {
            if matches!(file.name.as_str(), "main.rs" | "build.rs") {
                continue;
            }
            let mut path: Vec<String> = file.name[..file.name.len() - 3]
                .split('/')
                .map(str::to_owned)
                .collect();
            let mut code = code(before_tests(&file.text));
            let last = path.last().map(String::as_str);
            if matches!(last, Some("mod" | "lib")) {
                path.pop();
                let mut names = BTreeMap::new();
                let mut own = code.clone();
                for (line, tree) in trees(&code) {
                    if line.starts_with("pub") {
                        let mut paths = Vec::new();
                        spread("", tree, &mut paths);
                        names.extend(paths.into_iter().filter_map(|path| {
                            let name = path.last()?.clone();
                            Some((name, path))
                        }));
                        own = own.replace(tree, "");
                    }
                }
                modules.handed_on.insert(path.clone(), names);
                code = own;
            }
            modules.code.insert(path, code);
        }
        modules
    }

    /// The module that a path names when it is written in `from`; none for what is not ours.
    fn named(&self, from: &[String], path: &[String], depth: usize) -> Option<Vec<String>> {
        let mut path = path.iter();
        let mut here = from.to_vec();
        let first = path.as_slice().first()?;
        match first.as_str() {
            "crate" => {
                here.clear();
                path.next();
            }
            "self" => {
                path.next();
            }
            "super" => {
                while path.as_slice().first().is_some_and(|part| part == "super") {
                    here.pop();
                    path.next();
                }
            }
            _ => {
                here.push(first.clone());
                if !self.code.contains_key(&here) {
                    return None;
                }
                path.next();
            }
        }
        for part in path {
            let mut deeper = here.clone();
            deeper.push(part.clone());
            if self.code.contains_key(&deeper) {
                here = deeper;
                continue;
            }
            let handed_on = self.handed_on.get(&here).and_then(|names| names.get(part));
            if let Some(path) = handed_on.filter(|_| depth < 8) {
                return self.named(&here, path, depth + 1).or(Some(here));
            }
            break;
        }
        Some(here)
    }

    /// Which module names which.
    fn arrows(&self) -> BTreeSet<(String, String)> {
        let mut arrows = BTreeSet::new();
        for (from, code) in &self.code {
            let mut paths = Vec::new();
            for (_, tree) in trees(code) {
                spread("", tree, &mut paths);
            }
            inline(code, &mut paths);
            let named = paths.iter().filter_map(|path| self.named(from, path, 0));
            let others = named.filter(|to| to != from && !to.is_empty());
            arrows.extend(others.map(|to| (from.join("::"), to.join("::"))));
        }
        arrows
    }
}

/// The circles among arrows, each in order of names.
fn circles(arrows: &BTreeSet<(String, String)>) -> Vec<Vec<&str>> {
    let mut graph: DiGraph<&str, ()> = DiGraph::new();
    let mut nodes: BTreeMap<&str, NodeIndex> = BTreeMap::new();
    for (from, to) in arrows {
        let [from, to] = [from, to].map(|name| {
            let node = nodes.entry(name.as_str());
            *node.or_insert_with(|| graph.add_node(name))
        });
        graph.add_edge(from, to, ());
    }
    let several = tarjan_scc(&graph).into_iter().filter(|one| one.len() > 1);
    let names = several.map(|one| {
        let mut names: Vec<&str> = one.into_iter().map(|node| graph[node]).collect();
        names.sort_unstable();
        names
    });
    names.collect()
}

fn room(module: &str) -> &str {
    module.split("::").next().unwrap_or(module)
}

#[test]
fn a_circle_is_found() {
    let arrow = |(from, to): &(&str, &str)| ((*from).to_owned(), (*to).to_owned());
    let arrows = [("a", "b"), ("b", "c"), ("c", "a"), ("c", "d")];
    let arrows = arrows.iter().map(arrow).collect();
    assert_eq!(circles(&arrows), [["a", "b", "c"]]);
    let mut paths = Vec::new();
    spread("", "super::a::{b, c::{d as e, f}}", &mut paths);
    let paths: Vec<String> = paths.iter().map(|path| path.join("::")).collect();
    assert_eq!(paths, ["super::a::b", "super::a::c::d", "super::a::c::f"]);
}

#[test]
fn no_files_go_round_in_a_circle() {
    let arrows = Modules::of_the_source().arrows();
    assert!(arrows.len() > 600, "{} arrows", arrows.len());
    let circles = circles(&arrows);
    let found: Vec<String> = circles
        .iter()
        .filter(|circle| circle.iter().any(|module| room(module) != STILL))
        .map(|circle| circle.join(", "))
        .collect();
    assert!(found.is_empty(), "{}", found.join("\n"));
}

#[test]
fn no_rooms_go_round_in_a_circle() {
    let arrows = Modules::of_the_source().arrows();
    let between = arrows
        .iter()
        .map(|(from, to)| (room(from).to_owned(), room(to).to_owned()))
        .filter(|(from, to)| from != to)
        .collect();
    assert_eq!(circles(&between), Vec::<Vec<&str>>::new());
}
