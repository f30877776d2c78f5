//! The whole way: ask, pick, build with parts that stray, measure, drop the response on the page, follow the repair, and
//! measure again. Boards are built in Python, from nothing but the page's own netlist (tests/reference/netlist_text.py).

use std::io::Write;
use std::process::{Command, Stdio};

use base64::Engine;
use base64::engine::general_purpose::URL_SAFE_NO_PAD;
use serde_json::{Value, json};
use xtask::Result;
use xtask::browser::Record;
use xtask::page::Page;

use crate::{close, open, press};

/// Changes of parts by designator: a factor, or another value in parallel or in series with it.
type Changes = Value;

/// The response of the page's netlist with changed parts, as rows of frequency, dB and degrees with one per cent of noise.
fn measured(netlist: &str, changes: &Changes, frequencies: &[f64], seed: u32) -> Result<String> {
    let root = concat!(env!("CARGO_MANIFEST_DIR"), "/..");
    let python = std::env::var("POLEWRIGHT_PYTHON")
        .unwrap_or_else(|_| format!("{root}/target/python/bin/python"));
    let mut child = Command::new(python)
        .arg(format!("{root}/tests/reference/board.py"))
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .spawn()?;
    let order = json!({
        "netlist": netlist, "changes": changes, "frequencies": frequencies, "noise": 0.01, "seed": seed
    });
    let mut input = child.stdin.take().expect("an input");
    input.write_all(order.to_string().as_bytes())?;
    drop(input);
    let output = child.wait_with_output()?;
    anyhow::ensure!(output.status.success(), "board.py failed");
    Ok(String::from_utf8(output.stdout)?)
}

fn grid(from: f64, to: f64, count: u32) -> Vec<f64> {
    (0..count)
        .map(|k| from * (to / from).powf(f64::from(k) / f64::from(count - 1)))
        .collect()
}

/// The netlist of the page's design, which is that of the demo.
fn netlist() -> Result<String> {
    let file: Value = serde_json::from_str(&polewright::export_json("{}", "netlist", 1))?;
    let text = file["text"].as_str();
    text.map(str::to_owned)
        .ok_or_else(|| anyhow::anyhow!("no netlist: {file}"))
}

/// Puts a text into the bench's box as a paste does.
async fn drop_response(page: &Page, text: &str) -> Result<()> {
    const SCRIPT: &str = "const box = document.getElementById('bench-text'); box.value = arguments[0]; \
         box.dispatchEvent(new Event('input', { bubbles: true }))";
    page.run(SCRIPT, vec![json!(text)]).await?;
    looked_at(page).await
}

/// Waits until the bench has looked at what is there.
async fn looked_at(page: &Page) -> Result<()> {
    page.wait_for("ready").await?;
    const DONE: &str = "return document.getElementById('bench')?.ariaBusy === 'false'";
    page.wait_until(DONE).await?;
    page.wait_for_frames().await
}

async fn verdict(page: &Page) -> Result<(String, Vec<String>)> {
    const SCRIPT: &str = "const told = document.querySelector('[data-figure=bench-verdict]'); \
         return [told?.dataset.value ?? '', [...document.querySelectorAll('.bench-words p')].map(p => p.textContent)]";
    Ok(serde_json::from_value(page.run(SCRIPT, vec![]).await?)?)
}

/// The board with the first repair done, as it is told.
async fn repaired(page: &Page, ill: &Changes) -> Result<Changes> {
    const REPAIR: &str =
        "return document.querySelector('[data-figure=bench-repair-1]').dataset.steps";
    let steps = page.run(REPAIR, vec![]).await?;
    let steps: Vec<Value> = serde_json::from_str(steps.as_str().unwrap_or("[]"))?;
    let mut changes = ill.clone();
    for step in &steps {
        let part = step["part"].as_str().expect("a part").to_owned();
        changes[&part] = json!({ "was": ill[&part], "do": step["do"], "value": step["value"] });
    }
    Ok(changes)
}

