//! The programs that turn the crate into a page: trunk, wasm-bindgen and the wasm32 target.
//!
//! One that is installed in the right version is used as it is; otherwise it is built once under
//! `target/tools`. There the `dev` profile will do: they run for seconds, and build much faster.

use std::env;

use anyhow::{Context, Result};
use xshell::{Shell, cmd};

const TARGET: &str = "wasm32-unknown-unknown";
const TRUNK: &str = "0.21.14";
const INSTALLED: &str = "target/tools";

/// Puts the tools under `target/` before all others for the commands that `sh` runs.
pub fn put_on_path(sh: &Shell) -> Result<()> {
    let ours = sh.current_dir().join(INSTALLED).join("bin");
    let rest = env::var_os("PATH").unwrap_or_default();
    let all = env::join_paths([ours].into_iter().chain(env::split_paths(&rest)))
        .context("PATH cannot take the tools' directory")?;
    sh.set_var("PATH", all);
    Ok(())
}

/// Installs what is missing.
pub fn ensure(sh: &Shell) -> Result<()> {
    target(sh)?;
    // The two halves of wasm-bindgen only understand each other in the same version. Without
    // --locked, since the lock file it is published with asks for yanked versions.
    let bindgen = locked_version(sh, "wasm-bindgen")?;
    tool(sh, "wasm-bindgen", "wasm-bindgen-cli", &bindgen, None)?;
    tool(sh, "trunk", "trunk", TRUNK, Some("--locked"))
}

fn target(sh: &Shell) -> Result<()> {
    let sysroot = cmd!(sh, "rustc --print sysroot").quiet().read()?;
    if sh.path_exists(format!("{sysroot}/lib/rustlib/{TARGET}/lib")) {
        return Ok(());
    }
    cmd!(sh, "rustup target add {TARGET}")
        .run()
        .with_context(|| format!("this Rust cannot compile for {TARGET}; install rustup"))
}

/// The version of `package` that Cargo.lock holds.
fn locked_version(sh: &Shell, package: &str) -> Result<String> {
    let id = cmd!(sh, "cargo pkgid {package}").quiet().read()?;
    let (_, version) = id
        .rsplit_once('@')
        .with_context(|| format!("no version in `{id}`"))?;
    Ok(version.to_owned())
}

fn tool(
    sh: &Shell,
    program: &str,
    package: &str,
    version: &str,
    locked: Option<&str>,
) -> Result<()> {
    let found = cmd!(sh, "{program} --version")
        .quiet()
        .ignore_stderr()
        .read();
    if found.is_ok_and(|said| said.split_whitespace().any(|word| word == version)) {
        return Ok(());
    }
    cmd!(
        sh,
        "cargo install {package} --version {version} {locked...} --debug --force --root {INSTALLED}"
    )
    .run()
    .with_context(|| format!("{package} {version} cannot be installed"))
}
