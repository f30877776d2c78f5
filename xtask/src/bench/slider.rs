//! How soon the loop follows the keyboard, and whether the page stays free while loops are drawn.

use std::time::Duration;

use anyhow::{Result, ensure};
use fantoccini::key::Key;
use serde_json::{Value, json};
use xshell::Shell;
use xtask::browser::Record;
use xtask::page::Page;

use super::numbers::{median, percentile};
use super::plant;
use super::table::Row;
use super::tasks;
use super::trace::{CATEGORIES, DRAWN, READY, Task, tasks_of_spread};

const DEMO: &str = "control/src/plant/demo_sweep.txt";
/// A part of the path is picked again at each keystroke here, and here none.
const FIELDS: [&str; 2] = ["Upper zero", "Mode 2 frequency"];
const KEYS: usize = 40;
/// Between two keystrokes; boards are still being drawn when the next one comes.
const PAUSE: Duration = Duration::from_millis(250);
const BOARDS: u32 = 10_000;

/// Keystroke to the loop's figures and curves, and the longest task while loops are drawn.
pub async fn rows(sh: &Shell, address: &str) -> Result<Vec<Row>> {
    let sweep = sh.read_file(DEMO)?;
    let fitted = json!({ "sweep": sweep });
    let own = json!({ "sweep": sweep, "model": plant::model() });
    let link = |servo: &Value| plant::link(address, &plant::design(servo.clone(), BOARDS));
    let mut rows = vec![Row::heading("A loop at the keyboard, in Chromium")];
    for (servo, field) in [fitted, own.clone()].iter().zip(FIELDS) {
        let times = keystrokes(&link(servo), field).await?;
        let late = percentile(&times, 95);
        let figure = format!(
            "median {:.1} ms, 95th percentile {late:.1} ms, {} of {KEYS} keys change it",
            median(&times),
            times.len()
        );
        let what = format!("arrow key in “{field}” to the loop");
        rows.push(Row::new(&what, figure).below(50.0, "ms", late));
    }
    let tasks = tasks(&link(&own), FIELDS[1]).await?;
    rows.extend(tasks::rows(
        "longest task until loops are there (trace)",
        &tasks,
    ));
    Ok(rows)
}

/// Has the page note every key press and the end of the frame in which the loop's figures and curves have
/// changed, before it goes on with its own work; `then` is what it does there.
fn watch(then: &str) -> String {
    format!(
        "window.took = []; \
         let pressed = null; \
         addEventListener('keydown', event => {{ pressed = event.timeStamp }}, true); \
         new MutationObserver(() => {{ \
             if (pressed === null) return; \
             const since = pressed; \
             pressed = null; \
             const note = () => {{ \
                 took.push(performance.now() - since); \
                 {then} \
             }}; \
             requestAnimationFrame(() => scheduler.postTask(note, {{ priority: 'user-blocking' }})); \
         }}).observe(document.querySelector(\"[data-figure='crossover']\"), {{ \
             attributeFilter: ['data-value'] }});"
    )
}

/// Up for half of the time, and back.
fn keys() -> impl Iterator<Item = Key> {
    (0..KEYS).map(|count| match count < KEYS / 2 {
        true => Key::Up,
        false => Key::Down,
    })
}

/// Milliseconds from a keystroke, as the browser stamped it, to the frame that shows the loop with it, for each that
/// changes the loop: two asks close to each other may be answered by the same parts.
async fn keystrokes(address: &str, field: &str) -> Result<Vec<f64>> {
    let page = Page::open(address, Record::Console).await?;
    page.tab_to(field).await?;
    page.run(&watch(""), vec![]).await?;
    for key in keys() {
        page.run("window.before = took.length", vec![]).await?;
        page.press(key).await?;
        // Asking the page keeps it from its work.
        tokio::time::sleep(PAUSE).await;
        // Ready without a change: the loop is what it was.
        page.wait_until("return took.length > before || document.body.dataset.state === 'ready'")
            .await?;
    }
    let times = page.run("return took", vec![]).await?;
    let times: Vec<f64> = serde_json::from_value(times)?;
    ensure!(
        times.len() > KEYS / 2,
        "only {} of {KEYS} arrow keys in “{field}” change the crossover",
        times.len()
    );
    Ok(times)
}

/// The tasks of the page's thread between the loop's frame and the end of all boards.
async fn tasks(address: &str, field: &str) -> Result<Vec<Task>> {
    let page = Page::open(address, Record::Trace(CATEGORIES)).await?;
    page.tab_to(field).await?;
    let mark = format!(
        "const [drawn, ready] = arguments; \
         {} \
         new MutationObserver(() => {{ \
             if (document.body.dataset.state === 'ready') performance.mark(ready); \
         }}).observe(document.body, {{ attributeFilter: ['data-state'] }})",
        watch("performance.mark(drawn)")
    );
    page.run(&mark, vec![json!(DRAWN), json!(READY)]).await?;
    for key in keys().take(4) {
        page.press(key).await?;
        page.wait_for("ready").await?;
    }
    let tasks = tasks_of_spread(&page.browser.events().await?);
    ensure!(
        !tasks.is_empty(),
        "the trace shows no task between a loop's frame and `ready`"
    );
    Ok(tasks)
}