/// Nothing of the measured board is out of its limits.
async fn is_within_limits(page: &Page, changes: &Changes) -> Result<()> {
    const MISSED: &str =
        "return [...document.querySelectorAll('.bench-figures .missed')].map(c => c.textContent)";
    assert_eq!(page.run(MISSED, vec![]).await?, json!([]), "{changes}");
    Ok(())
}

/// The demo's board with R1 off, measured and dropped on the page.
pub async fn drop_an_ill_board(page: &Page) -> Result<()> {
    let changes = json!({ "R1": 1.07, "C1": 1.02, "C2": 0.985 });
    let text = measured(&netlist()?, &changes, &grid(235.0, 23.5e3, 101), 11)?;
    drop_response(page, &text).await
}

#[tokio::test]
#[ignore = "needs the built page: cargo xtask test"]
async fn a_board_is_built_measured_and_repaired() -> Result<()> {
    let page = open().await?;
    let text = netlist()?;
    assert!(text.contains(".SUBCKT STAGE1"), "{text:.300}");
    let frequencies = grid(235.0, 23.5e3, 101);
    // Every part within its tolerance but R1.
    let within = json!({ "R2": 1.004, "R3": 0.996, "R4": 1.003, "C1": 1.02, "C2": 0.985 });
    let mut ill = within.clone();
    ill["R1"] = json!(1.07);
    drop_response(&page, &measured(&text, &ill, &frequencies, 11)?).await?;
    let (found, words) = verdict(&page).await?;
    assert!(
        ["found", "one-of"].contains(&found.as_str()),
        "{found} {words:?}"
    );
    assert!(words[0].contains("No such board"), "{words:?}");
    assert!(words[1].contains("R1"), "{words:?}");
    // The first repair, as it is told.
    let changes = repaired(&page, &ill).await?;
    drop_response(&page, &measured(&text, &changes, &frequencies, 12)?).await?;
    is_within_limits(&page, &changes).await?;
    // What was dropped stays over a reload.
    let (_, before) = verdict(&page).await?;
    page.run("location.reload()", vec![]).await?;
    looked_at(&page).await?;
    assert_eq!(verdict(&page).await?.1, before);
    press(&page, "Remove the response").await?;
    let gone = "return document.querySelector('[data-figure=bench-verdict]') === null";
    assert_eq!(page.run(gone, vec![]).await?, true);
    let console = page.browser.console().await?;
    assert!(console.is_empty(), "{console:?}");
    Ok(())
}

/// Magnitudes without phases, as a meter gives them: less is told, nothing is drawn of the phase, and a part that is ten times
/// too large is named all the same.
#[tokio::test]
#[ignore = "needs the built page: cargo xtask test"]
async fn magnitudes_alone_are_held_against_boards() -> Result<()> {
    let page = open().await?;
    let frequencies = grid(235.0, 23.5e3, 61);
    let text = measured(&netlist()?, &json!({ "C2": 10.0 }), &frequencies, 31)?;
    let without: Vec<String> = (text.lines())
        .filter_map(|line| {
            let mut cells = line.split_whitespace();
            let (frequency, level) = (cells.next()?, cells.next()?);
            let is_row = frequency.parse::<f64>().is_ok();
            is_row.then(|| format!("{frequency}\t{level}"))
        })
        .collect();
    assert_eq!(without.len(), 61, "{text:.200}");
    drop_response(&page, &format!("Hz\tdB\n{}\n", without.join("\n"))).await?;
    let (found, words) = verdict(&page).await?;
    let words = words.join(" ");
    // Without the phase C1 looks nearly the same.
    assert!(["found", "one-of"].contains(&found.as_str()), "{words}");
    assert!(words.contains("C2 10 times too large"), "{words}");
    assert!(words.contains("Phase not measured"), "{words}");
    const CHARTS: &str = "return document.querySelectorAll('.bench-charts .plot').length";
    assert_eq!(page.run(CHARTS, vec![]).await?, 1);
    let console = page.browser.console().await?;
    assert!(console.is_empty(), "{console:?}");
    Ok(())
}

