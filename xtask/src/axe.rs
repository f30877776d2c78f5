//! axe-core, which judges the page's accessibility in the browser tests: a script that is fetched, and never kept in the
//! repository.
//!
//! A Python package carries it; of that package nothing else is used, so that it is installed without what it needs
//! itself, and no Python runs it.

use std::path::{Path, PathBuf};

use anyhow::{Context, Result};
use xshell::{Shell, cmd};

/// The package in its version, with the hash that it must have.
const REQUIREMENTS: &str = "tests/browser/requirements.txt";
const INSTALLED: &str = "target/axe";

/// The script, which is fetched first where it is not there in this version.
pub fn ensure(sh: &Shell, python: &Path) -> Result<PathBuf> {
    let script = sh
        .current_dir()
        .join(INSTALLED)
        .join("axe_playwright_python/axe.min.js");
    let wanted = sh.read_file(REQUIREMENTS)?;
    // Written last: a copy of the list says that all of it was installed.
    let installed = format!("{INSTALLED}/requirements.txt");
    if script.exists() && sh.read_file(&installed).is_ok_and(|list| list == wanted) {
        return Ok(script);
    }
    sh.remove_path(INSTALLED)?;
    cmd!(
        sh,
        "{python} -m pip install --quiet --disable-pip-version-check --no-deps --only-binary :all: --require-hashes --target {INSTALLED} -r {REQUIREMENTS}"
    )
    .run()
    .context("axe-core cannot be installed")?;
    anyhow::ensure!(script.exists(), "the package has no {}", script.display());
    sh.write_file(&installed, wanted)?;
    Ok(script)
}
