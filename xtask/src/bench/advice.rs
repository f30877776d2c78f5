//! Variance contributions, and what would change the yield: for a stage of twelve parts, in Chromium.

use anyhow::Result;
use serde_json::{Value, json};
use xtask::page::Page;

use super::engines::call;
use super::numbers::median;
use super::table::Row;

const STAGE: &str = "state-variable-notch";
const REPEATS: u32 = 3;

/// The stage with 10,000 boards, and what of the rest is wanted.
fn design(contributions: bool, propose: bool) -> Value {
    json!({
        "stages": [{ "circuit": STAGE, "ask": { "family": "notch", "frequency": 2350.0, "q": 2.0 } }],
        "view": { "compare": false, "blame": contributions, "propose": propose },
    })
}

/// What they add to the same without them.
pub async fn rows(page: &Page) -> Result<Vec<Row>> {
    let mut times = Vec::new();
    for (contributions, propose) in [(false, false), (true, false), (true, true)] {
        let solve = json!(["solve", design(contributions, propose).to_string()]);
        times.push(median(&call(page, solve, REPEATS).await?));
    }
    let added = |at: usize| times[at] - times[0];
    Ok(vec![
        Row::heading(format!(
            "Twelve parts ({STAGE}), 10000 boards, in Chromium: what comes behind the spread"
        )),
        Row::new(
            "worst case and variance contributions",
            format!("{:.0} ms", added(1)),
        ),
        Row::new("the same and advice", format!("{:.0} ms", added(2))).below(
            2000.0,
            "ms",
            added(2),
        ),
    ])
}
