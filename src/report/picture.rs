//! The causal chain as a picture: layers from start to symptom.
//!
//! Each condition is a box whose outline and first line say what it is: worked on (a six-sided
//! outline, double), seen (a square one, thick), likely (a rounded one, dashed). Colour carries
//! nothing. The layers come from `rust-sugiyama` (after Gansner et al. 1993); links are drawn as
//! curves from the lower edge of a cause to the upper edge of its effect.

use super::handout::{INK, PAPER, SHADE, html_escaped as escaped, sided_text};
use super::percent::percent;
use crate::diagnosis::Diagnosis;
use crate::knowledge::{ConditionKey, KnowledgeBase};
use crate::plan::Plan;
use rust_sugiyama::configure::Config;
use std::collections::{BTreeMap, BTreeSet};
use std::fmt::Write as _;

/// How many leading causes are drawn beside the priorities.
const CAUSES: usize = 3;
/// How many chains of each.
const CHAINS: usize = 3;
/// Letters a line in a box.
const LETTERS: usize = 22;
/// Width of a box, height of a line, padding, and the space between boxes, in pixels.
const WIDE: f64 = 190.0;
const LINE: f64 = 17.0;
const PAD: f64 = 12.0;
const SPACE: f64 = 46.0;
/// Room that a link takes where it passes a layer.
const POINT: f64 = 8.0;
/// Edge of the picture, and room for the key above it.
const EDGE: f64 = 24.0;
const KEY: f64 = 92.0;

/// What a box stands for; the first that applies.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum BoxSort {
    WorkedOn,
    Seen,
    Likely,
}

impl BoxSort {
    fn label(self) -> &'static str {
        match self {
            BoxSort::WorkedOn => "WORK ON",
            BoxSort::Seen => "SEEN",
            BoxSort::Likely => "LIKELY",
        }
    }
}

struct PictureNode {
    key: ConditionKey,
    part: BoxSort,
    lines: Vec<String>,
    x: f64,
    y: f64,
}

impl PictureNode {
    /// A box that is not placed yet.
    fn new(key: ConditionKey, part: BoxSort, label: String, name: &str) -> Self {
        let name = textwrap::wrap(name, LETTERS).into_iter();
        let name = name.map(std::borrow::Cow::into_owned);
        Self {
            key,
            part,
            lines: std::iter::once(label).chain(name).collect(),
            x: 0.0,
            y: 0.0,
        }
    }

    fn height(&self) -> f64 {
        self.lines.len() as f64 * LINE + 2.0 * PAD
    }
}

/// The chains behind what was seen, as an SVG picture with a text alternative; whole by itself.
#[must_use]
pub fn picture(base: &KnowledgeBase, diagnosis: &Diagnosis, plan: &Plan) -> String {
    let links = links(diagnosis, plan);
    let mut nodes = nodes(base, diagnosis, plan, &links);
    let drawing = lay_out(&mut nodes, &links);
    draw(base, &nodes, &links, &drawing)
}

/// Where the links go, and how large it all is without the key.
struct Drawing {
    /// For each link, in order, the points between its ends.
    through: Vec<Vec<(f64, f64)>>,
    width: f64,
    height: f64,
}

/// Every link of the chains that are drawn, from cause to effect.
fn links(diagnosis: &Diagnosis, plan: &Plan) -> BTreeSet<(ConditionKey, ConditionKey)> {
    let worked: Vec<ConditionKey> = plan.priorities.iter().map(|p| p.condition).collect();
    let drawn = diagnosis
        .causes
        .iter()
        .enumerate()
        .filter(|(index, cause)| *index < CAUSES || worked.contains(&cause.condition));
    drawn
        .flat_map(|(_, cause)| cause.chains.iter().take(CHAINS))
        .flat_map(|chain| chain.conditions.windows(2))
        .map(|pair| (pair[0], pair[1]))
        .filter(|(from, to)| from != to)
        .collect()
}

