//! `build`: the page, ready to be put on any static host, under any path.

use anyhow::{Context, Result};
use xshell::{Shell, cmd};

use crate::tools;

/// Where the page is left, relative to the root of the repository.
pub const DIST: &str = "dist";

/// Installs what is missing, then builds.
pub fn run(sh: &Shell) -> Result<()> {
    tools::ensure(sh)?;
    page(sh)
}

/// Builds the page with the tools at hand.
pub fn page(sh: &Shell) -> Result<()> {
    // Offline, trunk takes its tools from PATH and never downloads one; what cargo needs must
    // then be there already.
    cmd!(sh, "cargo fetch").run()?;
    cmd!(sh, "trunk build --release --offline")
        // trunk takes this variable for a flag of its own and accepts only true and false.
        .env_remove("NO_COLOR")
        .run()
        .context("the page does not build")
}
