//! The same work done by NumPy, by the native crate, and by the page in Chromium.

use std::path::Path;

use anyhow::{Context, Result};
use serde::Deserialize;
use serde::de::DeserializeOwned;
use serde_json::{Value, json};
use xshell::{Shell, cmd};
use xtask::page::Page;

use super::numbers::{least, median};
use super::table::Row;
use crate::reference;

/// The Design that everything here is done for: the one the page opens with.
const DESIGN: &str = "{}";
pub const BOARDS: u32 = 10_000;
pub const FREQUENCIES: u32 = 400;
const REPEATS: u32 = 20;

/// Milliseconds of NumPy at the extremes over the boards, on one thread.
#[derive(Deserialize)]
pub struct Numpy {
    /// As fast as it was made to go.
    milliseconds: Vec<f64>,
    /// As one would write it first.
    milliseconds_plain: Vec<f64>,
    /// The same over four stages in a row.
    milliseconds_path: Vec<f64>,
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
    /// The same with quantiles, of level and phase.
    bands: Vec<f64>,
    bands_at_two: Vec<f64>,
    /// The search of the shelf.
    pick: Vec<f64>,
    /// Extremes over a path of four second-order stages, and the same at two frequencies.
    path: Vec<f64>,
    path_at_two: Vec<f64>,
    /// The search for all four of its stages.
    path_pick: Vec<f64>,
}

impl Own {
    /// Bands with quantiles, less what is not the work NumPy is timed at, ms.
    pub fn bands(&self) -> f64 {
        median(&self.bands) - median(&self.bands_at_two)
    }
}

/// An eighth-order Butterworth low-pass at 2.35 kHz: four stages, a pair of poles each.
fn path() -> Value {
    let stage = |q: f64| {
        json!({
            "circuit": "sallen-key-low-pass",
            "ask": { "family": "low-pass2", "frequency": 2350.0, "q": q },
        })
    };
    let stages: Vec<Value> = [0.5098, 0.6013, 0.9, 2.5629]
        .into_iter()
        .map(stage)
        .collect();
    json!({ "stages": stages, "view": { "compare": false, "blame": false } })
}

/// The path's stages as designs of their own.
fn path_stages() -> Vec<String> {
    let path = path();
    let stages = path["stages"].as_array().into_iter().flatten();
    stages
        .map(|stage| json!({ "stages": [stage] }).to_string())
        .collect()
}

/// Times NumPy.
pub fn numpy(sh: &Shell, python: &Path) -> Result<Numpy> {
    timed_by_numpy(sh, python, "bench_extremes.py", REPEATS)
}

/// What a script of NumPy's reports on so many repeats over the boards and frequencies.
pub fn timed_by_numpy<T: DeserializeOwned>(
    sh: &Shell,
    python: &Path,
    script: &str,
    repeats: u32,
) -> Result<T> {
    let script = format!("{}/{script}", reference::SCRIPTS);
    let counts = [BOARDS, FREQUENCIES, repeats].map(|count| count.to_string());
    let [boards, frequencies, repeats] = &counts;
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
    let (path, stages) = (path().to_string(), path_stages());
    let report = cmd!(
        sh,
        "cargo bench --bench native -- {DESIGN} {pinned} {counts...} {path} {stages...}"
    )
    // NumPy has one.
    .env("RAYON_NUM_THREADS", "1")
    .read()?;
    serde_json::from_str(&report).with_context(|| format!("what benches/native.rs says: {report}"))
}

/// The Design with its parts pinned to what is picked for it, so that timing it times no search.
pub async fn pinned(page: &Page) -> Result<String> {
    const SCRIPT: &str = "return (async design => { \
         const { stages: [{ parts }] } = JSON.parse(await wasmBindings.solve(design)); \
         const pins = Object.fromEntries(parts.map(({ name, value }) => [name, value])); \
         return JSON.stringify({ stages: [{ pins }] }) })(arguments[0])";
    let design = page.run(SCRIPT, vec![json!(DESIGN)]).await?;
    Ok(design.as_str().context("no Design came back")?.to_owned())
}

/// Times what the page exports to its console.
pub async fn browser(page: &Page, pinned: &str) -> Result<Own> {
    let path = path().to_string();
    Ok(Own {
        extremes: call(
            page,
            json!(["extremes", pinned, BOARDS, FREQUENCIES]),
            REPEATS,
        )
        .await?,
        extremes_at_two: call(page, json!(["extremes", pinned, BOARDS, 2]), REPEATS).await?,
        bands: call(page, json!(["bands", pinned, BOARDS, FREQUENCIES]), REPEATS).await?,
        bands_at_two: call(page, json!(["bands", pinned, BOARDS, 2]), REPEATS).await?,
        pick: call(page, json!(["pick", DESIGN]), REPEATS).await?,
        path: call(
            page,
            json!(["extremes", path, BOARDS, FREQUENCIES]),
            REPEATS,
        )
        .await?,
        path_at_two: call(page, json!(["extremes", path, BOARDS, 2]), REPEATS).await?,
        path_pick: {
            let mut sum = vec![0.0; REPEATS as usize];
            for stage in path_stages() {
                let times = call(page, json!(["pick", stage]), REPEATS).await?;
                sum.iter_mut()
                    .zip(times)
                    .for_each(|(sum, time)| *sum += time);
            }
            sum
        },
    })
}