fn nodes(
    base: &KnowledgeBase,
    diagnosis: &Diagnosis,
    plan: &Plan,
    links: &BTreeSet<(ConditionKey, ConditionKey)>,
) -> Vec<PictureNode> {
    let worked: BTreeSet<ConditionKey> = plan.priorities.iter().map(|p| p.condition).collect();
    let seen: BTreeSet<ConditionKey> = diagnosis.findings().collect();
    let causes = diagnosis.causes.iter();
    let chance = causes.map(|cause| (cause.condition, cause.likely_there()));
    let chance: BTreeMap<ConditionKey, f64> = chance.collect();
    let mut all: BTreeSet<ConditionKey> = links.iter().flat_map(|ends| [ends.0, ends.1]).collect();
    all.extend(worked.iter().chain(&seen));
    let node = |key: ConditionKey| {
        let part = if worked.contains(&key) {
            BoxSort::WorkedOn
        } else if seen.contains(&key) {
            BoxSort::Seen
        } else {
            BoxSort::Likely
        };
        let mut label = part.label().to_owned();
        if part == BoxSort::WorkedOn && seen.contains(&key) {
            label.push_str(", SEEN");
        } else if let (false, Some(chance)) = (seen.contains(&key), chance.get(&key)) {
            let _ = write!(label, ", {}", percent(*chance));
        }
        let name = sided_text(&base.condition(key).name, diagnosis.lesson.handed);
        PictureNode::new(key, part, label, &name)
    };
    all.into_iter().map(node).collect()
}

/// Places the centre of every box and every point that a link passes.
fn lay_out(nodes: &mut [PictureNode], links: &BTreeSet<(ConditionKey, ConditionKey)>) -> Drawing {
    let index: BTreeMap<ConditionKey, u32> = nodes.iter().map(|node| node.key).zip(0..).collect();
    let mut sizes: Vec<(f64, f64)> = nodes.iter().map(|node| (WIDE, node.height())).collect();
    let straight: Vec<Vec<u32>> = links
        .iter()
        .map(|(from, to)| vec![index[from], index[to]])
        .collect();
    let (first, _) = placed(&sizes, &straight);
    // The layers of the first layout, top down.
    let mut layers: Vec<f64> = first.iter().map(|(_, y)| *y).collect();
    layers.sort_by(f64::total_cmp);
    layers.dedup_by(|a, b| (*a - *b).abs() < 1.0);
    let layer = |at: u32| {
        let y = first[at as usize].1;
        layers.iter().filter(|other| **other < y - 1.0).count()
    };
    let mut next = index.len()..;
    let routes = straight.iter().map(|ends| {
        let passed = layer(ends[1]).saturating_sub(layer(ends[0]) + 1);
        let mut route = vec![ends[0]];
        for _ in 0..passed {
            sizes.push((POINT, POINT));
            route.extend(next.next().and_then(|at| u32::try_from(at).ok()));
        }
        route.push(ends[1]);
        route
    });
    let routes: Vec<Vec<u32>> = routes.collect();
    let (places, (width, height)) = placed(&sizes, &routes);
    for (node, (x, y)) in nodes.iter_mut().zip(&places) {
        (node.x, node.y) = (*x, *y);
    }
    let passed = |route: &Vec<u32>| {
        let points = route[1..route.len() - 1].iter();
        points.map(|at| places[*at as usize]).collect()
    };
    Drawing {
        through: routes.iter().map(passed).collect(),
        width,
        height,
    }
}

