//! The design as a document: the way back, files, and what leaves the page.

use std::io::Write;

use fantoccini::Locator;
use fantoccini::actions::{InputSource, KeyAction, KeyActions};
use fantoccini::key::Key;
use serde_json::{Value, json};
use xtask::Result;
use xtask::page::Page;

use crate::{open, parts};

const FREQUENCY: &str = "Notch frequency";

/// Presses a key while Control, and Shift perhaps, is held.
async fn with_control(page: &Page, key: char, shift: bool) -> Result<()> {
    let held = [Some(Key::Control), shift.then_some(Key::Shift)];
    let held: Vec<char> = held.into_iter().flatten().map(char::from).collect();
    let mut keys = KeyActions::new("keyboard".into());
    for &value in &held {
        keys = keys.then(KeyAction::Down { value });
    }
    keys = keys
        .then(KeyAction::Down { value: key })
        .then(KeyAction::Up { value: key });
    for &value in held.iter().rev() {
        keys = keys.then(KeyAction::Up { value });
    }
    page.browser.perform_actions(keys).await?;
    Ok(())
}

async fn click(page: &Page, name: &str) -> Result<()> {
    const SCRIPT: &str = "const button = [...document.querySelectorAll('button, summary')] \
         .find(one => one.innerText.trim().startsWith(arguments[0])); \
         if (!button) throw new Error('no button ' + arguments[0]); \
         button.click()";
    page.run(SCRIPT, vec![json!(name)]).await?;
    page.wait_for_frames().await
}

async fn design(page: &Page) -> Result<Value> {
    // The address may be some tenths of a second behind.
    let mut before = Value::Null;
    loop {
        let hash = page.run("return location.hash", vec![]).await?;
        if hash == before {
            return Ok(hash);
        }
        before = hash;
        tokio::time::sleep(std::time::Duration::from_millis(400)).await;
    }
}

/// Has the page put what it saves into `window.saved` as well.
async fn watch_files(page: &Page) -> Result<()> {
    const WATCH: &str = "window.saved = []; \
         const make = URL.createObjectURL.bind(URL); \
         URL.createObjectURL = blob => { blob.text().then(text => saved.push(text)); return make(blob) }";
    page.run(WATCH, vec![]).await?;
    Ok(())
}

async fn saved(page: &Page, count: usize) -> Result<String> {
    page.wait_until(&format!("return saved.length === {count}"))
        .await?;
    let text = page.run("return saved[saved.length - 1]", vec![]).await?;
    Ok(text.as_str().unwrap_or_default().to_owned())
}

async fn choose(page: &Page, text: &[u8]) -> Result<()> {
    let mut file = tempfile::Builder::new().suffix(".json").tempfile()?;
    file.write_all(text)?;
    let input = page.browser.find(Locator::Css(".chooser")).await?;
    input.send_keys(&file.path().display().to_string()).await?;
    page.wait_until("return document.querySelector('.notice p') !== null")
        .await
}

async fn notice(page: &Page) -> Result<String> {
    let told = page
        .run(
            "return document.querySelector('.notice p').innerText",
            vec![],
        )
        .await?;
    Ok(told.as_str().unwrap_or_default().to_owned())
}

#[tokio::test]
#[ignore = "needs the built page: cargo xtask test"]
async fn twenty_steps_lead_back_and_forth_again() -> Result<()> {
    let page = open().await?;
    let mut designs = vec![design(&page).await?];
    for step in 0..10 {
        page.fill(FREQUENCY, &format!("{} kHz", 1.1 + 0.3 * f64::from(step)))
            .await?;
        designs.push(design(&page).await?);
        page.fill("Q", &format!("{}", 1.5 + 0.1 * f64::from(step)))
            .await?;
        designs.push(design(&page).await?);
    }
    for (step, wanted) in designs.iter().rev().skip(1).enumerate() {
        match step % 2 {
            0 => with_control(&page, 'z', false).await?,
            _ => click(&page, "Undo").await?,
        }
        assert_eq!(design(&page).await?, *wanted, "{step} back");
    }
    let is_off = "return [...document.querySelectorAll('.document button')].find(b => b.innerText === 'Undo').ariaDisabled";
    assert_eq!(page.run(is_off, vec![]).await?, "true");
    for (step, wanted) in designs.iter().skip(1).enumerate() {
        match step % 2 {
            0 => with_control(&page, 'z', true).await?,
            _ => click(&page, "Redo").await?,
        }
        assert_eq!(design(&page).await?, *wanted, "{step} forth");
    }
    page.wait_for("ready").await?;
    assert_eq!(page.input(FREQUENCY, "value").await?, "3.8 kHz");
    Ok(())
}

