//! `cargo xtask <command>`: everything this project needs beyond `cargo` itself.
//!
//! | module | command |
//! |---|---|
//! | `build` | `build`: the page, into `dist/` |
//! | `serve` | `serve`: the page on this machine |
//! | `test` | `test`: every check, as continuous integration runs them |
//! | `bench` | `bench`: how fast and how heavy |
//! | `shots` | `shots`: pictures of the page |
//!
//! The others are what these stand on: `tools`, `chromium`, `python`, `axe` and `apt` see to what must be
//! installed, `steps` keeps the record of a run, `reference` and `compare` check the references.

mod apt;
mod axe;
mod bench;
mod build;
mod chromium;
mod compare;
mod flags;
mod python;
mod reference;
mod serve;
mod shots;
mod steps;
mod test;
mod tools;

use std::path::Path;
use std::process::ExitCode;

use anyhow::Result;
use flags::{Xtask, XtaskCmd};
use xshell::Shell;

fn main() -> ExitCode {
    run(Xtask::from_env_or_exit()).unwrap_or_else(|error| {
        // The sentence is what helps, not where in this tool it was said.
        eprintln!("{error:#}");
        ExitCode::FAILURE
    })
}

fn run(flags: Xtask) -> Result<ExitCode> {
    let sh = shell()?;
    match flags.subcommand {
        XtaskCmd::Test(_) => return test::run(&sh),
        XtaskCmd::Build(_) => build::run(&sh)?,
        XtaskCmd::Serve(serve) => serve::run(&sh, serve.port)?,
        XtaskCmd::Bench(bench) => bench::run(&sh, &bench.groups)?,
        XtaskCmd::Shots(shots) => shots::run(&sh, shots.fragment.as_deref())?,
    }
    Ok(ExitCode::SUCCESS)
}

/// A shell at the root of the repository that finds the tools installed under `target/`.
fn shell() -> Result<Shell> {
    let sh = Shell::new()?;
    let xtask = Path::new(env!("CARGO_MANIFEST_DIR"));
    sh.change_dir(xtask.parent().unwrap_or(xtask));
    tools::put_on_path(&sh)?;
    Ok(sh)
}
