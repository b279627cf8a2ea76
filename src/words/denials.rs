//! What bears on something that a note says of the body: whether it is denied, how long ago it was, and
//! which part of the body stands nearest.
//!
//! An odd number of denials around it denies, an even number does not. One too many costs a coach a
//! second look; one too few costs a student more than that, so a denial counts only when nothing but a few
//! kinds of word stand between.

use super::tokens::{Cut, Stretch, Token};
use super::ways::Met;
use crate::knowledge::{BodyRole, BodyWords};
use std::collections::HashMap;

/// A second denial is looked for this far before the first.
const DENIAL_REACH: usize = 6;
/// What takes a denial back is looked for this far behind.
const EXCEPT_REACH: usize = 4;

/// A stretch of a note with all that bears on what was met in it.
pub(super) struct Scene<'a> {
    tokens: &'a [Token],
    filler: &'a [bool],
    roles: HashMap<BodyRole, Vec<Stretch>>,
    /// Parts of the body, with their group.
    pub(super) parts: Vec<(usize, Stretch)>,
    hits: Vec<Stretch>,
}

impl<'a> Scene<'a> {
    /// Of body words with all that was met of them, and what of it reports something.
    pub(super) fn new(
        entries: &[BodyWords],
        tokens: &'a [Token],
        filler: &'a [bool],
        met: &Met,
        hits: &[(usize, Stretch)],
    ) -> Self {
        let mut roles: HashMap<BodyRole, Vec<Stretch>> = HashMap::new();
        let mut parts = Vec::new();
        for (group, words) in entries.iter().enumerate() {
            if let Some(role) = words.role {
                roles.entry(role).or_default().extend(met.all(group));
            } else if words.pain.is_some() && words.refer.is_none() {
                parts.extend(met.all(group).map(|part| (group, part)));
            }
        }
        for list in roles.values_mut() {
            list.sort_unstable();
        }
        parts.sort_unstable();
        Self {
            tokens,
            filler,
            roles,
            parts,
            hits: hits.iter().map(|(_, hit)| *hit).collect(),
        }
    }

    pub(super) fn of(&self, role: BodyRole) -> &[Stretch] {
        self.roles.get(&role).map_or(&[], Vec::as_slice)
    }

    /// The longest of a role that ends at a token.
    fn ends_at(&self, role: BodyRole, end: usize) -> Option<Stretch> {
        self.of(role).iter().find(|s| s.end == end).copied()
    }

    fn starts_at(&self, role: BodyRole, start: usize) -> Option<Stretch> {
        self.of(role).iter().rfind(|s| s.start == start).copied()
    }

    fn inside(&self, role: BodyRole, at: usize) -> bool {
        self.of(role).iter().any(|s| s.start <= at && at < s.end)
    }

    /// Where the sentence of a stretch starts and ends.
    pub(super) fn sentence(&self, stretch: Stretch) -> Stretch {
        let start = (0..=stretch.start)
            .rev()
            .find(|at| self.tokens[*at].cut == Cut::Stop)
            .unwrap_or(0);
        let end = (stretch.end..self.tokens.len())
            .find(|at| self.tokens[*at].cut == Cut::Stop)
            .unwrap_or(self.tokens.len());
        Stretch { start, end }
    }

    /// Whether an odd number of denials stand around it, and nothing takes them back.
    pub(super) fn denied(&self, hit: Stretch) -> bool {
        let sentence = self.sentence(hit);
        let count = self.denials_before(hit, sentence) + self.denials_behind(hit, sentence);
        let taken_back = self.of(BodyRole::Except).iter().any(|except| {
            except.start >= hit.end
                && except.start <= hit.end + EXCEPT_REACH
                && sentence.holds(*except)
        });
        count % 2 == 1 && !taken_back
    }

    /// Denials before it, with nothing but fillers, parts and what carries a denial in between.
    fn denials_before(&self, hit: Stretch, sentence: Stretch) -> usize {
        let mut at = hit.start;
        let mut listed = false;
        while at > sentence.start && self.tokens[at].cut == Cut::None {
            if let Some(denial) = self.ends_at(BodyRole::Denial, at) {
                if self.inside(BodyRole::NoDenial, at - 1) {
                    return 0;
                }
                return 1 + usize::from(self.second_denial(denial, sentence));
            }
            if let Some(used_to) = self.ends_at(BodyRole::UsedTo, at) {
                let back = self.of(BodyRole::Again).iter();
                let back = back.filter(|again| again.start >= hit.start && sentence.holds(**again));
                return usize::from(back.count() == 0)
                    + usize::from(self.second_denial(used_to, sentence));
            }
            if let Some(or) = self.ends_at(BodyRole::ReachesOn, at) {
                listed = true;
                at = or.start;
            } else if let Some(other) = self.hits.iter().find(|other| listed && other.end == at) {
                at = other.start;
            } else if let Some(carries) = self.ends_at(BodyRole::Carries, at) {
                at = carries.start;
            } else if let Some((_, part)) = self.parts.iter().find(|(_, part)| part.end == at) {
                at = part.start;
            } else if self.filler[at - 1] {
                at -= 1;
            } else {
                return 0;
            }
        }
        0
    }

    /// Whether another denial stands not far before one, with anything but a comma in between.
    fn second_denial(&self, denial: Stretch, sentence: Stretch) -> bool {
        let from = denial
            .start
            .saturating_sub(DENIAL_REACH)
            .max(sentence.start);
        let mut at = denial.start;
        while at > from && self.tokens[at].cut == Cut::None {
            let before = self
                .ends_at(BodyRole::Denial, at)
                .or_else(|| self.ends_at(BodyRole::WeakDenial, at));
            if before.is_some() && !self.inside(BodyRole::NoDenial, at - 1) {
                return true;
            }
            at -= 1;
        }
        false
    }

    /// Behind it: that it is over, or that it is not.
    fn denials_behind(&self, hit: Stretch, sentence: Stretch) -> usize {
        let mut at = hit.end;
        while at < sentence.end && self.tokens[at].cut == Cut::None {
            if self.starts_at(BodyRole::Over, at).is_some() {
                return 1;
            }
            if let Some(denial) = self.starts_at(BodyRole::Denial, at) {
                let near = denial.end..=denial.end + 2;
                let over = self.of(BodyRole::Over).iter();
                return 2 * usize::from(over.filter(|o| near.contains(&o.start)).count() > 0);
            }
            let carries = self.of(BodyRole::Carries).contains(&Stretch {
                start: at,
                end: at + 1,
            });
            if !(self.filler[at] || carries) {
                return 0;
            }
            at += 1;
        }
        0
    }
}
