//! A million boards on the page: how long, how free the page stays, how much memory, and what a board costs.

use anyhow::{Result, ensure};
use serde_json::json;
use xtask::browser::Record;
use xtask::page::Page;

use super::engines::{call, spread};
use super::numbers::median;
use super::table::Row;
use super::tasks;
use super::trace::{CATEGORIES, DRAWN, READY, Task, tasks_of_spread};

const FIELD: &str = "Boards";
const MILLION: u32 = 1_000_000;
const RUNS: usize = 3;
/// Boards of a run, and how often it is timed.
const COUNTS: [(u32, u32); 3] = [(10_000, 5), (100_000, 3), (MILLION, 1)];
/// What is taken off, so that only boards count.
const FEW: u32 = 100;

/// All of it; for the demo.
pub async fn rows(address: &str) -> Result<Vec<Row>> {
    let (mut times, mut memories) = (Vec::new(), Vec::new());
    for _ in 0..RUNS {
        let page = Page::open(address, Record::Console).await?;
        let (time, memory) = million(&page).await?;
        times.push(time);
        memories.push(memory);
    }
    let memory = median(&memories);
    let mut rows = vec![
        Row::heading("A million boards on the page, the demo's, with figures, bands and yield"),
        Row::new("last digit typed to ready", spread(&times)).below(5000.0, "ms", median(&times)),
        Row::new(
            "memory of the module that draws, which never shrinks",
            format!("{memory:.0} MB"),
        )
        .below(200.0, "MB", memory),
    ];
    rows.extend(tasks::rows(
        "longest task meanwhile (trace)",
        &traced(address).await?,
    ));
    rows.extend(by_board(address).await?);
    Ok(rows)
}

/// Types the number: milliseconds from its last digit to `ready`, and the module's memory then, MB.
async fn million(page: &Page) -> Result<(f64, f64)> {
    const WATCH: &str = "const [typed, ready] = arguments; \
         let pressed = null; \
         addEventListener('input', event => { \
             pressed = event.timeStamp; \
             window.took = null; \
             performance.mark(typed); \
         }, true); \
         new MutationObserver(() => { \
             if (document.body.dataset.state !== 'ready' || pressed === null) return; \
             took = performance.now() - pressed; \
             performance.mark(ready); \
         }).observe(document.body, { attributeFilter: ['data-state'] })";
    const MEMORY: &str = "return wasmBindings.default() \
         .then(module => [took, module.memory.buffer.byteLength / 1e6])";
    page.tab_to(FIELD).await?;
    page.select_all().await?;
    page.run(WATCH, vec![json!(DRAWN), json!(READY)]).await?;
    page.type_text(&MILLION.to_string()).await?;
    page.wait_for("ready").await?;
    let told = page.run(MEMORY, vec![]).await?;
    Ok(serde_json::from_value(told)?)
}

/// The tasks of the page's thread between the last digit and the end of all boards.
async fn traced(address: &str) -> Result<Vec<Task>> {
    let page = Page::open(address, Record::Trace(CATEGORIES)).await?;
    million(&page).await?;
    let tasks = tasks_of_spread(&page.browser.events().await?);
    ensure!(
        !tasks.is_empty(),
        "the trace shows no task between the last digit and `ready`"
    );
    Ok(tasks)
}

/// What a board costs, whatever their number.
async fn by_board(address: &str) -> Result<Vec<Row>> {
    let design = |boards: u32| json!({ "spread": { "boards": boards }, "view": { "compare": false, "propose": false, "blame": false } });
    let page = Page::open(address, Record::Console).await?;
    let solve = |boards, repeats| {
        let design = json!(["solve", design(boards).to_string()]);
        let page = &page;
        async move { call(page, design, repeats).await }
    };
    let few = median(&solve(FEW, COUNTS[0].1).await?);
    let mut rows = vec![Row::heading(
        "What a board costs in Chromium, the demo's, figures, bands and yield",
    )];
    for (boards, repeats) in COUNTS {
        let time = median(&solve(boards, repeats).await?) - few;
        let figure = format!("{:.2} µs a board", 1e3 * time / f64::from(boards - FEW));
        rows.push(Row::new(&format!("{boards} boards"), figure));
    }
    Ok(rows)
}
