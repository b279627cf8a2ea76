//! `fairwhy serve`: the other door, opened from this one.

use super::layers::wanted;
use super::{Failure, Globals, home, records};
use crate::web::{App, ServedLibrary, Server, Setup};
use clap::Args;
use std::io::Write;
use std::net::{IpAddr, Ipv4Addr, SocketAddr};
use std::process::{Command, Stdio};
use std::sync::Arc;

/// Opens the lesson, drills and the library as pages in a browser on this machine.
///
/// Prints one line, the address with a key that works once, and serves until it is stopped. The browser
/// that opens the address is let in, and nobody else. A lesson is kept as it goes: a closed tab or a
/// stopped server loses nothing. It works without any network.
#[derive(Debug, Args)]
pub(crate) struct ServeArgs {
    /// The port (left out: any that is free)
    #[arg(long, value_name = "N", default_value_t = 0, hide_default_value = true)]
    port: u16,
    /// Do not open a browser; only print the address
    #[arg(long)]
    no_open: bool,
    /// Write nothing: no lesson is kept and no entry is saved
    #[arg(long)]
    read_only: bool,
    /// Listen at this address of this machine instead of at itself alone; whoever is on that network and
    /// has the link can then use it, and what goes over the air is not encrypted
    #[arg(long, value_name = "ADDR", default_value_t = IpAddr::V4(Ipv4Addr::LOCALHOST), hide_default_value = true)]
    listen: IpAddr,
}

pub(crate) fn run(args: &ServeArgs, globals: &Globals, out: &mut dyn Write) -> Result<u8, Failure> {
    if args.listen.is_unspecified() {
        return Err(Failure::NotUnderstood(format!(
            "error: {} is every address of this machine, and a page answers at one\n  help: name the address that the tablet reaches, such as --listen 192.168.1.20",
            args.listen
        )));
    }
    let library =
        ServedLibrary::read(wanted(globals), home::cache()).map_err(|error| Failure::Broken {
            problems: error.problems,
            page: error.page,
        })?;
    let address = SocketAddr::new(args.listen, args.port);
    let not_served = |error: std::io::Error| {
        Failure::NotDone(format!(
            "error: nothing can be served at {address}: {error}\n  help: leave out --port for any that is free, and --listen for this machine alone"
        ))
    };
    let server = Server::bind(address).map_err(not_served)?;
    let address = server.address().map_err(not_served)?;
    let setup = Setup {
        library,
        home: home::home()?,
        records: records::place()?,
        coach: records::coach(),
        read_only: args.read_only,
    };
    let app = App::new(address, setup).map_err(not_served)?;
    let link = app.link();
    if !args.listen.is_loopback() {
        // Said on standard error, so that the one line stays the only one.
        let _ = writeln!(
            std::io::stderr(),
            "note: whoever is on the network of {} and has the link can use it; nothing on the way is encrypted",
            args.listen
        );
    }
    writeln!(out, "{link}")?;
    out.flush()?;
    if !args.no_open {
        open(&link);
    }
    server.run(Arc::new(app)).map_err(not_served)?;
    Ok(0)
}

/// Asks the platform to open the address; where it cannot, the line is there to be opened by hand.
fn open(link: &str) {
    let mut command = if cfg!(target_os = "macos") {
        Command::new("open")
    } else if cfg!(windows) {
        Command::new("explorer")
    } else {
        Command::new("xdg-open")
    };
    let quiet = command.arg(link).stdin(Stdio::null()).stdout(Stdio::null());
    let _ = quiet.stderr(Stdio::null()).spawn();
}
