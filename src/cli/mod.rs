//! The command line: words in, tables out. Nothing is computed here.

mod add;
mod check;
mod check_up;
mod compare;
mod context;
mod day;
mod drills;
mod edit;
mod examples;
mod failure;
mod files;
mod flight;
mod frame;
mod globals;
mod home;
mod layers;
mod lesson;
mod library;
mod library_change;
mod observations;
mod output;
mod plan;
mod progress;
mod records;
mod remind;
mod remove;
mod retire;
mod schema;
mod serve;
mod shots;
mod show;
mod student;
mod terminal;
mod timeline;
mod trouble;
mod visit;
mod why;

pub use failure::Failure;
pub(crate) use globals::{Format, Globals};

use crate::knowledge::steers;
use clap::{FromArgMatches, Parser, Subcommand};
use output::Output;
use std::ffi::OsString;
use std::io::{IsTerminal, Write};
use std::process::ExitCode;

/// From what you saw, to why, to what to do.
///
/// fairwhy reads what a golf coach saw in plain words, works back to the one or two places where it
/// starts, explains the chain, and offers drills that work on the start. It is a coach's aid: it
/// does not see the student, and it does not replace a coach's eye or a health professional.
#[derive(Debug, Parser)]
#[command(name = "fairwhy", version, max_term_width = 100)]
pub struct Cli {
    #[command(flatten)]
    globals: Globals,
    #[command(subcommand)]
    command: Option<Command>,
}

#[derive(Debug, Subcommand)]
enum Command {
    /// Rank the root causes of what was seen, with the chain, and what to look at next
    Why(why::WhyArgs),
    /// The same as a dialogue: a look at a time, the order moving with each answer, then the plan
    Lesson(lesson::LessonCommand),
    /// Find drills by what you see, each with its reason
    Drills(drills::DrillsArgs),
    /// The same, then a lesson in order and the practice until the next
    Plan(plan::PlanArgs),
    /// Work out face and path from the ball, or the ball from the club, and what they amount to
    Flight(flight::FlightArgs),
    /// Read quantities off the body points of one frame, each with its error
    Frame(frame::FrameArgs),
    /// Means, intervals and what follows, from a table of shots
    Shots(shots::ShotsArgs),
    /// Hold two counts, two tables of shots or two frames against each other
    Compare(compare::CompareArgs),
    /// Show one entry: look, causes, effects, remedies, sources, where it came from
    Show(show::ShowArgs),
    /// Check a library, with file, line and what to write instead
    Check(check::CheckArgs),
    /// Add an own drill, fault, cause, outcome or link: asked for, from a file, or from standard input
    Add(add::AddArgs),
    /// Change an entry in your editor; one that is not yours is copied and stands in its place
    Edit(edit::EditArgs),
    /// Take an entry of your own out again; the file is kept beside, under a name that is not read
    Remove(remove::RemoveArgs),
    /// Retire an entry in favour of another; its id is never used for anything else
    Retire(retire::RetireArgs),
    /// The layers of the library and what each brings; a library as one file to hand on
    Library(library::LibraryArgs),
    /// Who comes to you, what is known of them, what was seen and what came of it
    Student(student::StudentArgs),
    /// The months of a student: findings, counts, numbers and drills, as text and as a picture
    Progress(progress::ProgressArgs),
    /// How often the start as you call it is among our first, and how far two coaches agree
    Eval(progress::EvalArgs),
    /// Keep the records: copies, bringing one back, undo, a look over everything
    Records(records::RecordsArgs),
    /// The same as pages in a browser on this machine, for a tablet or a phone beside the tee
    Serve(serve::ServeArgs),
    /// Print the JSON Schema of a library file, with which an editor completes and checks
    Schema,
    /// Print what a shell completes commands and options from
    Completions(examples::CompletionsArgs),
    /// Print the manual as a man page
    Manual,
}

