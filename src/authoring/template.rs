//! Starting points: one whole entry of each sort, with a line on what each key is for.

use super::EntryKind;

/// A commented entry of the sort, to be changed; it would pass the check as it stands, but is not taken
/// ([`Draft::is_template`](super::Draft::is_template)). Empty for sources and cases, which come with what
/// they are about.
#[must_use]
pub fn template(kind: EntryKind) -> &'static str {
    match kind {
        EntryKind::Drill => DRILL,
        EntryKind::Fault => FAULT,
        EntryKind::Cause => CAUSE,
        EntryKind::Outcome => OUTCOME,
        EntryKind::Link => LINK,
        EntryKind::Source | EntryKind::Case => "",
    }
}

const DRILL: &str = r#"# A drill. Change what is here, and take out what you do not need.
# Write lead and trail, not left and right.
id: coin-under-trail-heel             # small letters and hyphens; never used for anything else
name: Coin under the trail heel
aliases: [heel on the coin]           # what else it is called on the lesson tee
kind: drill                           # drill, setup-change, feel, club-check, referral
treats:                               # what it works on: ids of faults or causes
  - id: hangs-back
    effect: fifty-fifty               # done as written, in how many of ten does it help? certain, probable,
    basis: own lessons                #   expected, fifty-fifty, uncertain, improbable, or a number such as 0.4
stage: downswing                      # the part of the motion that it trains
shots: [full-swing]                   # full-swing, driver, iron, pitch, chip, bunker, putt
ladder: slow-with-ball                # rehearsal, slow-with-ball, half-speed, full-speed, transfer
purpose: Let the trail heel come off the ground in time
setup: A coin under the trail heel, ball on a low tee
steps:
  - Swing to waist height and back at half pace
  - Feel the trail heel peel off the coin before the ball is struck
  - Look down after each swing; the coin must show
feel: ["The trail knee runs after the ball"]
check: The coin shows at the finish in 8 of 10
goes_wrong: ["Spins up onto the toe: make the backswing shorter"]
easier: Without a ball, in front of a mirror
harder: With a full swing, holding the finish for three seconds
dose: {sets: 3, reps: 8, minutes: 8, balls: 24}
needs: {equipment: [coin], place: [range, indoors]}   # range, home, putting-green, short-game-area, bunker, indoors, course
# after: [other-drill]                # drills that come first
# aggravates: [some-fault]            # what it can make worse
# not_with: [some-pain]               # conditions with which it must not be done
caution: Stop at any pain in the trail ankle or knee; pain is for a licensed health professional
# status: approved                    # left out, your own drill is on trial
"#;

const FAULT: &str = r#"# A fault: something seen at a stage of the motion. Change what is here.
faults:
  - id: glances-up-in-backswing       # small letters and hyphens; never used for anything else
    name: Glances up during the backswing
    aliases: [peeks at the target]    # what people say and type
    stage: backswing                  # setup, grip, takeaway, backswing, top, transition, downswing, impact, ...
    shots: [full-swing]
    look:
      from: [face-on]                 # ball-flight, feel-or-sound, ask-student, strike-marks, face-on, down-the-line, ...
      for: The eyes leave the ball before the hands reach chest height
    how_common: rare                  # of those who take lessons: rare, uncommon, occasional, common, very-common, usual
    caused_by:                        # direct causes only: nothing listed lies in between
      - id: fear-of-result
        strength: uncertain           # of ten who have the cause, how many show this because of it?
        because: You want to see where it goes before it has gone
        basis: own lessons
    behind:                           # of ten who show this, in how many would you work on it? The rest: its own habit
      - {id: fear-of-result, share: 0.2}
    # caution: a warning to give with it

links:                                # what it brings about: entries that are there already
  - cause: glances-up-in-backswing
    effect: topped-shot
    strength: improbable
    because: The chest rises with the eyes, and the club with the chest
    basis: own lessons
"#;

const CAUSE: &str = r#"# A cause: a reason that is not a position (body, club, idea, tempo). Change what is here.
# To say what it brings about, add links below, or later by themselves.
causes:
  - id: stiff-new-glove               # small letters and hyphens; never used for anything else
    name: Stiff new glove
    aliases: [glove like cardboard]   # what people say and type
    stage: equipment                  # concept, body, equipment, tempo, ...
    look: {from: [equipment-check], for: "The palm of the glove creases instead of folding"}
    how_common: rare                  # rare, uncommon, occasional, common, very-common, usual, or a number
    # caution: "for a body part: a screen, not a diagnosis; pain goes to a licensed health professional"

links:
  - cause: stiff-new-glove
    effect: grip-pressure-too-tight
    strength: uncertain               # of ten who have the cause, how many show the effect because of it?
    because: You squeeze because the leather does not bend
    basis: own lessons

drills:                               # what to do about it, if you know; the template of a drill shows more
  - id: break-in-the-glove
    name: Break in the glove
    kind: club-check
    treats: [{id: stiff-new-glove, effect: probable, basis: own lessons}]
    steps: [Knead the palm of the glove for two minutes, Wear it for a bucket of chips before any full swing]
    check: Ten fists in a row without a crease across the palm
"#;

const OUTCOME: &str = r#"# An outcome: what ball, turf, ear or body report. Change what is here.
id: clicks-off-the-hosel-side         # small letters and hyphens; never used for anything else
name: Dull click from near the hosel
aliases: [clanks off the heel]        # what people say and type
stage: strike                         # strike, ball-flight, ...
shots: [full-swing]
look: {from: [strike-marks, feel-or-sound], for: "The mark is nearer the heel than the middle, and the sound is dull"}
how_common: occasional
caused_by:
  - id: path-out-to-in
    strength: uncertain               # of ten who have the cause, how many show this because of it?
    because: The heel leads when the club cuts across the ball
    basis: own lessons
behind:                               # of ten who show this, in how many would you end up working on it?
  - {id: path-out-to-in, share: 0.2}
# cost: 0.3                           # strokes a round that it costs a club golfer
# cost_basis: own lessons
"#;

const LINK: &str = r#"# A link: one entry of the library brings about another. Change what is here.
# Only direct links: if something that is listed lies in between, link to that.
cause: practises-without-feedback
effect: hangs-back
strength: improbable                  # of ten who have the cause, how many show the effect because of it?
because: Nobody told you where your weight was, so you never found out
basis: own lessons
"#;

#[cfg(test)]
mod tests {
    use super::*;
    use crate::authoring::{Draft, check};
    use crate::knowledge::{FileText, LayerText, shipped};

    /// A starting point that did not pass would be a bad start.
    #[test]
    fn every_template_passes_the_check_without_a_warning() {
        let file = |kind: &EntryKind| {
            let draft = Draft::from_text(*kind, template(*kind)).expect("reads");
            FileText {
                path: draft.path(),
                text: draft.text().to_owned().into(),
            }
        };
        let files: Vec<FileText> = EntryKind::ALL.iter().map(file).collect();
        let layers = [shipped(), LayerText::new("own", [] as [(&str, &str); 0])];
        let checked = check(&layers, 1, &files).unwrap_or_else(|problems| panic!("{problems:#?}"));
        assert!(checked.warnings.is_empty(), "{:#?}", checked.warnings);
        assert!(checked.copies.is_empty(), "{:#?}", checked.copies);
    }
}