/// The centre of every box, given their sizes and the links along routes of boxes; and the size of
/// it all.
fn placed(sizes: &[(f64, f64)], routes: &[Vec<u32>]) -> (Vec<(f64, f64)>, (f64, f64)) {
    let vertices: Vec<(u32, (f64, f64))> = (0..).zip(sizes.iter().copied()).collect();
    let pairs = routes.iter().flat_map(|route| route.windows(2));
    let edges: Vec<(u32, u32)> = pairs.map(|pair| (pair[0], pair[1])).collect();
    let config = Config {
        vertex_spacing: SPACE,
        ..Config::default()
    };
    let mut parts = rust_sugiyama::from_vertices_and_edges(&vertices, &edges, &config);
    // The order of unconnected parts is the library's affair; the smallest box decides it here.
    for (part, _, _) in &mut parts {
        part.sort_by_key(|(at, _)| *at);
    }
    parts.sort_by_key(|(part, _, _)| part.first().map_or(usize::MAX, |(at, _)| *at));
    let mut places = vec![(0.0, 0.0); sizes.len()];
    let mut left = EDGE;
    let mut bottom: f64 = 0.0;
    for (part, _, _) in parts {
        let (mut low, mut high, mut top) = (f64::MAX, f64::MIN, f64::MAX);
        for (at, (x, y)) in &part {
            let (wide, tall) = sizes[*at];
            low = low.min(x - wide / 2.0);
            high = high.max(x + wide / 2.0);
            top = top.min(y - tall / 2.0);
        }
        for (at, (x, y)) in part {
            places[at] = (x - low + left, y - top + EDGE);
            bottom = bottom.max(places[at].1 + sizes[at].1 / 2.0);
        }
        left += high - low + SPACE;
    }
    let key = 3.0 * WIDE + SPACE + 2.0 * EDGE;
    (places, ((left - SPACE + EDGE).max(key), bottom + EDGE))
}

/// What each sort of box says, above the picture.
fn key_boxes(out: &mut String) {
    let parts = [BoxSort::WorkedOn, BoxSort::Seen, BoxSort::Likely];
    for (at, part) in parts.into_iter().enumerate() {
        let x = EDGE + WIDE / 2.0 + at as f64 * (WIDE + SPACE / 2.0);
        let says = match part {
            BoxSort::WorkedOn => "the lesson works on it",
            BoxSort::Seen => "it was seen",
            BoxSort::Likely => "not seen; how likely",
        };
        let lines = [part.label().to_owned(), says.to_owned()];
        boxed(out, part, &lines, x, EDGE / 2.0 + 29.0);
    }
}

fn draw(
    base: &KnowledgeBase,
    nodes: &[PictureNode],
    links: &BTreeSet<(ConditionKey, ConditionKey)>,
    drawing: &Drawing,
) -> String {
    let (ink, paper) = (INK.css(), PAPER.css());
    let (width, height) = (drawing.width, drawing.height + KEY);
    let mut out = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{width:.0}\" height=\"{height:.0}\" viewBox=\"0 0 {width:.0} {height:.0}\" role=\"img\" aria-labelledby=\"title desc\" font-family=\"Liberation Sans, Arial, Helvetica, sans-serif\" font-size=\"14\">\n<title id=\"title\">Where it starts, and what it leads to</title>\n<desc id=\"desc\">{}</desc>\n<defs><marker id=\"arrow\" viewBox=\"0 0 10 10\" refX=\"9\" refY=\"5\" markerWidth=\"8\" markerHeight=\"8\" orient=\"auto-start-reverse\"><path d=\"M0 0L10 5L0 10z\" fill=\"{ink}\"/></marker></defs>\n<rect width=\"100%\" height=\"100%\" fill=\"{paper}\"/>\n",
        escaped(&described(base, nodes, links))
    );
    key_boxes(&mut out);
    let place: BTreeMap<ConditionKey, &PictureNode> =
        nodes.iter().map(|node| (node.key, node)).collect();
    for ((from, to), through) in links.iter().zip(&drawing.through) {
        let (from, to) = (place[from], place[to]);
        let mut points = vec![(from.x, from.y + from.height() / 2.0)];
        points.extend(through);
        points.push((to.x, to.y - to.height() / 2.0));
        let _ = writeln!(
            out,
            "<path d=\"{}\" fill=\"none\" stroke=\"{ink}\" stroke-width=\"1.5\" marker-end=\"url(#arrow)\"/>",
            curve(&points)
        );
    }
    for node in nodes {
        boxed(&mut out, node.part, &node.lines, node.x, node.y + KEY);
    }
    out.push_str("</svg>\n");
    out
}

/// A curve through points that lie one under the other, upright at each.
fn curve(points: &[(f64, f64)]) -> String {
    let (x, y) = points[0];
    let mut path = format!("M{x:.1} {:.1}", y + KEY);
    for pair in points.windows(2) {
        let ((x0, y0), (x1, y1)) = (pair[0], pair[1]);
        let bend = ((y1 - y0) / 2.0).max(12.0);
        let _ = write!(
            path,
            "C{x0:.1} {:.1} {x1:.1} {:.1} {x1:.1} {:.1}",
            y0 + bend + KEY,
            y1 - bend + KEY,
            y1 + KEY
        );
    }
    path
}

