//! The door to the library: arguments in, exit status out.

fn main() -> std::process::ExitCode {
    fairwhy::cli::run(std::env::args_os(), &mut std::io::stdout().lock())
}
