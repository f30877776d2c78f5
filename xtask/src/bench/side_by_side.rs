//! The same boards on one thread and on two.

use anyhow::{Context, Result};
use serde::Deserialize;
use xshell::{Shell, cmd};

use super::bands::Numpy;
use super::engines::{self, FREQUENCIES, spread};
use super::numbers::median;
use super::table::Row;

const BOARDS: u32 = 100_000;
const REPEATS: u32 = 7;

/// Milliseconds on one thread and on two.
#[derive(Deserialize)]
struct Times {
    one: Vec<f64>,
    two: Vec<f64>,
}

/// Natively; what boards are given to other workers on the page is the same.
pub fn rows(sh: &Shell, numpy: &Numpy, pinned: &str) -> Result<Vec<Row>> {
    let native = native(sh, pinned)?;
    // NumPy's own time goes with the boards, or faster than that.
    let scale = f64::from(BOARDS) / f64::from(engines::BOARDS);
    let plain = scale * numpy.plain() / median(&native.two);
    let mut rows = vec![Row::heading(format!(
        "The same on two threads, {BOARDS} boards at {FREQUENCIES} frequencies, drawn and counted"
    ))];
    rows.extend(against("native", &native));
    let figure = format!("{plain:.0} × plain (by its time a board)");
    rows.push(Row::new("native, two, against NumPy", figure).above(40.0, "× plain", plain));
    Ok(rows)
}

fn against(what: &str, times: &Times) -> [Row; 3] {
    let ratio = median(&times.one) / median(&times.two);
    let figure = format!("{ratio:.2} × as fast");
    [
        Row::new(&format!("{what}, one"), spread(&times.one)),
        Row::new(&format!("{what}, two"), spread(&times.two)),
        Row::new(&format!("{what}, two against one"), figure).above(1.7, "×", ratio),
    ]
}

/// By `benches/bands.rs`.
fn native(sh: &Shell, pinned: &str) -> Result<Times> {
    let counts = [BOARDS, FREQUENCIES, REPEATS].map(|count| count.to_string());
    let report = cmd!(sh, "cargo bench --bench bands -- {pinned} {counts...}").read()?;
    serde_json::from_str(&report).with_context(|| format!("what benches/bands.rs says: {report}"))
}
