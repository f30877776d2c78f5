//! What the page weighs on the wire, and how long a first visit takes.

use std::io::{Cursor, Write};

use anyhow::Result;
use flate2::Compression;
use flate2::write::GzEncoder;
use serde_json::json;
use walkdir::{DirEntry, WalkDir};
use xshell::Shell;
use xtask::browser::{Browser, Record};
use xtask::page::Page;

use super::engines::spread;
use super::numbers::median;
use super::table::Row;
use crate::build::DIST;

const VISITS: usize = 5;
/// How the names of the worker's files begin.
const SOLVER: &str = "solver";

/// The weight of every file and of all, and the time until values are seen.
pub async fn rows(sh: &Shell, address: &str) -> Result<Vec<Row>> {
    let mut drawn = Vec::new();
    let mut ready = Vec::new();
    for _ in 0..VISITS {
        let (first, last) = visit(address).await?;
        drawn.push(first);
        ready.push(last);
    }
    let mut rows = files(sh)?;
    rows.extend([
        Row::heading("A first visit in Chromium: empty cache, no network in between"),
        Row::new("values and curves", spread(&drawn)).below(1000.0, "ms", median(&drawn)),
        Row::new("ready, spread included", spread(&ready)),
    ]);
    Ok(rows)
}

fn files(sh: &Shell) -> Result<Vec<Row>> {
    let dist = sh.current_dir().join(DIST);
    let mut rows = vec![Row::heading("Weight")];
    let (mut total, mut page) = ((0, 0), (0, 0));
    // What begins with a dot is trunk's own.
    let served = |entry: &DirEntry| !entry.file_name().as_encoded_bytes().starts_with(b".");
    let entries = WalkDir::new(&dist).min_depth(1).sort_by_file_name();
    for entry in entries.into_iter().filter_entry(served) {
        let entry = entry?;
        if !entry.file_type().is_file() {
            continue;
        }
        let content = sh.read_binary_file(entry.path())?;
        let (gzip, brotli) = (gzip(&content)?, brotli(&content)?);
        let name = entry.path().strip_prefix(&dist)?.display().to_string();
        rows.push(Row::new(&name, sizes(gzip, brotli)));
        total = (total.0 + gzip, total.1 + brotli);
        if !name.starts_with(SOLVER) {
            page = (page.0 + gzip, page.1 + brotli);
        }
    }
    let draws = Row::new("what draws", sizes(page.0, page.1));
    rows.push(draws.below(400.0, "kB gzip", kilobytes(page.0)));
    let all = Row::new("all files", sizes(total.0, total.1));
    rows.push(all.below(900.0, "kB gzip", kilobytes(total.0)));
    Ok(rows)
}

fn sizes(gzip: usize, brotli: usize) -> String {
    format!(
        "{:.1} kB gzip, {:.1} kB brotli",
        kilobytes(gzip),
        kilobytes(brotli)
    )
}

fn kilobytes(bytes: usize) -> f64 {
    bytes as f64 / 1e3
}

fn gzip(content: &[u8]) -> Result<usize> {
    let mut encoder = GzEncoder::new(Vec::new(), Compression::best());
    encoder.write_all(content)?;
    Ok(encoder.finish()?.len())
}

fn brotli(content: &[u8]) -> Result<usize> {
    let mut packed = Vec::new();
    brotli::BrotliCompress(&mut Cursor::new(content), &mut packed, &Default::default())?;
    Ok(packed.len())
}

/// Milliseconds from the navigation to the first drawing and to `ready`, in a fresh browser.
async fn visit(address: &str) -> Result<(f64, f64)> {
    const WATCH: &str = "new MutationObserver(() => { \
             const data = document.body?.dataset; \
             const parts = document.querySelector('[data-part]'); \
             if (parts && data.drawn) window.drawnAt ??= performance.now(); \
             if (data?.state === 'ready') window.readyAt ??= performance.now(); \
         }).observe(document, { \
             subtree: true, childList: true, attributeFilter: ['data-drawn', 'data-state'] })";
    let page = Page {
        browser: Browser::start(Record::Console).await?,
    };
    let watch = json!({ "source": WATCH });
    page.browser
        .devtools("Page.addScriptToEvaluateOnNewDocument", watch)
        .await?;
    page.browser.goto(address).await?;
    page.wait_for("ready").await?;
    let times = page.run("return [drawnAt, readyAt]", vec![]).await?;
    Ok(serde_json::from_value(times)?)
}
