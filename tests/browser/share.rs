//! The address holds the Design: it survives a reload and can be sent to somebody else.

use std::time::Duration;

use base64::Engine;
use base64::prelude::BASE64_URL_SAFE_NO_PAD;
use serde_json::{Value, json};
use xtask::Result;
use xtask::browser::Record;
use xtask::page::Page;

use crate::{address, ask_for_another_notch, open, parts};

#[tokio::test]
#[ignore = "needs the built page: cargo xtask test"]
async fn reload_keeps_the_ask_and_the_parts() -> Result<()> {
    let page = open_and_ask().await?;
    let before = (
        hash(&page).await?,
        inputs(&page).await?,
        parts(&page).await?,
    );
    page.browser.refresh().await?;
    page.wait_for("ready").await?;
    assert_eq!(
        (
            hash(&page).await?,
            inputs(&page).await?,
            parts(&page).await?
        ),
        before
    );
    Ok(())
}

#[tokio::test]
#[ignore = "needs the built page: cargo xtask test"]
async fn shared_link_shows_the_same_parts_and_the_same_yield() -> Result<()> {
    let mine = open_and_ask().await?;
    let link = mine.browser.current_url().await?;
    let theirs = Page::open(link.as_str(), Record::Console).await?;
    assert_eq!(parts(&theirs).await?, parts(&mine).await?);
    assert_eq!(theirs.figure("yield").await?, mine.figure("yield").await?);
    assert_eq!(inputs(&theirs).await?, inputs(&mine).await?);
    Ok(())
}

/// A million boards take seconds; the address does not wait for them.
#[tokio::test]
#[ignore = "needs the built page: cargo xtask test"]
async fn an_edit_survives_a_reload_before_all_boards_are_drawn() -> Result<()> {
    let page = open().await?;
    page.fill("Boards", "1000000").await?;
    page.wait_for("ready").await?;
    // The last of several edits in a row, which the browser would not let into the address one by one.
    page.fill("Notch frequency", "3.4 kHz").await?;
    page.wait_for_frames().await?;
    const RELOAD: &str = "const state = document.body.dataset.state; \
         window.isBefore = true; \
         location.reload(); \
         return state";
    assert_eq!(page.run(RELOAD, vec![]).await?, "working");
    page.wait_until(
        "return window.isBefore === undefined && document.querySelector('label') !== null",
    )
    .await?;
    assert_eq!(page.input("Notch frequency", "value").await?, "3.4 kHz");
    Ok(())
}

/// A reload that a script asks for opens the address that was there when it asked: the last edit is not in it yet.
#[tokio::test]
#[ignore = "needs the built page: cargo xtask test"]
async fn an_edit_survives_a_reload_that_comes_at_once() -> Result<()> {
    const EDIT: &str = "const field = document.getElementById('field-stages-0-ask-frequency'); \
         const put = text => { field.value = text; field.dispatchEvent(new Event('input', { bubbles: true })) }; \
         window.isBefore = true; \
         put('3'); \
         setTimeout(() => { put('3.4 kHz'); location.reload() }, 60)";
    let page = open().await?;
    tokio::time::sleep(Duration::from_millis(800)).await;
    page.run(EDIT, vec![]).await?;
    page.wait_until(
        "return window.isBefore === undefined && document.querySelector('label') !== null",
    )
    .await?;
    assert_eq!(page.input("Notch frequency", "value").await?, "3.4 kHz");
    Ok(())
}

/// What browsers would not let into the address yet is written when the page is left or hidden.
#[tokio::test]
#[ignore = "needs the built page: cargo xtask test"]
async fn what_waits_is_written_when_the_page_is_left() -> Result<()> {
    const EDIT: &str = "const [first, second, left, done] = arguments; \
         const field = document.getElementById('field-stages-0-ask-q'); \
         const put = text => { field.value = text; field.dispatchEvent(new Event('input', { bubbles: true })) }; \
         const leave = { \
             pagehide: () => dispatchEvent(new Event('pagehide')), \
             beforeunload: () => dispatchEvent(new Event('beforeunload')), \
             hidden: () => { \
                 Object.defineProperty(document, 'hidden', { value: true, configurable: true }); \
                 document.dispatchEvent(new Event('visibilitychange')); \
                 delete document.hidden; \
             }, \
         }[left]; \
         put(first); \
         setTimeout(() => { \
             put(second); \
             setTimeout(() => { \
                 const before = location.hash; \
                 leave(); \
                 done([before, location.hash]); \
             }, 30); \
         }, 400)";
    let page = open().await?;
    for (at, left) in ["pagehide", "beforeunload", "hidden"]
        .into_iter()
        .enumerate()
    {
        tokio::time::sleep(Duration::from_millis(800)).await;
        let edits = vec![
            json!(format!("3.{at}")),
            json!(format!("4.{at}")),
            json!(left),
        ];
        let hashes = page.browser.execute_async(EDIT, edits).await?;
        let hashes: [String; 2] = serde_json::from_value(hashes)?;
        for (hash, number) in hashes.iter().zip([3.0, 4.0]) {
            let text = BASE64_URL_SAFE_NO_PAD.decode(hash.trim_start_matches('#'))?;
            let design: Value = serde_json::from_slice(&text)?;
            let expected = number + at as f64 / 10.0;
            assert_eq!(
                design["stages"][0]["ask"]["q"].as_f64(),
                Some(expected),
                "{left}"
            );
        }
    }
    Ok(())
}

