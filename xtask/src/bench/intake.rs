//! A long sweep: from the text of a dropped file to what the page shows of it.

use anyhow::Result;
use serde_json::json;
use xtask::browser::Record;
use xtask::page::Page;

use super::engines::spread;
use super::numbers::median;
use super::plant;
use super::table::Row;

/// Rows of the sweep.
pub const ROWS: usize = 200_000;
/// Points that the page keeps of it.
pub const KEPT: usize = 800;
const DROPS: usize = 3;

/// How long it takes natively is `native`, ms.
pub async fn rows(address: &str, native: &[f64]) -> Result<Vec<Row>> {
    let text = plant::sweep(ROWS);
    let (mut told, mut drawn) = (Vec::new(), Vec::new());
    for _ in 0..DROPS {
        let (first, last) = drop_on(address, &text).await?;
        told.push(first);
        drawn.push(last);
    }
    Ok(vec![
        Row::heading(format!("Reading a sweep of {ROWS} rows")),
        Row::new(&format!("native, thinned to {KEPT}"), spread(native)),
        Row::new("Chromium, dropped file to its summary", spread(&told)).below(
            1000.0,
            "ms",
            median(&told),
        ),
        Row::new("Chromium, to its model and its loop", spread(&drawn)),
    ])
}

/// Drops a file with this text on the page: milliseconds until the sweep is told of, and until its loop is.
async fn drop_on(address: &str, text: &str) -> Result<(f64, f64)> {
    const DROP: &str = "const [text] = arguments; \
         const data = new DataTransfer(); \
         data.items.add(new File([text], 'sweep.txt', { type: 'text/plain' })); \
         window.seen = {}; \
         let dropped; \
         const see = (name, selector) => { \
             const value = document.querySelector(selector)?.dataset.value; \
             if (name in seen || !(Number(value) > 0)) return; \
             seen[name] = NaN; \
             requestAnimationFrame(() => setTimeout(() => { \
                 seen[name] = performance.now() - dropped; \
             })); \
         }; \
         new MutationObserver(() => { \
             see('told', \"[data-figure='sweep-points']\"); \
             see('drawn', \"[data-figure='crossover-measured']\"); \
         }).observe(document.body, { \
             subtree: true, childList: true, attributeFilter: ['data-value'] }); \
         dropped = performance.now(); \
         document.querySelector('.intake').dispatchEvent( \
             new DragEvent('drop', { dataTransfer: data, bubbles: true, cancelable: true }))";
    let page = Page::open(address, Record::Console).await?;
    page.run(DROP, vec![json!(text)]).await?;
    page.wait_until("return seen.drawn > 0").await?;
    let times = page.run("return [seen.told, seen.drawn]", vec![]).await?;
    Ok(serde_json::from_value(times)?)
}