#[tokio::test]
#[ignore = "needs the built page: cargo xtask test"]
async fn a_design_goes_to_another_machine_as_a_file() -> Result<()> {
    let mine = open().await?;
    watch_files(&mine).await?;
    mine.fill(FREQUENCY, "3.4 kHz").await?;
    click(&mine, "Design without a name").await?;
    mine.fill("Design name", "Focus stage").await?;
    mine.wait_for("ready").await?;
    click(&mine, "Save as a file").await?;
    let text = saved(&mine, 1).await?;
    let theirs = open().await?;
    choose(&theirs, text.as_bytes()).await?;
    theirs.wait_for("ready").await?;
    assert_eq!(design(&theirs).await?, design(&mine).await?);
    assert_eq!(parts(&theirs).await?, parts(&mine).await?);
    assert_eq!(
        theirs.run("return document.title", vec![]).await?,
        "Focus stage · polewright"
    );
    with_control(&theirs, 'z', false).await?;
    theirs.wait_for("ready").await?;
    assert_eq!(theirs.input(FREQUENCY, "value").await?, "2.35 kHz");
    Ok(())
}

#[tokio::test]
#[ignore = "needs the built page: cargo xtask test"]
async fn damaged_and_later_files_are_told_and_nothing_is_lost() -> Result<()> {
    let page = open().await?;
    watch_files(&page).await?;
    let before = design(&page).await?;
    click(&page, "Save as a file").await?;
    let text = saved(&page, 1).await?;
    for damaged in [
        &text.as_bytes()[..text.len() / 2],
        b"\xff\xfe\x00",
        b"",
        b"[1, 2]",
        b"{\"stages\": 3}",
    ] {
        choose(&page, damaged).await?;
        assert!(notice(&page).await?.contains("was not opened"));
        click(&page, "Close this notice").await?;
        assert_eq!(design(&page).await?, before);
    }
    let mut later: Value = serde_json::from_str(&text)?;
    later["version"] = json!(99);
    later["enclosure"] = json!({ "kind": "die-cast" });
    choose(&page, later.to_string().as_bytes()).await?;
    let told = notice(&page).await?;
    assert!(
        told.contains("version 99") && told.contains("“/enclosure”"),
        "{told}"
    );
    click(&page, "Save as a file").await?;
    let again: Value = serde_json::from_str(&saved(&page, 2).await?)?;
    assert_eq!(again, later);
    // Another design has nothing of that file.
    click(&page, "Close this notice").await?;
    page.fill(FREQUENCY, "3.4 kHz").await?;
    page.wait_for("ready").await?;
    click(&page, "Start over").await?;
    page.wait_for("ready").await?;
    click(&page, "Save as a file").await?;
    let other: Value = serde_json::from_str(&saved(&page, 3).await?)?;
    assert_eq!(other, serde_json::from_str::<Value>(&text)?);
    Ok(())
}

#[tokio::test]
#[ignore = "needs the built page: cargo xtask test"]
async fn netlist_and_tables_are_exported() -> Result<()> {
    let page = open().await?;
    watch_files(&page).await?;
    click(&page, "Export").await?;
    page.wait_until("return document.querySelectorAll('.files button').length > 5")
        .await?;
    click(&page, "Netlist").await?;
    let netlist = saved(&page, 1).await?;
    assert!(
        netlist.contains(".SUBCKT") && netlist.trim_end().ends_with(".END"),
        "{netlist}"
    );
    page.fill("Boards to buy for", "12").await?;
    click(&page, "Parts list").await?;
    let list = saved(&page, 2).await?;
    let first = format!("{}", page.part("R1").await?);
    assert!(list.lines().count() > 3 && list.contains(&first), "{list}");
    page.fill("Boards to buy for", "none").await?;
    page.wait_until(
        "return document.getElementById('boards-to-buy').getAttribute('aria-invalid') === 'true'",
    )
    .await?;
    Ok(())
}

/// A sweep makes a link that mail cuts off: the file is offered then.
#[tokio::test]
#[ignore = "needs the built page: cargo xtask test"]
async fn a_link_that_is_too_long_is_told() -> Result<()> {
    let page = open().await?;
    const TOLD: &str = "return document.querySelector('.long-link')?.innerText ?? ''";
    assert_eq!(page.run(TOLD, vec![]).await?, json!(""));
    crate::press(&page, "Use the demo").await?;
    page.wait_until("return location.hash.length > 8000 && !!document.querySelector('.long-link')")
        .await?;
    let told = page.run(TOLD, vec![]).await?;
    let length = page.run("return location.hash.length", vec![]).await?;
    let thousands = length.as_f64().unwrap_or(f64::NAN) / 1000.0;
    let words = told.as_str().unwrap_or_default();
    assert!(
        words.contains(&format!("{:.0} thousand", thousands.ceil())),
        "{words} {length}"
    );
    Ok(())
}
