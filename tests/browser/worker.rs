//! The worker that computes dies, is silent, or is not there: the page says so, keeps everything, and goes on.

use serde_json::json;
use xtask::Result;
use xtask::page::Page;

use crate::{close, open, press, put_sweep, sweep};

/// From now on designs and files that are given to workers do what `window.fate` says: "dies" as a panic ends it, or
/// "hangs". An order begins with its number among all kinds of orders: a design's is 0, a file's 2.
const FATE: &str = "const post = Worker.prototype.postMessage; \
     Worker.prototype.postMessage = function (...given) { \
         const fate = [0, 2].includes(given[0]?.[0]) ? window.fate : undefined; \
         if (fate) window.fate = undefined; \
         if (fate === 'dies') { \
             this.terminate(); \
             setTimeout(() => this.dispatchEvent(new ErrorEvent('error', { message: 'unreachable' }))); \
         } else if (fate === 'hangs') { \
             this.terminate(); \
         } else { \
             post.apply(this, given); \
         } \
     }";

async fn next_order(page: &Page, fate: &str) -> Result<()> {
    page.run("window.fate = arguments[0]", vec![json!(fate)])
        .await?;
    Ok(())
}

/// Waits until the page says what is wrong.
async fn trouble(page: &Page) -> Result<String> {
    page.wait_until("return document.querySelector('.trouble') !== null")
        .await?;
    told(page).await
}

async fn told(page: &Page) -> Result<String> {
    let script = "return document.querySelector('.trouble')?.innerText ?? ''";
    let text = page.run(script, vec![]).await?;
    Ok(text.as_str().unwrap_or_default().to_owned())
}

/// Replaces what a field holds by a text, at once.
async fn paste(page: &Page, label: &str, text: &str) -> Result<()> {
    page.tab_to(label).await?;
    page.select_all().await?;
    page.browser
        .devtools("Input.insertText", json!({ "text": text }))
        .await?;
    Ok(())
}

#[tokio::test]
#[ignore = "needs the built page: cargo xtask test"]
async fn a_dead_worker_is_replaced_and_the_entry_named() -> Result<()> {
    let page = open().await?;
    page.wait_for("ready").await?;
    let before = page.part("R1").await?;
    page.run(FATE, vec![]).await?;
    next_order(&page, "dies").await?;
    paste(&page, "Notch frequency", "4 kHz").await?;
    let sentence = trouble(&page).await?;
    assert!(sentence.contains("Notch frequency"), "{sentence}");
    assert_eq!(page.input("Notch frequency", "ariaInvalid").await?, "true");
    assert_eq!(page.part("R1").await?, before);

    // What is typed elsewhere does not make another entry the culprit.
    next_order(&page, "dies").await?;
    paste(&page, "Q", "3").await?;
    let sentence = trouble(&page).await?;
    assert!(sentence.contains("Notch frequency"), "{sentence}");

    paste(&page, "Notch frequency", "3.9 kHz").await?;
    page.wait_for("ready").await?;
    assert_eq!(told(&page).await?, "");
    let found = page.figure("notch-frequency").await?;
    assert!(close(found, 3900.0, 0.02), "{found}");
    assert_eq!(page.input("Q", "value").await?, "3");
    Ok(())
}

#[tokio::test]
#[ignore = "needs the built page: cargo xtask test"]
async fn a_sweep_that_a_worker_died_on_can_be_read_again() -> Result<()> {
    const TOLD: &str = "return document.querySelector('.intake').textContent";
    let page = open().await?;
    page.wait_for("ready").await?;
    page.run(FATE, vec![]).await?;
    next_order(&page, "dies").await?;
    put_sweep(&page, &sweep(8.0, 260, 78.0, &[(800.0, 0.02, 2e7)])).await?;
    trouble(&page).await?;
    let told = page.run(TOLD, vec![]).await?;
    let told = told.as_str().unwrap_or_default();
    assert!(told.contains("Not read"), "{told}");
    assert!(!told.contains("Being read"), "{told}");

    press(&page, "Read it again").await?;
    assert!(page.figure("sweep-points").await? > 100.0);
    assert_eq!(self::told(&page).await?, "");
    Ok(())
}

