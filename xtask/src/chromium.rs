//! Chromium and chromedriver, from the system.

use anyhow::{Result, ensure};
use xshell::Shell;
use xtask::browser::BROWSER_NAMES;

const BY_HAND: &str = "The browser tests need Chromium or Chrome, and chromedriver of the same \
    version, both on PATH: please install them.";

/// Installs both where apt-get can, and says what is missing where it cannot.
pub fn ensure(sh: &Shell) -> Result<()> {
    if present() {
        return Ok(());
    }
    crate::apt::install(sh, &["chromium", "chromium-driver"], BY_HAND)?;
    ensure!(present(), "{BY_HAND}");
    Ok(())
}

fn present() -> bool {
    // Elsewhere than on Linux browsers are not on PATH, and chromedriver knows where they are.
    let browser =
        !cfg!(target_os = "linux") || BROWSER_NAMES.iter().any(|name| which::which(name).is_ok());
    browser && which::which("chromedriver").is_ok()
}
