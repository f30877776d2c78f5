//! The same boards on the page, drawn by one worker and by two.

use anyhow::{Result, ensure};
use serde_json::{Value, json};
use tempfile::TempDir;
use walkdir::WalkDir;
use xshell::Shell;
use xtask::browser::Record;
use xtask::page::Page;

use super::engines::spread;
use super::numbers::median;
use super::plant;
use super::table::Row;
use crate::build::DIST;
use crate::serve::Site;

const BOARDS: u32 = 100_000;
/// What is taken off, so that only boards count.
const FEW: u32 = 100;
/// Another seed draws all boards anew, and nothing else.
const FIELD: &str = "Seed";
/// One after the other; the first is not counted, for helpers are started then.
const SEEDS: std::ops::RangeInclusive<u32> = 2..=9;
/// The worker's own script, which can be told how many cores there are.
const START: &str = "solver-start.js";

/// The ratio of both, in turns on the same machine.
pub async fn rows(sh: &Shell) -> Result<Vec<Row>> {
    let (one, two) = (Served::with_cores(sh, 1)?, Served::with_cores(sh, 2)?);
    let pages = [one.open(BOARDS).await?, two.open(BOARDS).await?];
    let many = in_turns(&pages).await?;
    for (page, cores) in pages.iter().zip(1..) {
        let helpers = page.browser.nested_workers().await?;
        ensure!(
            helpers + 1 == cores,
            "{helpers} helpers draw where the worker is told of {cores} cores"
        );
    }
    let frequencies = frequencies(&pages[0]).await?;
    drop(pages);
    let few = in_turns(&[one.open(FEW).await?, two.open(FEW).await?]).await?;
    let work = |cores: usize| median(&many[cores]) - median(&few[cores]);
    let ratio = work(0) / work(1);
    Ok(vec![
        Row::heading(format!(
            "{BOARDS} boards on the page at its {frequencies} frequencies, with figures, quantiles and yield"
        )),
        Row::new("Chromium, one worker", spread(&many[0])),
        Row::new("Chromium, two workers", spread(&many[1])),
        Row::new(
            &format!("boards in Chromium, two workers against one, less what {FEW} take"),
            format!("{ratio:.2} × as fast"),
        )
        .above(1.7, "×", ratio),
    ])
}

/// The built page, served from a copy whose worker finds so many cores.
struct Served {
    site: Site,
    _files: TempDir,
}

impl Served {
    /// The worker reads the number of cores of its own `navigator`, which nothing in the page reaches: so the copy's
    /// script says it.
    fn with_cores(sh: &Shell, cores: u32) -> Result<Served> {
        let dist = sh.current_dir().join(DIST);
        let files = tempfile::tempdir()?;
        for entry in WalkDir::new(&dist) {
            let entry = entry?;
            if entry.file_type().is_file() {
                let place = files.path().join(entry.path().strip_prefix(&dist)?);
                sh.write_file(place, sh.read_binary_file(entry.path())?)?;
            }
        }
        let start = files.path().join(START);
        let script = sh.read_file(&start)?;
        let told = format!(
            "Object.defineProperty(navigator, \"hardwareConcurrency\", {{ value: {cores} }});\n"
        );
        sh.write_file(&start, told + &script)?;
        Ok(Served {
            site: Site::of_page_in(files.path().to_owned())?,
            _files: files,
        })
    }

    /// The demo with so many boards, and with nothing that comes behind them.
    async fn open(&self, boards: u32) -> Result<Page> {
        let address = plant::link(&self.site.address, &design(boards));
        let page = Page::open(&address, Record::Console).await?;
        page.run(WATCH, vec![]).await?;
        page.tab_to(FIELD).await?;
        Ok(page)
    }
}

fn design(boards: u32) -> Value {
    json!({
        "spread": { "boards": boards },
        "view": { "compare": false, "propose": false, "blame": false },
    })
}

/// Notes how long it takes from each keystroke, as the browser stamped it, to `ready`.
const WATCH: &str = "let pressed = null; \
     addEventListener('input', event => { \
         pressed = event.timeStamp; \
         window.took = null; \
     }, true); \
     new MutationObserver(() => { \
         if (document.body.dataset.state !== 'ready' || pressed === null) return; \
         window.took = performance.now() - pressed; \
         window.hear?.(took); \
     }).observe(document.body, { attributeFilter: ['data-state'] })";

/// Milliseconds that each page takes for each seed, one page after the other.
async fn in_turns(pages: &[Page; 2]) -> Result<[Vec<f64>; 2]> {
    // Nobody asks meanwhile: that would take time from the workers.
    const TOOK: &str = "return window.took ?? new Promise(took => { window.hear = took })";
    let mut times = [Vec::new(), Vec::new()];
    for seed in SEEDS {
        for (page, times) in pages.iter().zip(&mut times) {
            page.select_all().await?;
            page.type_text(&seed.to_string()).await?;
            let took = page.run(TOOK, vec![]).await?;
            times.push(serde_json::from_value::<f64>(took)?);
        }
    }
    Ok(times.map(|mut times| times.split_off(1)))
}

/// How many frequencies the page's bands have.
async fn frequencies(page: &Page) -> Result<u64> {
    const SCRIPT: &str = "return wasmBindings.solve(arguments[0]) \
         .then(answer => JSON.parse(answer).spread.frequency.length)";
    let count = page
        .run(SCRIPT, vec![json!(design(FEW).to_string())])
        .await?;
    Ok(serde_json::from_value(count)?)
}
