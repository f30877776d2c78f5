//! Python with what the reference scripts import, in a virtual environment under `target/`.

use std::path::PathBuf;

use anyhow::{Context, Result};
use xshell::{Shell, cmd};

const REQUIREMENTS: &str = "tests/reference/requirements.txt";
const ENVIRONMENT: &str = "target/python";
const CANDIDATES: [&str; 7] = [
    "python3",
    "python3.14",
    "python3.13",
    "python3.12",
    "python3.11",
    "python3.10",
    "python",
];
const OLDEST: (u32, u32) = (3, 10);
const BY_HAND: &str = "The reference scripts need Python 3.10 or newer with its `venv` module \
    (on Debian and Ubuntu the packages python3 and python3-venv): please install it.";

/// The interpreter of the virtual environment, which is made or brought up to date first.
pub fn ensure(sh: &Shell) -> Result<PathBuf> {
    let programs = if cfg!(windows) {
        "Scripts/python.exe"
    } else {
        "bin/python"
    };
    let python = sh.current_dir().join(ENVIRONMENT).join(programs);
    let wanted = sh.read_file(REQUIREMENTS)?;
    // Written last: a copy of the list says that all of it was installed.
    let installed = format!("{ENVIRONMENT}/requirements.txt");
    if version(sh, &python).is_some() && sh.read_file(&installed).is_ok_and(|list| list == wanted) {
        return Ok(python);
    }
    sh.remove_path(ENVIRONMENT)?;
    if create(sh).is_err() {
        crate::apt::install(sh, &["python3", "python3-venv"], BY_HAND)?;
        sh.remove_path(ENVIRONMENT)?;
        create(sh)?;
    }
    cmd!(
        sh,
        "{python} -m pip install --quiet --disable-pip-version-check -r {REQUIREMENTS}"
    )
    .run()
    .context("the packages of the reference scripts cannot be installed")?;
    sh.write_file(&installed, wanted)?;
    Ok(python)
}

fn create(sh: &Shell) -> Result<()> {
    let python = CANDIDATES
        .into_iter()
        .find(|name| version(sh, name).is_some_and(|version| version >= OLDEST))
        .context(BY_HAND)?;
    cmd!(sh, "{python} -m venv {ENVIRONMENT}")
        .run()
        .context(BY_HAND)
}

/// Major and minor version of the interpreter, if it is one and runs.
fn version(sh: &Shell, python: impl AsRef<std::path::Path>) -> Option<(u32, u32)> {
    let script = "import sys; print(sys.version_info[0], sys.version_info[1])";
    let said = sh
        .cmd(python)
        .args(["-c", script])
        .quiet()
        .ignore_stderr()
        .read()
        .ok()?;
    let (major, minor) = said.split_once(' ')?;
    Some((major.parse().ok()?, minor.parse().ok()?))
}
