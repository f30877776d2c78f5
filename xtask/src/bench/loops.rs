//! A fit, loops over boards and plants, and a long sweep: by the native crate, by the page's exports in
//! Chromium, and by python-control.

use std::path::Path;

use anyhow::{Context, Result};
use serde::Deserialize;
use serde_json::{Value, json};
use xshell::{Shell, cmd};
use xtask::page::Page;

use super::engines::{call, spread};
use super::numbers::{least, median};
use super::table::Row;
use super::{intake, plant};
use crate::reference;

const POINTS: usize = 200;
/// A long sweep that is fitted as well.
const ROWS: usize = 2000;
const BOARDS: u32 = 10_000;
/// What is taken off, so that only boards count.
const FEW: u32 = 100;
const REPEATS: u32 = 10;
/// Crossover (Hz) and phase margin (degrees) of a loop that can be had, and of one that cannot.
const WISHED: (f64, f64) = (300.0, 50.0);
const TOO_MUCH: (f64, f64) = (3000.0, 60.0);
/// Boards on which python-control is timed.
const TIMED: u32 = 100;

/// Milliseconds of python-control for each board.
#[derive(Deserialize)]
pub struct Control {
    /// As fast as it goes.
    milliseconds_board: Vec<f64>,
    /// As it goes by itself.
    milliseconds_board_default: Vec<f64>,
    /// Its version.
    control: String,
}

/// Milliseconds of the project's own code at each of [`designs`], several times.
pub struct Own {
    solve: Vec<Vec<f64>>,
}

/// What `benches/loops.rs` says.
#[derive(Deserialize)]
struct Native {
    read: Vec<f64>,
    solve: Vec<Vec<f64>>,
}

/// Designs that differ by one thing each: a fit, loops on many boards, stages on many boards, a fit to a long
/// sweep, a loop that is solved as a whole, and one that cannot be had.
fn designs() -> [Value; 10] {
    let (sweep, long) = (plant::sweep(POINTS), plant::sweep(ROWS));
    let with = |boards| plant::design(json!({ "model": plant::model() }), boards);
    let whole = |crossover, margin| {
        let ask = json!({ "crossover": crossover, "phase_margin": margin });
        plant::design(json!({ "model": plant::model(), "whole": ask }), FEW)
    };
    let without = |boards| plant::design(Value::Null, boards);
    [
        plant::design(json!({ "sweep": sweep }), FEW),
        plant::design(json!({ "sweep": sweep, "model": plant::model() }), FEW),
        with(BOARDS),
        with(FEW),
        without(BOARDS),
        without(FEW),
        plant::design(json!({ "sweep": long }), FEW),
        plant::design(json!({ "sweep": long, "model": plant::model() }), FEW),
        whole(WISHED.0, WISHED.1),
        whole(TOO_MUCH.0, TOO_MUCH.1),
    ]
}

impl Own {
    /// The least, as differences are wanted.
    fn at(&self, design: usize) -> f64 {
        least(&self.solve[design])
    }

    /// A fit, ms.
    fn fit(&self) -> f64 {
        self.at(0) - self.at(1)
    }

    /// A fit to the long sweep, ms.
    fn long_fit(&self) -> f64 {
        self.at(6) - self.at(7)
    }

    /// The loop as a whole, as wished and as it cannot be had, ms.
    fn whole(&self) -> [f64; 2] {
        [8, 9].map(|design| self.at(design) - self.at(3))
    }

    /// A board's loop with its margins and its settling, ms.
    fn board(&self) -> f64 {
        let loops = self.at(2) - self.at(3) - (self.at(4) - self.at(5));
        loops / f64::from(BOARDS - FEW)
    }
}

/// Times python-control.
pub fn control(sh: &Shell, python: &Path) -> Result<Control> {
    let script = format!("{}/bench_loops.py", reference::SCRIPTS);
    let boards = TIMED.to_string();
    let report = cmd!(sh, "{python} {script} --boards {boards}").read()?;
    serde_json::from_str(&report).with_context(|| format!("what {script} says: {report}"))
}

/// Times the native crate, by `benches/loops.rs`: reading a long sweep, and the rest.
pub fn native(sh: &Shell) -> Result<(Vec<f64>, Own)> {
    let folder = tempfile::tempdir()?;
    let file = folder.path().join("sweep.txt");
    sh.write_file(&file, plant::sweep(intake::ROWS))?;
    let (repeats, kept) = (REPEATS.to_string(), intake::KEPT.to_string());
    let designs = designs().map(|design| design.to_string());
    let report = cmd!(
        sh,
        "cargo bench --bench loops -- {repeats} {file} {kept} {designs...}"
    )
    // The designs are long.
    .quiet()
    .read()?;
    let told: Native = serde_json::from_str(&report)
        .with_context(|| format!("what benches/loops.rs says: {report}"))?;
    Ok((told.read, Own { solve: told.solve }))
}

/// Times what the page exports to its console.
pub async fn browser(page: &Page) -> Result<Own> {
    let mut solve = Vec::new();
    for design in designs() {
        solve.push(call(page, json!(["solve", design.to_string()]), REPEATS).await?);
    }
    Ok(Own { solve })
}

/// What comes of the three.
pub fn rows(control: &Control, native: &Own, browser: &Own) -> Vec<Row> {
    let fit = |what: &str, own: &Own| Row::new(what, format!("{:.1} ms", own.fit()));
    let long = |what: &str, own: &Own| Row::new(what, format!("{:.1} ms", own.long_fit()));
    let at_once = |what: &str, own: &Own| {
        let [wished, too_much] = own.whole();
        Row::new(what, format!("{wished:.0} ms and {too_much:.0} ms"))
    };
    let theirs = median(&control.milliseconds_board);
    let board = |what: &str, own: &Own| {
        let (all, times) = (own.board() * f64::from(BOARDS), theirs / own.board());
        let figure = format!(
            "{all:.0} ms, {:.1} µs a board: {times:.0} × python-control",
            1e3 * own.board()
        );
        Row::new(what, figure).above(20.0, "×", times)
    };
    let by_board = |times: &[f64]| {
        let (low, middle) = (least(times), median(times));
        format!("min {low:.2} ms, median {middle:.2} ms a board")
    };
    let whole = spread(&browser.solve[2]);
    vec![
        Row::heading(format!("A fit of 3 modes to {POINTS} points")),
        fit("native", native),
        fit("Chromium", browser).below(200.0, "ms", browser.fit()),
        Row::heading(format!("A fit of 3 modes to {ROWS} rows")),
        long("native", native),
        long("Chromium", browser).below(300.0, "ms", browser.long_fit()),
        Row::heading(format!(
            "A loop as a whole on a plant of 3 modes: {} Hz with {}°, and {} Hz with {}°, which is out of reach",
            WISHED.0, WISHED.1, TOO_MUCH.0, TOO_MUCH.1
        )),
        at_once("native", native),
        at_once("Chromium", browser).below(
            2000.0,
            "ms",
            browser.whole().into_iter().fold(0.0, f64::max),
        ),
        Row::heading(format!(
            "{BOARDS} loops with margins: PID, amplifier, notch and a plant of 3 modes, each with its settling"
        )),
        Row::new(
            &format!("python-control {}, polynomials", control.control),
            by_board(&control.milliseconds_board),
        ),
        Row::new(
            "python-control, as by default",
            by_board(&control.milliseconds_board_default),
        ),
        board("native", native),
        board("Chromium", browser),
        Row::new("Chromium, all of that solve", whole).below(
            2000.0,
            "ms",
            median(&browser.solve[2]),
        ),
    ]
}
