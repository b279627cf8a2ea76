//! How the calls of coaches lie against our order, and against each other.

use super::lesson_record::LessonRecord;
use super::record::Record;
use crate::measure::wilson;
use std::collections::BTreeMap;

/// So many of so many, with its 95 % interval (Wilson).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Rate {
    /// How many.
    pub hits: u32,
    /// Of how many.
    pub of: u32,
    /// 95 % interval of the share.
    pub low: f64,
    /// See `low`.
    pub high: f64,
}

impl Rate {
    fn new(hits: u32, of: u32) -> Self {
        let (low, high) = if of == 0 {
            (0.0, 1.0)
        } else {
            wilson(hits, of)
        };
        Self {
            hits,
            of,
            low,
            high,
        }
    }
}

/// What was said with about one chance, and how often it was so.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Bin {
    /// Chances from here.
    pub from: f64,
    /// To here.
    pub to: f64,
    /// The mean of what was said.
    pub said: f64,
    /// How often the start was the one called.
    pub was: Rate,
}

/// How far two coaches agree beyond chance.
#[derive(Clone, Debug, PartialEq)]
pub struct Agreement {
    /// The two.
    pub coaches: [String; 2],
    /// Students whom both called.
    pub students: u32,
    /// How many they call alike.
    pub alike: u32,
    /// Cohen's kappa; none when chance alone would make them agree.
    pub kappa: Option<f64>,
    /// Its standard error.
    pub error: Option<f64>,
}

/// Everything.
#[derive(Clone, Debug, PartialEq)]
pub struct Evaluation {
    /// The start as called among our first one, three and five.
    pub among: [(usize, Rate); 3],
    /// Lessons kept without a call, which say nothing here.
    pub not_called: u32,
    /// What was said against what was so.
    pub reliability: Vec<Bin>,
    /// Every two coaches with a student in common.
    pub agreement: Vec<Agreement>,
}

/// The bounds of the bins: about as many starts fall into each.
const BINS: [f64; 6] = [0.0, 0.1, 0.2, 0.4, 0.6, 1.0];

/// So many starts of each order are held against the call.
const LOOKED_AT: usize = 5;

/// Holds every call against our order; of one coach where one is named.
#[must_use]
pub fn evaluate(entries: &[Record], coach: Option<&str>) -> Evaluation {
    let lessons: Vec<(&str, &LessonRecord)> = entries
        .iter()
        .filter_map(|entry| match entry {
            Record::Lesson { handle, lesson } if !lesson.is_numbers() => {
                Some((handle.as_str(), lesson))
            }
            _ => None,
        })
        .collect();
    let wanted = lessons
        .iter()
        .filter(|(_, lesson)| coach.is_none_or(|coach| lesson.coach == coach));
    let (mut not_called, mut of) = (0, 0);
    let mut hits = [0, 0, 0];
    let mut bins = vec![(0.0, 0, 0); BINS.len() - 1];
    for (_, lesson) in wanted {
        let Some(called) = &lesson.coach_says else {
            not_called += 1;
            continue;
        };
        if lesson.ranking.is_empty() {
            continue;
        }
        of += 1;
        let place = lesson.ranking.iter().position(|start| start.id == *called);
        for (among, most) in hits.iter_mut().zip([1, 3, 5]) {
            *among += u32::from(place.is_some_and(|place| place < most));
        }
        for start in lesson.ranking.iter().take(LOOKED_AT) {
            let above = BINS.iter().skip(1).position(|to| start.chance < *to);
            let bin = &mut bins[above.unwrap_or(BINS.len() - 2)];
            bin.0 += start.chance;
            bin.1 += u32::from(start.id == *called);
            bin.2 += 1;
        }
    }
    let reliability = bins
        .into_iter()
        .zip(BINS.windows(2))
        .filter(|((_, _, of), _)| *of > 0)
        .map(|((said, was, of), bounds)| Bin {
            from: bounds[0],
            to: bounds[1],
            said: said / f64::from(of),
            was: Rate::new(was, of),
        })
        .collect();
    Evaluation {
        among: [1, 3, 5].map(|most| (most, Rate::new(hits[most / 2], of))),
        not_called,
        reliability,
        agreement: agreements(&lessons),
    }
}

/// Every two coaches, by the last call of each for each student whom both called.
fn agreements(lessons: &[(&str, &LessonRecord)]) -> Vec<Agreement> {
    let mut last: BTreeMap<&str, BTreeMap<&str, &str>> = BTreeMap::new();
    for (handle, lesson) in lessons {
        if let (Some(called), false) = (&lesson.coach_says, lesson.coach.is_empty()) {
            last.entry(&lesson.coach)
                .or_default()
                .insert(handle, called);
        }
    }
    let coaches: Vec<&&str> = last.keys().collect();
    let mut all = Vec::new();
    for (at, one) in coaches.iter().enumerate() {
        for other in &coaches[at + 1..] {
            let pairs: Vec<(&str, &str)> = last[**one]
                .iter()
                .filter_map(|(handle, called)| Some((*called, *last[**other].get(handle)?)))
                .collect();
            if !pairs.is_empty() {
                let coaches = [(***one).to_owned(), (***other).to_owned()];
                all.push(agreement(coaches, &pairs));
            }
        }
    }
    all
}

/// Cohen's kappa (Cohen J. (1960), Educational and Psychological Measurement 20:37-46) with the standard
/// error for large samples (Fleiss J., Cohen J. and Everitt B. (1969), Psychological Bulletin
/// 72:323-327), both from memory and checked against a general statistics library.
#[must_use]
pub fn agreement(coaches: [String; 2], pairs: &[(&str, &str)]) -> Agreement {
    let n = pairs.len() as f64;
    let mut table: BTreeMap<(&str, &str), f64> = BTreeMap::new();
    let (mut rows, mut columns): (BTreeMap<&str, f64>, BTreeMap<&str, f64>) = Default::default();
    for (one, other) in pairs {
        *table.entry((one, other)).or_default() += 1.0 / n;
        *rows.entry(one).or_default() += 1.0 / n;
        *columns.entry(other).or_default() += 1.0 / n;
    }
    let share = |of: &BTreeMap<&str, f64>, key: &str| of.get(key).copied().unwrap_or(0.0);
    let alike: f64 = table
        .iter()
        .filter(|((a, b), _)| a == b)
        .map(|(_, p)| p)
        .sum();
    let chance: f64 = rows.iter().map(|(key, p)| p * share(&columns, key)).sum();
    let kappa = (chance < 1.0 - 1e-12).then(|| (alike - chance) / (1.0 - chance));
    let error = kappa.map(|kappa| {
        let mut a = 0.0;
        let mut b = 0.0;
        for ((one, other), p) in &table {
            if one == other {
                a += p * (1.0 - (share(&rows, one) + share(&columns, one)) * (1.0 - kappa)).powi(2);
            } else {
                b += p * (share(&columns, one) + share(&rows, other)).powi(2);
            }
        }
        b *= (1.0 - kappa).powi(2);
        let c = (kappa - chance * (1.0 - kappa)).powi(2);
        ((a + b - c).max(0.0) / (1.0 - chance).powi(2) / n).sqrt()
    });
    let count = u32::try_from(pairs.len()).unwrap_or(u32::MAX);
    Agreement {
        coaches,
        students: count,
        alike: u32::try_from(pairs.iter().filter(|(a, b)| a == b).count()).unwrap_or(count),
        kappa,
        error,
    }
}
