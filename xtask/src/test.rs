//! `test`: every check, as continuous integration runs them.

use std::path::Path;
use std::process::ExitCode;

use anyhow::Result;
use xshell::{Shell, cmd};

use crate::serve::Site;
use crate::steps::Steps;
use crate::{axe, build, chromium, python, reference, tools};

/// Sees to the tools, then runs all checks even where one fails: a run tells all it can.
pub fn run(sh: &Shell) -> Result<ExitCode> {
    let mut steps = Steps::default();
    checks(sh, &mut steps);
    let passed = steps.report();
    Ok(if passed {
        ExitCode::SUCCESS
    } else {
        ExitCode::FAILURE
    })
}

/// The steps in order; without the tools nothing else is worth a try.
fn checks(sh: &Shell, steps: &mut Steps) -> Option<()> {
    steps.run("build tools", || tools::ensure(sh))?;
    steps.run("Chromium", || chromium::ensure(sh))?;
    let python = steps.run("Python", || python::ensure(sh))?;
    let axe = steps.run("axe-core", || axe::ensure(sh, &python))?;

    steps.run("format", || Ok(cmd!(sh, "cargo fmt --all --check").run()?));
    steps.run("clippy, native", || {
        Ok(cmd!(sh, "cargo clippy --workspace --all-targets -- -D warnings").run()?)
    });
    steps.run("clippy, wasm32", || {
        let page = "--package polewright --lib --bins --target wasm32-unknown-unknown";
        let page = page.split(' ');
        cmd!(sh, "cargo clippy {page...} -- -D warnings").run()?;
        let solver = "--package polewright --bin solver --no-default-features --target wasm32-unknown-unknown";
        let solver = solver.split(' ');
        Ok(cmd!(sh, "cargo clippy {solver...} -- -D warnings").run()?)
    });
    steps.run("documentation", || {
        let doc = cmd!(sh, "cargo doc --workspace --no-deps");
        Ok(doc.env("RUSTDOCFLAGS", "-D warnings").run()?)
    });
    steps.run("tests, native", || {
        Ok(cmd!(sh, "cargo test --workspace --no-fail-fast").run()?)
    });
    steps.run("references", || reference::check(sh, &python));
    steps.run("page, release build", || build::page(sh))?;
    steps.run("tests, in the browser", || browser(sh, &axe))
}

/// Runs the tests in `tests/browser` against the built page.
fn browser(sh: &Shell, axe: &Path) -> Result<()> {
    let site = Site::of_built_page(sh)?;
    cmd!(
        sh,
        "cargo test --package xtask --test browser -- --ignored --test-threads=2"
    )
    .env("POLEWRIGHT_PAGE", &site.address)
    .env("POLEWRIGHT_AXE", axe)
    .run()?;
    Ok(())
}
