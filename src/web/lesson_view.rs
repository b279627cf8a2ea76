//! The lesson as a page.

use super::ask::{Ask, CoachStep, Stands};
use super::blocks::{select, stale};
use super::on_record::OnRecord;
use super::served_library::LibraryState;
use super::shell::{self, Here};
use super::unfinished::UnfinishedLesson;
use super::worked::{Unclear, Worked, may_mean};
use crate::diagnosis::{
    AccountsFor, Answer, Behind, Diagnosis, NextLook, Observation, RankedCause, Standing, State,
};
use crate::knowledge::{ConditionKey, Level, Refer, Shot};
use crate::lesson::Handed;
use crate::plan::{Nothing, rules::how_to_film};
use crate::report::{
    MARKS, capital, how_likely, last_time, mark, sided_text, standing, titled, told, would_change,
};
use crate::words::cautions;
use maud::{Markup, html};

/// How many looks are put at once.
const LOOKS: usize = 2;
/// How many starts stand on the page, and how many more behind it.
const STARTS: usize = 5;
const MORE_STARTS: usize = 7;

/// The note, and what is known of the student and the shot.
fn note_form(ask: &Ask) -> Markup {
    let note = ask.reported.seen.join("\n");
    let context = &ask.context;
    html! {
        form method="post" action="/lesson" class="begin" {
            input type="hidden" name="ask" value=(ask.query());
            label for="note" { "Ball, strike, club or body, in your own words. Type or dictate." }
            textarea id="note" name="note" rows="4" maxlength="4000" required autocapitalize="none"
                placeholder="weak slice, pulls the short irons, grip is fine" { (note) }
            fieldset class="switches" {
                legend { "Plays" }
                (radio("handed", "", "not said", context.handed.is_none()))
                @for handed in [Handed::Right, Handed::Left] {
                    (radio("handed", handed.as_str(), &format!("{}-handed", handed.as_str()), context.handed == Some(handed)))
                }
            }
            details open[context.shot.is_some() || context.level.is_some()] {
                summary { "Shot and level" }
                div class="pair" {
                    (select("shot", "Shot", "not said", Shot::ALL.iter().map(|shot| (shot.as_str(), shot.words(), context.shot == Some(*shot)))))
                    (select("level", "Level", "not said", Level::ALL.iter().map(|level| (level.as_str(), level.words(), context.level == Some(*level)))))
                }
            }
            p { button class="main" name="do" value="read" { "Where does it start?" } }
        }
    }
}

/// Where a lesson begins: the note, what is known of the student, and lessons that are not finished.
pub(super) fn begin(
    room: &LibraryState,
    ask: &Ask,
    drafts: &[(String, UnfinishedLesson)],
    read_only: bool,
    wrong: &[(String, String)],
) -> Markup {
    let main = html! {
        h1 { "What did you see?" @if let Some(student) = &ask.student { " (" (student) ")" } }
        @if !wrong.is_empty() { div role="alert" class="caution" { (shell::troubles(wrong)) } }
        @if ask.student.is_none() { p { a class="button" href="/students" { "Pick or add a student" } } }
        (note_form(ask))
        (left_out(room))
        (stale(room))
        @if !drafts.is_empty() {
            section aria-labelledby="open" {
                h2 id="open" { "Lessons to go on with" }
                ul class="drafts" {
                    @for (name, draft) in drafts {
                        li {
                            a href={ "/lesson?" (draft.ask) } { (draft.about) }
                            @if !read_only {
                                form method="post" action="/forget" {
                                    input type="hidden" name="lesson" value=(name);
                                    button class="quiet" aria-label={ "Forget " (draft.about) } { "Forget" }
                                }
                            }
                        }
                    }
                }
            }
        }
    };
    shell::page("What did you see?", Here::Lesson, &main)
}

fn radio(name: &str, value: &str, words: &str, chosen: bool) -> Markup {
    html! {
        label class="switch" {
            input type="radio" name=(name) value=(value) checked[chosen];
            span { (words) }
        }
    }
}

/// What of the coach's own library the answers do without.
fn left_out(room: &LibraryState) -> Markup {
    html! {
        @if !room.left_out.is_empty() {
            section class="caution" aria-labelledby="left-out" {
                h2 id="left-out" { "Not read from your own library" }
                ul {
                    @for problem in room.left_out.iter().take(5) {
                        li { (problem.file) ", line " (problem.line) ": " (problem.message) }
                    }
                }
            }
        }
    }
}