#[tokio::test]
#[ignore = "needs the built page: cargo xtask test"]
async fn a_silent_worker_can_be_stopped() -> Result<()> {
    let page = open().await?;
    page.wait_for("ready").await?;
    page.run(FATE, vec![]).await?;
    next_order(&page, "hangs").await?;
    paste(&page, "Notch frequency", "4 kHz").await?;
    trouble(&page).await?;
    page.run("document.querySelector('.trouble button').click()", vec![])
        .await?;
    page.wait_for("error").await?;
    assert!(told(&page).await?.contains("Stopped"));
    press(&page, "Try again").await?;
    let found = page.figure("notch-frequency").await?;
    assert!(close(found, 4000.0, 0.02), "{found}");

    // The way back to what worked.
    next_order(&page, "dies").await?;
    paste(&page, "Notch frequency", "5 kHz").await?;
    trouble(&page).await?;
    press(&page, "Back to the last design that worked").await?;
    assert!(close(page.figure("notch-frequency").await?, 4000.0, 0.02));
    Ok(())
}

async fn block(page: &Page, addresses: &[&str]) -> Result<()> {
    page.browser.devtools("Network.enable", json!({})).await?;
    let blocked = json!({ "urls": addresses });
    page.browser
        .devtools("Network.setBlockedURLs", blocked)
        .await?;
    page.browser.refresh().await?;
    Ok(())
}

#[tokio::test]
#[ignore = "needs the built page: cargo xtask test"]
async fn without_the_module_plain_html_says_what_is_wrong() -> Result<()> {
    let page = open().await?;
    for missing in ["*polewright-*.wasm", "*polewright-*.js"] {
        block(&page, &[missing]).await?;
        page.wait_until("return document.body.dataset.state === 'error'")
            .await?;
        let said = page.run("return document.body.innerText", vec![]).await?;
        let said = said.as_str().unwrap_or_default();
        assert!(said.contains("The page cannot start"), "{said}");
    }
    block(&page, &["*start-*.js"]).await?;
    let said = page.run("return document.body.innerText", vec![]).await?;
    assert!(
        said.as_str()
            .unwrap_or_default()
            .contains("If this sentence stays")
    );
    block(&page, &[]).await?;
    page.wait_for("ready").await?;
    assert_eq!(
        page.run("return document.getElementById('start')", vec![])
            .await?,
        json!(null)
    );
    Ok(())
}

/// Every test runs under the strict policy; here it is seen that it is there, and that nothing offends it.
#[tokio::test]
#[ignore = "needs the built page: cargo xtask test"]
async fn a_strict_content_policy_is_kept() -> Result<()> {
    const SERVED: &str =
        "return fetch(location.href).then(answer => answer.headers.get('content-security-policy'))";
    const WATCH: &str = "window.violations = []; \
         document.addEventListener('securitypolicyviolation', event => \
             violations.push(`${event.violatedDirective} ${event.blockedURI} ${event.sample}`))";
    let page = open().await?;
    let policy = page.run(SERVED, vec![]).await?;
    assert!(
        policy
            .as_str()
            .unwrap_or_default()
            .starts_with("default-src 'none'; script-src 'self'")
    );
    page.run(WATCH, vec![]).await?;
    press(&page, "Use the demo's sweep").await?;
    paste(&page, "Notch frequency", "5.1 kHz").await?;
    page.wait_for("ready").await?;
    page.run("return wasmBindings.solve('{}')", vec![]).await?;
    assert_eq!(page.run("return violations", vec![]).await?, json!([]));
    let markup = page
        .run(
            "return fetch(location.href).then(answer => answer.text())",
            vec![],
        )
        .await?;
    let markup = markup.as_str().unwrap_or_default();
    assert!(
        !markup.contains("style=") && !markup.contains("<style"),
        "{markup}"
    );
    let console = page.browser.console().await?.join("\n");
    assert!(!console.contains("Content Security Policy"), "{console}");
    Ok(())
}
