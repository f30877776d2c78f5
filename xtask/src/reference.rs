//! The references: numbers found by somebody else's method, made again and compared.

use std::path::{Path, PathBuf};

use anyhow::{Context, Result, bail, ensure};
use serde_json::Value;
use xshell::{Shell, cmd};

use crate::compare::first_difference;

/// The scripts, each beside the JSON it made.
pub const SCRIPTS: &str = "tests/reference";
const AGAIN: &str = "target/reference";

/// Runs every script that has a JSON file of the same stem beside it and compares what it makes.
///
/// The others are what these import, or are for the benchmark.
pub fn check(sh: &Shell, python: &Path) -> Result<()> {
    sh.create_dir(AGAIN)?;
    let files = sh.read_dir(SCRIPTS)?;
    let scripts = files
        .iter()
        .filter(|file| file.extension().is_some_and(|end| end == "py"));
    let made: Vec<(&PathBuf, PathBuf)> = scripts
        .map(|script| (script, script.with_extension("json")))
        .filter(|(_, kept)| kept.exists())
        .collect();
    ensure!(
        !made.is_empty(),
        "no script in {SCRIPTS} has made a reference"
    );
    for (script, kept) in made {
        let name = kept.file_name().context("a file without a name")?;
        let again = sh.current_dir().join(AGAIN).join(name);
        cmd!(sh, "{python} {script} --out {again}").run()?;
        if let Some(difference) = first_difference(&json(sh, &kept)?, &json(sh, &again)?) {
            bail!(
                "{} is not what its script makes now, at {difference}",
                kept.display()
            );
        }
    }
    Ok(())
}

fn json(sh: &Shell, file: &Path) -> Result<Value> {
    serde_json::from_str(&sh.read_file(file)?).with_context(|| file.display().to_string())
}