/// One lesson as it stands.
pub(super) struct LessonView<'a> {
    pub(super) room: &'a LibraryState,
    pub(super) ask: &'a Ask,
    pub(super) worked: &'a Worked,
    pub(super) unclear: Option<Unclear>,
    pub(super) record: Option<&'a OnRecord>,
    /// The address of the lesson behind `?`, that every form of the page sends along.
    pub(super) query: String,
}

impl LessonView<'_> {
    fn name(&self, key: ConditionKey) -> &str {
        &self.room.base.condition(key).name
    }

    fn id(&self, key: ConditionKey) -> &str {
        &self.room.base.condition(key).id
    }

    fn diagnosis(&self) -> &Diagnosis {
        &self.worked.diagnosis
    }

    /// Left and right where the hand is known.
    fn said(&self, text: &str) -> String {
        sided_text(text, self.diagnosis().lesson.handed)
    }

    /// The whole page.
    pub(super) fn page(&self) -> Markup {
        let diagnosis = self.diagnosis();
        let cautions = cautions(&self.room.base, &diagnosis.complaints);
        let main = html! {
            @if let Some(record) = self.record {
                h1 { "Lesson: " (record.history.student.handle) }
                p { (last_time(&self.room.base, &record.history, record.limits.is_some())) }
                @if let Some(moved) = &self.worked.moved { p { (moved) } }
            } @else { h1 class="aside" { "Lesson" } }
            @if !cautions.is_empty() {
                section class="caution" role="alert" aria-label="Before anything else" {
                    @for caution in &cautions { p { (caution) } }
                }
            }
            @if self.referred() {
                (self.today())
                (self.read())
                @if !diagnosis.causes.is_empty() {
                    details { summary { "What the swing alone would say, for your notes" } (self.starts()) (self.why()) }
                }
            } @else if diagnosis.causes.is_empty() {
                (self.read())
                section id="looks" {
                    h2 { "Nothing to explain yet" }
                    p { (Nothing::NothingSeen.words()) }
                }
            } @else {
                div class="columns" {
                    div { (self.read()) (self.looks()) }
                    div { (self.starts()) (self.why()) (self.chain()) (self.called()) }
                }
            }
            (self.ways_on())
        };
        shell::page("Lesson", Here::Lesson, &main)
    }

    /// Whether the student is sent to somebody before anything else.
    fn referred(&self) -> bool {
        let refer = self.diagnosis().complaints.refer();
        refer.is_some_and(|refer| refer != Refer::Ask)
    }

    /// What is done instead of a lesson.
    fn today(&self) -> Markup {
        html! {
            section id="looks" aria-labelledby="today" {
                h2 id="today" data-say { "Today" }
                p { (Nothing::Referred.words()) }
            }
        }
    }

    /// A form of this lesson; each holds the lesson as this page shows it.
    fn form(&self, class: &str, inner: &Markup) -> Markup {
        html! {
            form method="post" action="/lesson" class=(class) data-quick {
                input type="hidden" name="ask" value=(self.query);
                (inner)
            }
        }
    }

    /// What was read, each to be put right; what was told; what was not understood.
    fn read(&self) -> Markup {
        let heard = &self.diagnosis().heard;
        let mut number = 0;
        html! {
            section id="read" aria-labelledby="read-title" {
                h2 id="read-title" { "What was read" }
                ul class="chips" {
                    @for seen in &self.diagnosis().observations {
                        @let place = seen.state.is_finding().then(|| { number += 1; number });
                        li { (self.chip(seen, place)) }
                    }
                }
                @for key in &self.diagnosis().said_twice {
                    p { (self.name(*key)) " was said twice, and counts once." }
                }
                @if !heard.told.is_empty() { (self.told()) }
                @if heard.open.iter().any(|open| open.wants_hand) {
                    (self.form("answers", &html! {
                        p { "Which hand does the student play with? Until then "
                            @for open in heard.open.iter().filter(|open| open.wants_hand) { "\u{201c}" (open.given) "\u{201d} " }
                            "is weighed both ways." }
                        button name="do" value="hand:right" { "Right" }
                        button name="do" value="hand:left" { "Left" }
                    }))
                }
                @for words in &heard.not_understood { (self.not_understood(words)) }
                p { a href={ "/?" (self.query) } { "Change the note" } }
            }
        }
    }

    /// What was told of the student in passing.
    fn told(&self) -> Markup {
        html! {
            p { b { "Told: " }
                @for (place, told) in self.diagnosis().heard.told.iter().enumerate() {
                    @if place > 0 { "; " }
                    (self.room.base.fact(told.fact).name)
                    @if let Some(number) = told.number { " " (number) }
                }
                "."
            }
        }
    }

    fn chip(&self, seen: &Observation, place: Option<usize>) -> Markup {
        let id = self.id(seen.condition);
        let name = self.name(seen.condition);
        let now = Stands::ALL.into_iter().find(|stands| {
            stands.state() == seen.state || (*stands == Stands::Seen && seen.state == State::Found)
        });
        let answers = self.worked.checkup.answers();
        let answered = answers.iter().any(|(key, _)| *key == seen.condition);
        let unclear = self.unclear.as_ref().filter(|unclear| unclear.of == id);
        html! {
            details class={ "chip " (state_class(seen.state)) } open[unclear.is_some()] {
                summary {
                    @if let Some(place) = place { b class="number" { (place) } " " }
                    span class="name" { (self.said(name)) }
                    " " span class="state" { (state_words(seen.state)) }
                    @if !seen.given.eq_ignore_ascii_case(name) { " " span class="given" { "\u{201c}" (seen.given) "\u{201d}" } }
                    @if !seen.perhaps.is_empty() {
                        span class="given" { " or perhaps " (seen.perhaps.iter().map(|(key, _)| self.said(self.name(*key))).collect::<Vec<_>>().join(", ")) "; both are weighed" }
                    }
                }
                (self.form("answers", &html! {
                    @for stands in Stands::ALL {
                        @let step = if answered { self.answer_step(id, stands) } else { CoachStep::Stands(id.to_owned(), stands) };
                        button name="do" value={ "step:" (step.written()) } aria-pressed=((now == Some(stands)).to_string()) { (stands_words(stands)) }
                    }
                    @if !answered {
                        button name="do" value={ "step:" (CoachStep::Drop(id.to_owned()).written()) } { "Leave it out" }
                        @for (other, _) in &seen.perhaps {
                            @let step = CoachStep::Means(id.to_owned(), self.id(*other).to_owned());
                            button name="do" value={ "step:" (step.written()) } { "It is " (self.said(self.name(*other))) }
                        }
                    }
                }))
                @if !answered { (self.means(&format!("means:{id}"), "It means something else", unclear, |key| CoachStep::Means(id.to_owned(), self.id(key).to_owned()))) }
                p { a href={ "/show/" (id) } { "What it looks like" } }
            }
        }
    }

    fn answer_step(&self, id: &str, stands: Stands) -> CoachStep {
        let answer = match stands {
            Stands::Seen => Answer::Yes,
            Stands::Slight => Answer::Slight,
            Stands::NotSeen => Answer::No,
        };
        CoachStep::Look(id.to_owned(), answer)
    }

    /// A line to say in other words what is meant, with what those words may mean when they are unclear.
    fn means(
        &self,
        what: &str,
        title: &str,
        unclear: Option<&Unclear>,
        step: impl Fn(ConditionKey) -> CoachStep,
    ) -> Markup {
        let near = unclear.map(|unclear| may_mean(&self.room.reader, &unclear.words));
        html! {
            (self.form("say", &html! {
                label { (title)
                    input name="words" required maxlength="200" autocapitalize="none" value=[unclear.map(|unclear| unclear.words.as_str())];
                }
                button name="do" value=(what) { "Set" }
            }))
            @if let (Some(unclear), Some(near)) = (unclear, near) {
                div role="alert" {
                    p { "\u{201c}" (unclear.words) "\u{201d} means nothing certain." @if !near.is_empty() { " Was it one of these?" } }
                    (self.form("answers", &html! {
                        @for key in near {
                            button name="do" value={ "step:" (step(key).written()) } { (self.said(self.name(key))) }
                        }
                    }))
                }
            }
        }
    }

    fn not_understood(&self, words: &str) -> Markup {
        let unclear = self.unclear.as_ref().filter(|unclear| unclear.of == words);
        html! {
            details class="chip unread" open[unclear.is_some()] {
                summary { span class="state" { "not understood" } " " span class="name" { "\u{201c}" (words) "\u{201d}" } }
                (self.means(&format!("reads:{words}"), "It means", unclear, |key| CoachStep::Reads(words.to_owned(), self.id(key).to_owned())))
            }
        }
    }

    /// How far the order is settled, and the two looks that would settle it.
    fn looks(&self) -> Markup {
        let diagnosis = self.diagnosis();
        let settled = diagnosis.standing == Some(Standing::Settled);
        let looks: Vec<&NextLook> = self
            .worked
            .checkup
            .next_looks(diagnosis)
            .take(LOOKS)
            .collect();
        let cards = html! { @for look in &looks { (self.look(look)) } };
        html! {
            section id="looks" aria-labelledby="standing" {
                h2 id="standing" data-say { (self.said(&standing(&self.room.base, diagnosis))) }
                @if looks.is_empty() {
                    p { "There is nothing more to look at." }
                } @else if settled {
                    details { summary { "Look further all the same" } (cards) }
                } @else {
                    (cards)
                }
                @if let Some(change) = diagnosis.would_change.first() {
                    p { (self.said(&would_change(&self.room.base, change, &[]))) }
                }
            }
        }
    }

    fn look(&self, look: &NextLook) -> Markup {
        let condition = self.room.base.condition(look.condition);
        let words = [
            (Answer::Yes, "Yes"),
            (Answer::No, "No"),
            (Answer::Slight, "Slight"),
            (Answer::Later, "Later"),
        ];
        let view = condition.seen_from.first();
        let film = view.and_then(|view| how_to_film(*view));
        let label = format!("look-{}", condition.id);
        html! {
            article class="look" aria-labelledby=(label) {
                h3 id=(label) { (self.said(&condition.name)) "?" }
                p { @if let Some(view) = view { b { (capital(view.words())) ". " } } (self.said(&condition.look_for)) }
                @if let Some(film) = film { p class="small" { (self.said(film)) } }
                (self.form("answers four", &html! {
                    @for (answer, word) in words {
                        @let step = CoachStep::Look(condition.id.clone(), answer);
                        button name="do" value={ "step:" (step.written()) } aria-describedby=(label) { (word) }
                    }
                }))
            }
        }
    }

    /// The starts in order, each with a mark for every finding.
    fn starts(&self) -> Markup {
        let causes = &self.diagnosis().causes;
        let more = causes.get(STARTS..).unwrap_or_default();
        html! {
            section id="starts" aria-labelledby="starts-title" {
                h2 id="starts-title" { "Where it may start" }
                ol class="starts" { @for cause in causes.iter().take(STARTS) { (self.start(cause)) } }
                p class="small" { (MARKS) "; the numbers are those of what was read." }
                @if !more.is_empty() {
                    details {
                        summary { "More starts" }
                        ol class="starts" start=(STARTS + 1) { @for cause in more.iter().take(MORE_STARTS) { (self.start(cause)) } }
                    }
                }
            }
        }
    }

    fn start(&self, cause: &RankedCause) -> Markup {
        let condition = self.room.base.condition(cause.condition);
        let called = self.ask.called() == Some(condition.id.as_str());
        html! {
            li {
                h3 { a href={ "/show/" (condition.id) } { (self.said(&condition.name)) } }
                p class="marks" {
                    span class="likely" { (capital(how_likely(cause.clears))) @if called { ", your call" } }
                    @for (place, finding) in self.diagnosis().findings().enumerate() {
                        @let sign = mark(cause, finding);
                        span class="mark" {
                            span aria-hidden="true" { b { (place + 1) } " " (sign) " " }
                            span class="aside" { (place + 1) " " (self.behind(cause, finding)) ". " }
                        }
                    }
                }
                @if let Some(drill) = cause.best_remedy {
                    @let drill = self.room.base.drill(drill);
                    p class="remedy" { "First remedy: " a href={ "/show/" (drill.id) } { (titled(drill)) } }
                } @else { p { "No remedy yet." } }
            }
        }
    }

    fn behind(&self, cause: &RankedCause, finding: ConditionKey) -> &'static str {
        let of = cause.accounts_for.iter().find(|of| of.finding == finding);
        if cause.condition == finding {
            return "was itself seen";
        }
        match of.map_or(Behind::Not, AccountsFor::how) {
            Behind::Often => "often from it",
            Behind::AtTimes => "at times from it",
            Behind::Not => "not from it",
        }
    }

    fn why(&self) -> Markup {
        let diagnosis = self.diagnosis();
        html! {
            section aria-labelledby="why" {
                h2 id="why" { "Why" }
                @for cause in diagnosis.told() {
                    @if cause.is_link() {
                        p { (self.said(self.name(cause.condition))) " is a link on the way: holding it right helps for as long as it is held." }
                    }
                    p { (self.said(&told(&self.room.base, diagnosis, cause, true))) }
                }
                @for (one, other) in &diagnosis.at_odds {
                    p class="caution" { (self.said(self.name(*one))) " and " (self.said(self.name(*other))) " cannot both be: look again which it is." }
                }
                @if !diagnosis.unexplained.is_empty() {
                    p { "Not accounted for: " (diagnosis.unexplained.iter().map(|key| self.said(self.name(*key))).collect::<Vec<_>>().join(", ")) ". Look beyond the library." }
                }
            }
        }
    }

    fn chain(&self) -> Markup {
        html! {
            details class="chain" {
                summary { "The chain as a picture" }
                a href={ "/chain.svg?" (self.query) } {
                    img src={ "/chain.svg?" (self.query) } loading="lazy" alt="How the likeliest starts lead to what was seen, as boxes and arrows. Why, above, says it in words.";
                }
            }
        }
    }

    /// The start as the coach calls it.
    fn called(&self) -> Markup {
        let base = &self.room.base;
        let called = self.ask.called().and_then(|id| base.find(id));
        let unclear = self.unclear.as_ref().filter(|one| one.of == "called");
        let mut read = self.diagnosis().observations.iter();
        let counted = called.is_some_and(|key| read.any(|seen| seen.condition == key));
        html! {
            section id="called" aria-labelledby="called-title" {
                h2 id="called-title" { "It was \u{2026}" }
                @if let Some(key) = called {
                    p data-say { "Your call: " b { (self.said(self.name(key))) } ". " @if counted { "It counts as seen." } @else { "It is kept beside the order, and does not move it." } }
                    @if !counted {
                        (self.form("answers", &html! {
                            button name="do" value={ "step:" (CoachStep::Look(self.id(key).to_owned(), Answer::Yes).written()) } { "Count it as seen" }
                        }))
                    }
                }
                (self.form("answers", &html! {
                    @for cause in self.diagnosis().causes.iter().take(3).filter(|cause| Some(cause.condition) != called) {
                        @let step = CoachStep::Called(self.id(cause.condition).to_owned());
                        button name="do" value={ "step:" (step.written()) } { (self.said(self.name(cause.condition))) }
                    }
                }))
                details open[unclear.is_some()] {
                    summary { "Something else" }
                    (self.means("called", "It was", unclear, |key| CoachStep::Called(self.id(key).to_owned())))
                }
            }
        }
    }

    /// What is always in reach of the thumb.
    fn ways_on(&self) -> Markup {
        let ranked = !self.diagnosis().causes.is_empty();
        let referred = self.referred();
        self.form(
            "bar",
            &html! {
                button name="do" value="back" disabled[self.ask.steps.is_empty()] { "Take back" }
                @if ranked || referred { button class="main" name="do" value="plan" data-whole { @if referred { "Whom to see" } @else { "To the plan" } } }
            },
        )
    }
}

fn state_class(state: State) -> &'static str {
    match state {
        State::Counted { .. } if state.is_finding() => "seen",
        State::Seen | State::Found | State::Measured { outside: true, .. } => "seen",
        State::Slight => "slight",
        _ => "not-seen",
    }
}

fn state_words(state: State) -> String {
    match state {
        State::Seen | State::Found => "seen".to_owned(),
        State::Slight => "slight".to_owned(),
        State::NotSeen => "not seen".to_owned(),
        State::Measured { outside: true, .. } => "outside the sound range".to_owned(),
        State::Measured { .. } => "inside the sound range".to_owned(),
        State::Counted { shown, of, .. } => format!("{shown} of {of}"),
        State::Likelihood(ratio) => format!("{ratio} times as likely with it"),
    }
}

fn stands_words(stands: Stands) -> &'static str {
    match stands {
        Stands::Seen => "Seen",
        Stands::Slight => "Slight",
        Stands::NotSeen => "Not seen",
    }
}