/// A box with its lines, about its centre.
fn boxed(out: &mut String, part: BoxSort, lines: &[String], x: f64, y: f64) {
    let height = if lines.len() == 2 && lines[1].starts_with(char::is_lowercase) {
        // The key's boxes are flat.
        2.0 * LINE + PAD
    } else {
        lines.len() as f64 * LINE + 2.0 * PAD
    };
    outline(out, part, x, y, height);
    let ink = INK.css();
    let first = y - (lines.len() as f64 - 1.0) * LINE / 2.0 + 5.0;
    for (at, line) in lines.iter().enumerate() {
        let bold = if at == 0 {
            " font-weight=\"bold\" font-size=\"12\""
        } else {
            ""
        };
        let _ = writeln!(
            out,
            "<text x=\"{x:.1}\" y=\"{:.1}\" text-anchor=\"middle\" fill=\"{ink}\"{bold}>{}</text>",
            first + at as f64 * LINE,
            escaped(line)
        );
    }
}

/// The shape of a box: each sort has its own, so that it reads without colour.
fn outline(out: &mut String, part: BoxSort, x: f64, y: f64, height: f64) {
    let (ink, paper, shade) = (INK.css(), PAPER.css(), SHADE.css());
    let (left, top) = (x - WIDE / 2.0, y - height / 2.0);
    match part {
        BoxSort::WorkedOn => {
            for inset in [0.0, 4.0] {
                let (l, r) = (left + inset, left + WIDE - inset);
                let (t, b) = (top + inset, top + height - inset);
                let (begin, end) = (l + 12.0, r - 12.0);
                let _ = writeln!(
                    out,
                    "<polygon points=\"{begin:.1},{t:.1} {end:.1},{t:.1} {r:.1},{y:.1} {end:.1},{b:.1} {begin:.1},{b:.1} {l:.1},{y:.1}\" fill=\"{shade}\" stroke=\"{ink}\" stroke-width=\"1.5\"/>"
                );
            }
        }
        BoxSort::Seen => {
            let _ = writeln!(
                out,
                "<rect x=\"{left:.1}\" y=\"{top:.1}\" width=\"{WIDE}\" height=\"{height:.1}\" fill=\"{paper}\" stroke=\"{ink}\" stroke-width=\"3.5\"/>"
            );
        }
        BoxSort::Likely => {
            let _ = writeln!(
                out,
                "<rect x=\"{left:.1}\" y=\"{top:.1}\" width=\"{WIDE}\" height=\"{height:.1}\" rx=\"20\" fill=\"{paper}\" stroke=\"{ink}\" stroke-width=\"1.5\" stroke-dasharray=\"6 4\"/>"
            );
        }
    }
}

/// The picture in words.
fn described(
    base: &KnowledgeBase,
    nodes: &[PictureNode],
    links: &BTreeSet<(ConditionKey, ConditionKey)>,
) -> String {
    let name = |key: &ConditionKey| base.condition(*key).name.as_str();
    let of = |part: BoxSort| {
        nodes
            .iter()
            .filter(|node| node.part == part)
            .map(|node| name(&node.key))
            .collect::<Vec<_>>()
            .join("; ")
    };
    let mut said = String::new();
    for (part, title) in [
        (BoxSort::WorkedOn, "The lesson works on"),
        (BoxSort::Seen, "Seen"),
        (BoxSort::Likely, "Likely"),
    ] {
        let list = of(part);
        if !list.is_empty() {
            let _ = write!(said, "{title}: {list}. ");
        }
    }
    if !links.is_empty() {
        let arrows: Vec<String> = links
            .iter()
            .map(|(from, to)| format!("{} leads to {}", name(from), name(to)))
            .collect();
        let _ = write!(said, "{}.", arrows.join("; "));
    }
    said.trim().to_owned()
}