#[tokio::test]
#[ignore = "needs the built page: cargo xtask test"]
async fn the_address_follows_an_edit_before_its_boards() -> Result<()> {
    let page = open().await?;
    page.fill("Boards", "1000000").await?;
    page.wait_for("ready").await?;
    let before = hash(&page).await?;
    const EDIT: &str = "const done = arguments[arguments.length - 1]; \
         const field = document.getElementById('field-stages-0-ask-q'); \
         field.value = '3'; \
         field.dispatchEvent(new Event('input', { bubbles: true })); \
         setTimeout(() => done([location.hash, document.body.dataset.state]), 300)";
    let told = page.browser.execute_async(EDIT, vec![]).await?;
    let (now, state): (String, String) = serde_json::from_value(told)?;
    assert_ne!(json!(now), before);
    assert_eq!(state, "working");
    let theirs = Page::visit(&format!("{}{now}", address()), Record::Console).await?;
    theirs
        .wait_until("return document.querySelector('label') !== null")
        .await?;
    assert_eq!(theirs.input("Q", "value").await?, "3");
    Ok(())
}

/// On its way back the browser shows the other entry's address before it tells the page: what waits to be written, the
/// second of two quick edits, must not go there.
#[tokio::test]
#[ignore = "needs the built page: cargo xtask test"]
async fn what_waits_is_not_written_over_another_entry() -> Result<()> {
    const ON_THE_WAY: &str = "const done = arguments[arguments.length - 1]; \
         const field = document.getElementById('field-stages-0-ask-q'); \
         const type = value => { \
             field.value = value; \
             field.dispatchEvent(new Event('input', { bubbles: true })); \
         }; \
         type('5'); \
         setTimeout(() => { \
             type('4'); \
             setTimeout(() => history.replaceState(null, '', arguments[0]), 50); \
             setTimeout(() => done(location.hash), 1000); \
         }, 100)";
    let page = open_and_ask().await?;
    let other = BASE64_URL_SAFE_NO_PAD.encode(
        json!({ "stages": [{ "ask": { "family": "notch", "frequency": 5000, "q": 7 } }] })
            .to_string(),
    );
    let other = format!("#{other}");
    let now = page
        .browser
        .execute_async(ON_THE_WAY, vec![json!(other)])
        .await?;
    assert_eq!(now, json!(other));
    page.run("dispatchEvent(new HashChangeEvent('hashchange'))", vec![])
        .await?;
    page.wait_for("ready").await?;
    assert_eq!(page.input("Q", "value").await?, "7");
    Ok(())
}

/// Opens the page, asks for something else, and waits until the address has taken all of it in: it
/// follows a little later, because browsers refuse one that changes too often.
async fn open_and_ask() -> Result<Page> {
    let page = open().await?;
    let before = hash(&page).await?;
    ask_for_another_notch(&page).await?;
    let mut last = before.clone();
    for _ in 0..20 {
        tokio::time::sleep(Duration::from_millis(400)).await;
        let now = hash(&page).await?;
        if now != before && now == last {
            return Ok(page);
        }
        last = now;
    }
    panic!("the address does not follow the ask: it still ends in {last}");
}

async fn hash(page: &Page) -> Result<Value> {
    page.run("return location.hash", vec![]).await
}

/// What the two inputs hold that were typed into.
async fn inputs(page: &Page) -> Result<Value> {
    let frequency = page.input("Notch frequency", "value").await?;
    let q = page.input("Q", "value").await?;
    Ok(json!([frequency, q]))
}
