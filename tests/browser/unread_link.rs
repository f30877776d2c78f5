//! A link that cannot be read: said, kept in the address until the first edit, and to be copied.

use std::time::Duration;

use base64::Engine;
use base64::prelude::BASE64_URL_SAFE_NO_PAD;
use serde_json::{Value, json};
use xtask::Result;
use xtask::browser::Record;
use xtask::page::Page;

use crate::{address, open};

const NOTICE: &str = "return document.querySelector('.notice p')?.innerText ?? ''";

async fn hash(page: &Page) -> Result<String> {
    let hash = page.run("return location.hash", vec![]).await?;
    Ok(hash.as_str().unwrap_or_default().to_owned())
}

async fn notice(page: &Page) -> Result<String> {
    let told: Value = page.run(NOTICE, vec![]).await?;
    Ok(told.as_str().unwrap_or_default().to_owned())
}

fn text_of(design: &Value) -> String {
    BASE64_URL_SAFE_NO_PAD.encode(design.to_string())
}

/// Gives what was typed the time to come into the address.
async fn settle() {
    tokio::time::sleep(Duration::from_millis(1500)).await;
}

#[tokio::test]
#[ignore = "needs the built page: cargo xtask test"]
async fn a_link_that_cannot_be_read_stays_until_the_first_edit() -> Result<()> {
    let whole = text_of(
        &json!({ "stages": [{ "ask": { "family": "notch", "frequency": 5000, "q": 4 } }] }),
    );
    let cut = &whole[..whole.len() - 9];
    let later = text_of(&json!({ "version": 99, "stages": [] }));
    let wrong = text_of(&json!({ "stages": 3 }));
    for (text, told) in [
        (cut, "cut off"),
        (later.as_str(), "later version"),
        (wrong.as_str(), "no valid design"),
        ("top", "“#top”"),
    ] {
        let page = Page::open(&format!("{}#{text}", address()), Record::Console).await?;
        settle().await;
        let said = notice(&page).await?;
        assert!(said.contains(told), "{text}: {said}");
        assert!(said.contains("The demo is shown"), "{text}: {said}");
        assert_eq!(hash(&page).await?, format!("#{text}"));
        // A reload changes nothing of that.
        page.browser.refresh().await?;
        page.wait_for("ready").await?;
        assert!(notice(&page).await?.contains(told));
        assert_eq!(hash(&page).await?, format!("#{text}"));

        page.fill("Q", "3").await?;
        settle().await;
        assert_ne!(hash(&page).await?, format!("#{text}"));
        page.browser.refresh().await?;
        page.wait_for("ready").await?;
        assert_eq!(page.input("Q", "value").await?, "3");
        assert_eq!(notice(&page).await?, "");
    }
    Ok(())
}

#[tokio::test]
#[ignore = "needs the built page: cargo xtask test"]
async fn the_text_of_a_link_that_cannot_be_read_can_be_copied() -> Result<()> {
    let link = format!("{}#eyJ2ZXJzaW9u", address());
    let page = Page::open(&link, Record::Console).await?;
    let allowed = json!({ "permissions": ["clipboardReadWrite", "clipboardSanitizedWrite"] });
    page.browser
        .devtools("Browser.grantPermissions", allowed)
        .await?;
    // Also after the edit that takes its place in the address.
    page.fill("Q", "3").await?;
    settle().await;
    const COPY: &str = "const found = [...document.querySelectorAll('.notice button')] \
             .find(button => button.innerText.includes('Copy')); \
         found.focus(); found.click()";
    page.run(COPY, vec![]).await?;
    page.wait_until("return document.querySelector('.notice [role=status]').innerText !== ''")
        .await?;
    const SAID: &str = "return document.querySelector('.notice [role=status]').innerText";
    assert_eq!(page.run(SAID, vec![]).await?, "Copied.");
    const PASTED: &str = "const done = arguments[arguments.length - 1]; \
         navigator.clipboard.readText().then(done, error => done(String(error)))";
    let pasted = page.browser.execute_async(PASTED, vec![]).await?;
    assert_eq!(pasted, json!(link));
    assert_eq!(page.input("This link", "value").await?, json!(link));
    Ok(())
}

#[tokio::test]
#[ignore = "needs the built page: cargo xtask test"]
async fn a_bad_fragment_in_an_open_tab_leaves_the_design() -> Result<()> {
    let page = open().await?;
    page.fill("Q", "3").await?;
    page.wait_for("ready").await?;
    settle().await;
    page.run("location.hash = 'top'", vec![]).await?;
    settle().await;
    let said = notice(&page).await?;
    assert!(said.contains("“#top”"), "{said}");
    assert!(!said.contains("demo"), "{said}");
    assert_eq!(page.input("Q", "value").await?, "3");
    assert_eq!(hash(&page).await?, "#top");
    // A reload shows the same design, not the demo.
    page.browser.refresh().await?;
    page.wait_for("ready").await?;
    assert_eq!(page.input("Q", "value").await?, "3");
    assert!(!notice(&page).await?.contains("demo"));
    // And the way back and forth again.
    page.run("history.back()", vec![]).await?;
    settle().await;
    assert_eq!(page.input("Q", "value").await?, "3");
    assert_eq!(notice(&page).await?, "");
    Ok(())
}