/// The catalogue in Chromium: the slowest pick of any stage, and the table of other circuits.
pub async fn catalogue(page: &Page) -> Result<Vec<Row>> {
    let (stages, slowest) = slowest_pick(page, 1).await?;
    let (_, slowest_above) = slowest_pick(page, 100).await?;
    let (table, rows) = others(page).await?;
    Ok(vec![
        Row::heading(format!("The catalogue of {stages} stages, in Chromium")),
        pick("slowest pick of any stage", &slowest),
        pick(
            "slowest pick with frequencies 100 times as high",
            &slowest_above,
        ),
        Row::new(
            "other circuits for the demo's ask",
            format!("{table:.0} ms for {rows} rows"),
        )
        .below(1000.0, "ms", table),
    ])
}

/// How many stages there are, and milliseconds of the slowest pick and its circuit, with every frequency `by` times as
/// high: most op amps are too slow for a hundred times, and the whole shelf is searched then.
async fn slowest_pick(page: &Page, by: u32) -> Result<(usize, (f64, String))> {
    const PICKS: &str = "return (async by => { \
         const hertz = /^(frequency|null|zero|pole|corner|unity|roll_off|at|low|high)/; \
         const scaled = ask => Object.fromEntries(Object.entries(ask).map(([name, value]) => [name, \
             value !== null && typeof value === 'object' ? scaled(value) \
             : typeof value !== 'number' || name.endsWith('_limit') ? value \
             : hertz.test(name) || /_(zero|pole|high|low)$/.test(name) ? value * by \
             : name === 'td' ? value / by : value])); \
         const picks = []; \
         for (const { circuit, ask } of JSON.parse(await wasmBindings.catalogue())) { \
             const design = JSON.stringify({ stages: [{ circuit, ask: scaled(ask) }] }); \
             const times = []; \
             for (let run = 0; run < 3; run++) { \
                 const start = performance.now(); \
                 await wasmBindings.pick(design); \
                 times.push(performance.now() - start); \
             } \
             picks.push([Math.min(...times), circuit]); \
         } \
         return picks })(arguments[0])";
    let times = page.run(PICKS, vec![json!(by)]).await?;
    let mut picks: Vec<(f64, String)> = serde_json::from_value(times)?;
    picks.sort_by(|a, b| b.0.total_cmp(&a.0));
    let count = picks.len();
    let slowest = picks.into_iter().next().context("an empty catalogue")?;
    Ok((count, slowest))
}

/// What the table of other circuits adds to a solve, ms, and its rows.
async fn others(page: &Page) -> Result<(f64, u32)> {
    const TABLE: &str = "return (async () => { \
         const time = async compare => { \
             const design = JSON.stringify({ spread: { boards: 2000 }, view: { compare, propose: false, blame: false } }); \
             const start = performance.now(); \
             const { others } = JSON.parse(await wasmBindings.solve(design)); \
             return [performance.now() - start, others.length]; \
         }; \
         const [, rows] = await time(true); \
         const runs = []; \
         for (let run = 0; run < 3; run++) runs.push((await time(true))[0] - (await time(false))[0]); \
         return [Math.min(...runs), rows] })()";
    Ok(serde_json::from_value(page.run(TABLE, vec![]).await?)?)
}

fn pick(what: &str, (time, circuit): &(f64, String)) -> Row {
    Row::new(what, format!("{time:.1} ms ({circuit})")).below(100.0, "ms", *time)
}

/// Milliseconds of each of several calls of an export, after one that is not counted.
pub async fn call(page: &Page, call: Value, repeats: u32) -> Result<Vec<f64>> {
    const SCRIPT: &str = "return (async ([name, ...given]) => { \
         const start = performance.now(); \
         await wasmBindings[name](...given); \
         return performance.now() - start })(arguments[0])";
    let mut times = Vec::new();
    for _ in 0..=repeats {
        let time = page.run(SCRIPT, vec![call.clone()]).await?;
        times.push(time.as_f64().context("no time came back")?);
    }
    Ok(times.split_off(1))
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
    let path = |own: &Own| {
        let work = median(&own.path) - median(&own.path_at_two);
        let plain = median(&numpy.milliseconds_path) / work;
        format!("median {work:.1} ms: {plain:.1} × plain")
    };
    let path_pick = Row::new(
        "pick of all its stages, Chromium",
        spread(&browser.path_pick),
    );
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
        Row::heading(format!(
            "An eighth-order path, {BOARDS} boards at {FREQUENCIES} frequencies, on one thread"
        )),
        Row::new(
            "NumPy, plain, boards given",
            spread(&numpy.milliseconds_path),
        ),
        Row::new("native, less what 2 frequencies take", path(native)),
        Row::new("Chromium, less what 2 frequencies take", path(browser)),
        Row::new("pick of all its stages, native", spread(&native.path_pick)),
        path_pick.below(300.0, "ms", median(&browser.path_pick)),
    ]
}

/// The words for a list of times, fit for the table.
pub fn spread(times: &[f64]) -> String {
    format!("min {:.1} ms, median {:.1} ms", least(times), median(times))
}
