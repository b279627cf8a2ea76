//! `fairwhy plan`: what was seen in, a lesson and the practice until the next out.

use super::failure::harmless;
use super::files::{free, write_file};
use super::observations::ObservationArgs;
use super::output::{Output, whole};
use super::visit::{Visit, VisitArgs, json_with, with_record};
use super::{Failure, Format, Globals, layers, trouble};
use crate::diagnosis::{Asked, Diagnosis, DiagnosisError, clears_together, diagnose};
use crate::knowledge::KnowledgeBase;
use crate::lesson::Handed;
use crate::plan::{Plan, PlanOptions, Sessions, make_plan};
use crate::report::{Handout, Occasion, handout, picture, plan_json, plan_page, sided};
use chrono::Duration;
use clap::Args;
use std::io::Write;
use std::path::{Path, PathBuf};

/// How many causes a program gets, as with `why`.
const LISTED: usize = 15;

/// Options of `plan`.
#[derive(Debug, Args)]
pub(crate) struct PlanArgs {
    #[command(flatten)]
    observations: ObservationArgs,
    #[command(flatten)]
    lesson: LessonArgs,
    #[command(flatten)]
    whose: VisitArgs,
    #[command(flatten)]
    files: FileArgs,
    /// Every drill in full, what was left out and why, and the practice session by session
    #[arg(long)]
    details: bool,
}

/// The time that the lesson and the practice have to fit into.
#[derive(Clone, Debug, Args)]
#[command(next_help_heading = "The plan")]
pub(super) struct LessonArgs {
    /// Length of the lesson in minutes, from 10 to 180
    #[arg(long, default_value_t = 45, value_parser = whole)]
    minutes: u32,
    /// Practice until the next lesson: sessions a week, an x, minutes each
    #[arg(long, default_value = "3x20", value_parser = Sessions::parse)]
    sessions: Sessions,
    /// Weeks until the next lesson, from 1 to 12
    #[arg(long, default_value_t = 4, value_parser = whole)]
    weeks: u32,
}

impl LessonArgs {
    /// Length of the lesson in minutes.
    pub(super) fn minutes(&self) -> u32 {
        self.minutes
    }

    /// What the plan has to fit into.
    fn options(&self) -> PlanOptions {
        PlanOptions {
            minutes: self.minutes,
            sessions: self.sessions,
            weeks: self.weeks,
            ..PlanOptions::default()
        }
    }

    /// Whose page it is, and of which day.
    fn occasion(&self, handed: Option<Handed>, whose: &VisitArgs) -> Occasion {
        let date = whose.date();
        let next = date.checked_add_signed(Duration::weeks(i64::from(self.weeks)));
        Occasion {
            handed,
            student: whose.handle().map(str::to_owned),
            date: Some(date.to_string()),
            next: next.map(|next| next.to_string()),
        }
    }

    /// The plan for what was asked, with the diagnosis that it rests on.
    pub(super) fn plan(
        &self,
        base: &KnowledgeBase,
        asked: &Asked,
        visit: Option<&Visit>,
    ) -> Result<(Diagnosis, Plan), Failure> {
        let not_done = |error: DiagnosisError| Failure::NotDone(format!("error: {error}"));
        let diagnosis = diagnose(base, asked).map_err(not_done)?;
        let clears = clears_together(base, asked).map_err(not_done)?;
        let mut options = self.options();
        if let Some(visit) = visit {
            options.known = visit.known(base);
        }
        let plan = make_plan(base, &diagnosis, &*clears, &options)
            .map_err(|error| trouble::not_planned(&error))?;
        Ok((diagnosis, plan))
    }

    /// The student's page of a plan.
    pub(super) fn sheet(
        &self,
        base: &KnowledgeBase,
        diagnosis: &Diagnosis,
        plan: &Plan,
        whose: &VisitArgs,
    ) -> Handout {
        handout(
            base,
            diagnosis,
            plan,
            &self.occasion(diagnosis.lesson.handed, whose),
        )
    }
}

/// What is written beside the answer.
#[derive(Clone, Debug, Args)]
#[command(next_help_heading = "On paper")]
struct FileArgs {
    /// The student's page: to FILE.html or FILE.md, or instead of the plan when no file is named
    #[arg(long, value_name = "FILE", num_args = 0..=1, default_missing_value = "-")]
    handout: Option<PathBuf>,
    /// The chain as a picture, to FILE.svg
    #[arg(long, value_name = "FILE.svg")]
    picture: Option<PathBuf>,
    /// Write over files that are there already
    #[arg(long)]
    replace: bool,
}

/// How the student's page is written.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Sheet {
    Html,
    Markdown,
}

