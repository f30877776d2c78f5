//! Packages of the system, where `apt-get` installs them.

use anyhow::{Result, ensure};
use xshell::{Shell, cmd};

/// Installs `packages` with apt-get; where that is not to be had, fails with `otherwise`, a
/// sentence that says what to install by hand.
pub fn install(sh: &Shell, packages: &[&str], otherwise: &str) -> Result<()> {
    ensure!(which::which("apt-get").is_ok(), "{otherwise}");
    let root = cmd!(sh, "id -u").quiet().read()? == "0";
    let sudo = !root && which::which("sudo").is_ok();
    // Either of the two takes a variable and then a command.
    let with = if sudo { "sudo" } else { "env" };
    let quiet = "DEBIAN_FRONTEND=noninteractive";
    let installed = cmd!(sh, "{with} {quiet} apt-get update")
        .run()
        .and_then(|()| cmd!(sh, "{with} {quiet} apt-get install -y {packages...}").run());
    ensure!(installed.is_ok(), "apt-get failed. {otherwise}");
    Ok(())
}
