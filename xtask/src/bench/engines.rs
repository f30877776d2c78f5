//! The same work done by NumPy, by the native crate, and by the page in Chromium.

use std::path::Path;

use anyhow::{Context, Result};
use serde::Deserialize;
use serde_json::{Value, json};
use xshell::{Shell, cmd};
use xtask::page::Page;

use super::numbers::{least, median};
use super::table::Row;
use crate::reference;

/// The Design that everything here is done for: the one the page opens with.
const DESIGN: &str = "{}";
const BOARDS: u32 = 10_000;
const FREQUENCIES: u32 = 400;
const REPEATS: u32 = 20;

/// Milliseconds of NumPy at the extremes over the boards, on one thread.
#[derive(Deserialize)]
pub struct Numpy {
    /// As fast as it was made to go.
    milliseconds: Vec<f64>,
    /// As one would write it first.
    milliseconds_plain: Vec<f64>,
    /// NumPy's version.
    numpy: String,
}

/// Milliseconds of the project's own code.
#[derive(Deserialize)]
pub struct Own {
    /// The parts are given; the boards are drawn in it.
    extremes: Vec<f64>,
    /// The same at no more than two frequencies: what is not the work NumPy is timed at.
    extremes_at_two: Vec<f64>,
    /// The search of the shelf.
    pick: Vec<f64>,
}

/// Times NumPy.
pub fn numpy(sh: &Shell, python: &Path) -> Result<Numpy> {
    let script = format!("{}/bench_extremes.py", reference::SCRIPTS);
    let (boards, frequencies) = (BOARDS.to_string(), FREQUENCIES.to_string());
    let repeats = REPEATS.to_string();
    let report = cmd!(
        sh,
        "{python} {script} --boards {boards} --frequencies {frequencies} --repeats {repeats}"
    )
    // It could keep NumPy from the best code for this processor.
    .env_remove("OPENBLAS_CORETYPE")
    .read()?;
    serde_json::from_str(&report).with_context(|| format!("what {script} says: {report}"))
}

/// Times the native crate, by `benches/native.rs`.
pub fn native(sh: &Shell, pinned: &str) -> Result<Own> {
    let counts = [BOARDS, FREQUENCIES, REPEATS].map(|count| count.to_string());
    let report = cmd!(
        sh,
        "cargo bench --bench native -- {DESIGN} {pinned} {counts...}"
    )
    .read()?;
    serde_json::from_str(&report).with_context(|| format!("what benches/native.rs says: {report}"))
}

/// The Design with its parts pinned to what is picked for it, so that timing it times no search.
pub async fn pinned(page: &Page) -> Result<String> {
    const SCRIPT: &str = "const { stages: [{ parts }] } = JSON.parse(wasmBindings.solve(arguments[0])); \
         const pins = Object.fromEntries(parts.map(({ name, value }) => [name, value])); \
         return JSON.stringify({ stages: [{ pins }] })";
    let design = page.run(SCRIPT, vec![json!(DESIGN)]).await?;
    Ok(design.as_str().context("no Design came back")?.to_owned())
}

/// Times what the page exports to its console.
pub async fn browser(page: &Page, pinned: &str) -> Result<Own> {
    Ok(Own {
        extremes: call(page, json!(["extremes", pinned, BOARDS, FREQUENCIES])).await?,
        extremes_at_two: call(page, json!(["extremes", pinned, BOARDS, 2])).await?,
        pick: call(page, json!(["pick", DESIGN])).await?,
    })
}

/// Milliseconds of each of several calls of an export, after one that is not counted.
async fn call(page: &Page, call: Value) -> Result<Vec<f64>> {
    const SCRIPT: &str = "const [[name, ...given], repeats] = arguments; \
         const work = () => wasmBindings[name](...given); \
         work(); \
         const times = []; \
         for (let n = 0; n < repeats; n++) { \
             const start = performance.now(); \
             work(); \
             times.push(performance.now() - start); \
         } \
         return times";
    let times = page.run(SCRIPT, vec![call, json!(REPEATS)]).await?;
    Ok(serde_json::from_value(times)?)
}

/// What comes of the three.
pub fn rows(numpy: &Numpy, native: &Own, browser: &Own) -> Vec<Row> {
    let work = |own: &Own| median(&own.extremes) - median(&own.extremes_at_two);
    let against = |own: &Own| {
        let speed = median(&numpy.milliseconds) / work(own);
        let plain = median(&numpy.milliseconds_plain) / work(own);
        format!(
            "median {:.1} ms: {speed:.2} × NumPy, {plain:.1} × plain",
            work(own)
        )
    };
    let pick = Row::new("Chromium", spread(&browser.pick));
    vec![
        Row::heading(format!(
            "Extremes of |H|, {BOARDS} boards at {FREQUENCIES} frequencies, on one thread"
        )),
        Row::new(
            &format!("NumPy {}, tuned, boards given", numpy.numpy),
            spread(&numpy.milliseconds),
        ),
        Row::new(
            "NumPy, plain, boards given",
            spread(&numpy.milliseconds_plain),
        ),
        Row::new("native, all", spread(&native.extremes)),
        Row::new("native, less what 2 frequencies take", against(native)),
        Row::new("Chromium, all", spread(&browser.extremes)),
        Row::new("Chromium, less what 2 frequencies take", against(browser)),
        Row::heading("A full pick on the default shelf"),
        Row::new("native", spread(&native.pick)),
        pick.below(100.0, "ms", median(&browser.pick)),
    ]
}

/// The words for a list of times, fit for the table.
pub fn spread(times: &[f64]) -> String {
    format!("min {:.1} ms, median {:.1} ms", least(times), median(times))
}