/// The ending of a file name, in small letters.
fn ending(path: &Path) -> String {
    path.extension()
        .map_or_else(String::new, |end| end.to_string_lossy().to_lowercase())
}

impl FileArgs {
    /// Whether the student's page goes to standard output.
    fn sheet_instead(&self) -> bool {
        self.handout.as_deref() == Some(Path::new("-"))
    }

    /// Refuses what cannot be written before any work is done, so that nothing is half done.
    fn check(&self) -> Result<(), Failure> {
        if let Some(path) = self.handout.as_deref().filter(|_| !self.sheet_instead()) {
            sheet_of(path)?;
            free(path, "--handout", self.replace)?;
        }
        if let Some(path) = &self.picture {
            if ending(path) != "svg" {
                return Err(Failure::NotUnderstood(format!(
                    "error: the picture is written as SVG, and `{}` does not end in .svg\n  help: write --picture chain.svg",
                    path.display()
                )));
            }
            free(path, "--picture", self.replace)?;
        }
        Ok(())
    }
}

fn sheet_of(path: &Path) -> Result<Sheet, Failure> {
    match ending(path).as_str() {
        "html" | "htm" => Ok(Sheet::Html),
        "md" | "markdown" => Ok(Sheet::Markdown),
        _ => Err(Failure::NotUnderstood(format!(
            "error: `{}` ends neither in .html nor in .md\n  help: write --handout page.html; if it was meant as something seen, put --handout last",
            path.display()
        ))),
    }
}

pub(crate) fn run(
    args: &PlanArgs,
    globals: &Globals,
    output: &Output,
    out: &mut dyn Write,
) -> Result<u8, Failure> {
    args.files.check()?;
    args.whose.check()?;
    let mut base = layers::load(globals)?;
    let mut observations = args.observations.clone();
    let mut visit = args.whose.visit(&mut observations, globals)?;
    let keep = args.whose.keep(&base)?;
    let mut asked = observations.read(&base, output)?;
    let moved = match &mut visit {
        Some(visit) => visit.learn(&mut base, &mut asked)?,
        None => None,
    };
    let (diagnosis, plan) = args.lesson.plan(&base, &asked, visit.as_ref())?;
    let sheet = || args.lesson.sheet(&base, &diagnosis, &plan, &args.whose);
    let kept = keep.map(|keep| keep.save(&base, &diagnosis, Some(&plan), observations.notes()));
    let last = visit
        .as_ref()
        .map(|visit| visit.line(&base, moved.as_deref()));

    let mut written = Vec::new();
    if let Some(path) = &args.files.picture {
        let drawing = picture(&base, &diagnosis, &plan);
        write_file(path, &drawing, args.files.replace)?;
        written.push(path);
    }
    if let Some(path) = args
        .files
        .handout
        .as_ref()
        .filter(|_| !args.files.sheet_instead())
    {
        write_sheet(path, &sheet(), args.files.replace)?;
        written.push(path);
    }
    if args.files.sheet_instead() {
        print_sheet(&sheet(), output, out)?;
        if let Some(Ok(kept)) = &kept {
            // Beside the page, so that the page itself can be sent elsewhere.
            let _ = writeln!(std::io::stderr(), "{}", kept.line());
        }
    } else {
        output.print(
            out,
            || {
                let page = plan_page(&base, &diagnosis, &plan, args.details);
                with_record(
                    sided(page, diagnosis.lesson.handed),
                    last.as_deref(),
                    kept.as_ref(),
                )
            },
            || json_with(plan_json(&base, &diagnosis, &plan, LISTED), kept.as_ref()),
        )?;
    }
    for path in written {
        // Said on standard error, so that the answer itself can be sent elsewhere.
        let path = harmless(&path.display().to_string());
        let _ = writeln!(std::io::stderr(), "wrote {path}");
    }
    kept.transpose()?;
    Ok(0)
}

/// Whether a file's name says how the student's page is to be written.
pub(super) fn is_sheet(path: &Path) -> bool {
    sheet_of(path).is_ok()
}

/// Writes the student's page, as its file's name says how.
pub(super) fn write_sheet(path: &Path, sheet: &Handout, replace: bool) -> Result<(), Failure> {
    let text = match sheet_of(path)? {
        Sheet::Html => sheet.to_html(),
        Sheet::Markdown => sheet.to_markdown(),
    };
    write_file(path, &text, replace)
}

fn print_sheet(sheet: &Handout, output: &Output, out: &mut dyn Write) -> Result<(), Failure> {
    match output.format {
        Format::Table | Format::Markdown => out.write_all(sheet.to_markdown().as_bytes())?,
        Format::Json => writeln!(out, "{}", sheet.to_json())?,
    }
    Ok(())
}
