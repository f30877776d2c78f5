//! A copy beside the design: kept, compared, exchanged, and there again after a reload.

use serde_json::json;
use xtask::Result;
use xtask::page::Page;

use crate::{open, parts};

const FREQUENCY: &str = "Notch frequency";

async fn press(page: &Page, label: &str) -> Result<()> {
    const SCRIPT: &str = "const named = b => b.ariaLabel ?? b.textContent.trim(); \
         [...document.querySelectorAll('button')].find(b => named(b).startsWith(arguments[0])).click()";
    page.run(SCRIPT, vec![json!(label)]).await?;
    page.wait_for_frames().await
}

/// Until both columns have this figure.
async fn wait_for_both(page: &Page, name: &str) -> Result<()> {
    let there = |side: &str| {
        format!(
            "isFinite(document.querySelector('[data-figure={side}-{name}]')?.dataset.value ?? NaN)"
        )
    };
    let script = format!("return {} && {}", there("compared"), there("copy"));
    page.wait_until(&script).await
}

async fn both(page: &Page, name: &str) -> Result<(f64, f64)> {
    wait_for_both(page, name).await?;
    let now = page.figure(&format!("compared-{name}")).await?;
    let copy = page.figure(&format!("copy-{name}")).await?;
    Ok((now, copy))
}

/// Until the table follows the page.
async fn wait_for_now(page: &Page, name: &str, figure: &str) -> Result<()> {
    let value =
        |name: &str| format!("document.querySelector('[data-figure=\"{name}\"]')?.dataset.value");
    let (told, shown) = (value(&format!("compared-{name}")), value(figure));
    page.wait_until(&format!("return {told} === {shown}")).await
}

#[tokio::test]
#[ignore = "needs the built page: cargo xtask test"]
async fn a_copy_stays_while_the_design_is_varied() -> Result<()> {
    let page = open().await?;
    press(&page, "Keep a copy to compare").await?;
    let bought = parts(&page).await?;
    let (now, copy) = both(&page, "yield").await?;
    assert_eq!(now, copy);
    let frequency = page.figure("copy-1-notch-frequency").await?;

    page.fill(FREQUENCY, "2.6 kHz").await?;
    page.wait_for("ready").await?;
    wait_for_now(&page, "1-notch-frequency", "notch-frequency").await?;
    let (now, copy) = both(&page, "1-notch-frequency").await?;
    assert_eq!(copy, frequency);
    assert!(now > 1.08 * copy, "{now} {copy}");
    let words = page
        .run(
            "return document.querySelector('.entries').textContent",
            vec![],
        )
        .await?;
    let words = words.as_str().unwrap_or_default().to_owned();
    assert!(
        words.contains("2.6 kHz") && words.contains("2.35 kHz"),
        "{words}"
    );

    // Over a reload the copy is there, too; and back to it with one press.
    page.browser.refresh().await?;
    page.wait_for("ready").await?;
    assert_eq!(both(&page, "1-notch-frequency").await?.1, frequency);
    press(&page, "Exchange design and copy").await?;
    page.wait_for("ready").await?;
    assert_eq!(parts(&page).await?, bought);
    wait_for_now(&page, "1-notch-frequency", "notch-frequency").await?;
    let (back, other) = both(&page, "1-notch-frequency").await?;
    assert_eq!(back, frequency);
    assert!(other > 1.08 * back, "{other} {back}");

    press(&page, "End the comparison").await?;
    page.wait_until("return document.querySelector('.compared') === null")
        .await
}

#[tokio::test]
#[ignore = "needs the built page: cargo xtask test"]
async fn a_kept_design_is_compared_with() -> Result<()> {
    let page = open().await?;
    page.fill(FREQUENCY, "5 kHz").await?;
    page.wait_for("ready").await?;
    page.wait_until("return document.querySelectorAll('.kept tbody tr').length === 1")
        .await?;
    page.run(
        "[...document.querySelectorAll('button')].find(b => b.innerText === 'Start over').click()",
        vec![],
    )
    .await?;
    page.wait_for("ready").await?;
    press(&page, "Compare with Multiple-feedback notch 5 kHz").await?;
    let (now, copy) = both(&page, "1-notch-frequency").await?;
    assert!(copy > 2.0 * now, "{copy} {now}");
    // Both curves are on the charts.
    let drawn = "return [...document.querySelectorAll('.comparison-charts figure')].filter(f => !f.hidden).length";
    assert_eq!(page.run(drawn, vec![]).await?, json!(4));
    Ok(())
}