/// Runs the command line and says how it went: 0 done; 1 it could not be done, or a check found
/// errors; 2 the command line or an observation was not understood.
///
/// Answers go to `out`, everything else to standard error. A reader that stops listening (a closed
/// pipe) is a quiet end.
pub fn run(arguments: impl IntoIterator<Item = OsString>, out: &mut dyn Write) -> ExitCode {
    let arguments: Vec<OsString> = arguments.into_iter().collect();
    let matches = examples::command().try_get_matches_from(&arguments);
    let cli = match matches.and_then(|matches| Cli::from_arg_matches(&matches)) {
        Ok(cli) => cli,
        Err(error) => return refused(&error, &arguments),
    };
    let output = Output::new(&cli.globals, std::io::stdout().is_terminal());
    let Some(command) = &cli.command else {
        return match examples::begin(out) {
            Ok(code) => ExitCode::from(code),
            Err(failure) => failure.report(output.width, false),
        };
    };
    let result = match command {
        Command::Why(args) => why::run(args, &cli.globals, &output, out),
        Command::Lesson(args) => lesson::run(args, &cli.globals, &output, out),
        Command::Drills(args) => drills::run(args, &cli.globals, &output, out),
        Command::Plan(args) => plan::run(args, &cli.globals, &output, out),
        Command::Flight(args) => flight::run(args, &cli.globals, &output, out),
        Command::Frame(args) => frame::run(args, &cli.globals, &output, out),
        Command::Shots(args) => shots::run(args, &cli.globals, &output, out),
        Command::Compare(args) => compare::run(args, &cli.globals, &output, out),
        Command::Show(args) => show::run(args, &cli.globals, &output, out),
        Command::Check(args) => check::run(args, &cli.globals, &output, out),
        Command::Add(args) => add::run(args, &cli.globals, &output, out),
        Command::Edit(args) => edit::run(args, &cli.globals, &output, out),
        Command::Remove(args) => remove::run(args, &cli.globals, &output, out),
        Command::Retire(args) => retire::run(args, &cli.globals, &output, out),
        Command::Library(args) => library::run(args, &cli.globals, &output, out),
        Command::Student(args) => student::run(args, &cli.globals, &output, out),
        Command::Progress(args) => progress::run(args, &cli.globals, &output, out),
        Command::Eval(args) => progress::eval(args, &output, out),
        Command::Records(args) => records::run(args, &cli.globals, &output, out),
        Command::Serve(args) => serve::run(args, &cli.globals, out),
        Command::Schema => schema::run(out),
        Command::Completions(args) => examples::completions(args, out),
        Command::Manual => examples::manual(out),
    };
    match result.and_then(|code| out.flush().map(|()| code).map_err(Failure::from)) {
        Ok(code) => ExitCode::from(code),
        Err(failure) => failure.report(output.width, output.format == Format::Json),
    }
}

/// Says what of the command line was not understood, or prints the help that was asked for.
fn refused(error: &clap::Error, arguments: &[OsString]) -> ExitCode {
    let code = u8::try_from(error.exit_code()).unwrap_or(2);
    let mut pairs = arguments.iter().zip(arguments.iter().skip(1));
    let json = pairs.any(|(option, value)| option == "--format" && value == "json")
        || arguments.iter().any(|argument| argument == "--format=json");
    let example = examples::instead(error.kind(), arguments);
    let plain = || error.render().to_string() + &example;
    if error.use_stderr() && (json || plain().chars().any(|c| c != '\n' && steers(c))) {
        return Failure::NotUnderstood(plain()).report(usize::MAX, json);
    }
    // `--help` and `--version` come this way too, and belong on standard output.
    match error.print() {
        Ok(()) => {
            let _ = std::io::stderr().write_all(example.as_bytes());
            ExitCode::from(code)
        }
        Err(_) => ExitCode::from(if error.use_stderr() { code } else { 0 }),
    }
}
