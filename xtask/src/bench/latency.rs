//! How soon the page follows the keyboard, and whether it stays free meanwhile.

use std::time::{Duration, Instant};

use anyhow::{Context, Result, bail, ensure};
use fantoccini::key::Key;
use serde_json::json;
use xtask::browser::Record;
use xtask::page::Page;

use super::numbers::{median, percentile};
use super::table::Row;
use super::tasks;
use super::trace::{CATEGORIES, DRAWN, READY, Task, tasks_of_spread};

const FIELD: &str = "Notch frequency";
/// Rounds of four keystrokes: two digits typed, two taken back.
const ROUNDS: u8 = 10;
/// Between two keystrokes of somebody who types briskly; the spread is under way when the next
/// one comes.
const PAUSE: Duration = Duration::from_millis(120);

/// Keystroke to values and curves, and the longest task while the spread follows.
pub async fn rows(address: &str) -> Result<Vec<Row>> {
    let times = keystrokes(address).await?;
    let tasks = tasks(address).await?;
    let late = percentile(&times, 95);
    let figure = format!(
        "median {:.1} ms, 95th percentile {late:.1} ms",
        median(&times)
    );
    let mut rows = vec![
        Row::heading("At the keyboard, in Chromium"),
        Row::new("keystroke to values and curves", figure).below(16.7, "ms", late),
    ];
    rows.extend(tasks::rows("longest task of the spread (trace)", &tasks));
    Ok(rows)
}

/// Milliseconds from each keystroke, as the browser stamped it, to the page's word that all is
/// drawn.
async fn keystrokes(address: &str) -> Result<Vec<f64>> {
    const WATCH: &str = "window.took = []; \
         let pressed = null; \
         addEventListener('input', event => { pressed = event.timeStamp }, true); \
         new MutationObserver(() => { \
             if (pressed === null) return; \
             took.push(performance.now() - pressed); \
             pressed = null; \
         }).observe(document.body, { attributeFilter: ['data-drawn'] })";
    let page = Page::open(address, Record::Console).await?;
    go_behind_the_last_digit(&page).await?;
    page.run(WATCH, vec![]).await?;
    for (count, key) in keys().enumerate() {
        page.press(key).await?;
        // Asking the browser meanwhile would take the time that is measured.
        tokio::time::sleep(PAUSE).await;
        wait_until_drawn(&page, count + 1).await?;
    }
    let times = page.run("return took", vec![]).await?;
    Ok(serde_json::from_value(times)?)
}

/// Digits typed and taken back, each a change of the number: no zeros.
fn keys() -> impl Iterator<Item = char> {
    (0..ROUNDS).flat_map(|round| {
        let digit = |number: u8| char::from(b'1' + number % 9);
        let back: char = Key::Backspace.into();
        [digit(round), digit(round + 4), back, back]
    })
}

/// From "2.35 kHz", say, to "2.35| kHz".
async fn go_behind_the_last_digit(page: &Page) -> Result<()> {
    page.tab_to(FIELD).await?;
    let text = page.input(FIELD, "value").await?;
    let text = text
        .as_str()
        .with_context(|| format!("there is no input `{FIELD}`"))?;
    let digits = text
        .chars()
        .take_while(|c| c.is_ascii_digit() || *c == '.')
        .count();
    page.press(Key::Home).await?;
    for _ in 0..digits {
        page.press(Key::Right).await?;
    }
    Ok(())
}

async fn wait_until_drawn(page: &Page, count: usize) -> Result<()> {
    let patience = Instant::now() + Duration::from_secs(5);
    while page.run("return took.length", vec![]).await?.as_u64() < Some(count as u64) {
        if Instant::now() > patience {
            bail!("keystroke {count} in `{FIELD}` changes nothing on the page");
        }
        tokio::time::sleep(Duration::from_millis(5)).await;
    }
    Ok(())
}

/// The tasks of the page's thread between each drawing and the end of the spread.
async fn tasks(address: &str) -> Result<Vec<Task>> {
    const MARK: &str = "const [drawn, ready] = arguments; \
         new MutationObserver(() => performance.mark(drawn)) \
             .observe(document.body, { attributeFilter: ['data-drawn'] }); \
         new MutationObserver(() => { \
             if (document.body.dataset.state === 'ready') performance.mark(ready); \
         }).observe(document.body, { attributeFilter: ['data-state'] })";
    let page = Page::open(address, Record::Trace(CATEGORIES)).await?;
    go_behind_the_last_digit(&page).await?;
    page.run(MARK, vec![json!(DRAWN), json!(READY)]).await?;
    for key in keys().take(8) {
        page.press(key).await?;
        page.wait_for("ready").await?;
    }
    let tasks = tasks_of_spread(&page.browser.events().await?);
    ensure!(
        !tasks.is_empty(),
        "the trace shows no task between a drawing and `ready`"
    );
    Ok(tasks)
}