/// With the loop: the plant is the page's own model, the path is built with a part that is off.
#[tokio::test]
#[ignore = "needs the built page: cargo xtask test"]
async fn a_loop_is_measured_and_its_path_repaired() -> Result<()> {
    // A mass on a suspension at 30 Hz, damping 0.1, gain 1 at rest, behind the demo's notch.
    let omega = std::f64::consts::TAU * 30.0;
    let mode = json!({ "frequency": 30.0, "damping": 0.1, "residue": omega * omega, "slope": 0.0 });
    let model = json!({ "rigid": null, "modes": [mode], "delay": 0.0, "lag": null });
    let design = json!({ "servo": { "model": model }, "bench": { "of": "open-loop" } }).to_string();
    let link = URL_SAFE_NO_PAD.encode(design);
    let page = Page::open(&format!("{}#{link}", crate::address()), Record::Console).await?;
    let text = netlist()?;
    let plant = json!({ "frequency": 30.0, "damping": 0.1 });
    let frequencies = grid(300.0, 20e3, 121);
    let mut changes = json!({ "R1": 1.08, "R2": 0.997, "R3": 1.002, "R4": 0.998, "C1": 0.99, "C2": 1.01, "plant": plant });
    drop_response(&page, &measured(&text, &changes, &frequencies, 21)?).await?;
    let (found, words) = verdict(&page).await?;
    assert_ne!(found, "healthy", "{words:?}");
    changes = repaired(&page, &changes).await?;
    drop_response(&page, &measured(&text, &changes, &frequencies, 22)?).await?;
    is_within_limits(&page, &changes).await
}

/// An op amp of a class is put on the list and named by the stage; the page's demands are the program's.
#[tokio::test]
#[ignore = "needs the built page: cargo xtask test"]
async fn an_op_amp_is_named_and_held_against_its_demands() -> Result<()> {
    let page = open().await?;
    const OPEN: &str = "document.querySelectorAll('.op-amps details').forEach(d => d.open = true)";
    page.run(OPEN, vec![]).await?;
    let before = page.figure("demand-1-U1-slew-rate").await?;
    let native: Value =
        serde_json::from_str(&polewright::solve_json("{\"spread\": {\"boards\": 100}}"))?;
    let demands = native["demands"]["op_amps"][0]["demands"]
        .as_array()
        .cloned();
    let slew = demands.and_then(|all| {
        let found = all
            .into_iter()
            .find(|demand| demand["quantity"] == "slew-rate");
        found.and_then(|demand| demand["needed"].as_f64())
    });
    assert!(
        slew.is_some_and(|slew| close(before, slew, 1e-9)),
        "{before} {slew:?}"
    );
    const CHOOSE: &str = "const select = document.getElementById(arguments[0]); select.value = arguments[1]; \
         select.dispatchEvent(new Event('change', { bubbles: true }))";
    page.run(CHOOSE, vec![json!("add-op-amp"), json!("precision")])
        .await?;
    page.wait_for("ready").await?;
    const NAME: &str = "const select = [...document.querySelectorAll('.data-sheets select')].find(s => \
             [...s.options].some(o => o.value === 'precision') && s.id !== 'add-op-amp'); \
         select.value = 'precision'; select.dispatchEvent(new Event('change', { bubbles: true }))";
    page.run(NAME, vec![]).await?;
    page.wait_for("ready").await?;
    const SHEET: &str = "return document.querySelector('.demands tbody td').textContent";
    assert_eq!(page.run(SHEET, vec![]).await?, "precision");
    // Ten times the signal is more than its slew rate holds at 10 kHz.
    page.fill("Amplitude of point 2", "10 V").await?;
    page.press(fantoccini::key::Key::Tab).await?;
    page.wait_for("ready").await?;
    assert!(page.figure("demands-tightest").await? > 1.0);
    page.fill("Name of op amp 1", "slow one").await?;
    page.press(fantoccini::key::Key::Tab).await?;
    page.wait_for("ready").await?;
    assert_eq!(page.run(SHEET, vec![]).await?, "slow one");
    let console = page.browser.console().await?;
    assert!(console.is_empty(), "{console:?}");
    Ok(())
}
