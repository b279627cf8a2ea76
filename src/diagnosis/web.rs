//! local stand-in
use super::answer::{AtOdds, NextLook};
use super::diagnose::Effort;
use super::observation::Observation;
use crate::knowledge::{ConditionKey, KnowledgeBase};
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Figures { pub posterior: f64, pub starts_here: f64, pub clears: f64, pub held: f64 }
pub(super) struct WebAnswer { pub figures: Vec<Figures>, pub next_looks: Vec<NextLook>, pub unexplained: Vec<ConditionKey>, pub at_odds: AtOdds, pub exact: bool, pub standard_error: f64, pub draws: usize, pub effective_share: f64 }
impl WebAnswer { pub fn figures(&self, k: ConditionKey) -> Figures { self.figures[k.0] } }
pub(super) struct Web { n: usize }
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[error("x")]
pub struct QueryError;
impl Web {
 pub fn new(base: &KnowledgeBase, _o: &[Observation], _w: &dyn Fn(ConditionKey)->f64) -> Self { Web { n: base.conditions.len() } }
 pub fn answer(&self, _e: Effort, _l: Option<&[ConditionKey]>) -> Result<WebAnswer, QueryError> { Ok(WebAnswer { figures: vec![Figures::default(); self.n], next_looks: vec![], unexplained: vec![], at_odds: AtOdds{score:0.0,suspect:None}, exact: true, standard_error: 0.0, draws: 0, effective_share: 1.0 }) }
 pub fn together(&self) -> Result<impl Fn(&[ConditionKey]) -> f64 + 'static, QueryError> { Ok(|_: &[ConditionKey]| 0.0) }
 pub fn firmness(&self, _e: &[f64], _f: ConditionKey) -> Result<f64, QueryError> { Ok(0.0) }
}
pub enum MeasuredSide { Below, Above, Either }
pub struct Measurement { pub value: f64, pub error_sd: f64, pub sound: [f64;2], pub side: MeasuredSide }
impl Measurement { pub fn likelihood_ratio(&self, _p: f64) -> f64 { let _ = (self.value, self.error_sd, self.sound); 3.0 } }
