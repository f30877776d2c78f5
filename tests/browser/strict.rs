//! The page draws under a strict Content-Security-Policy: no style stands in an attribute.

use serde_json::{Value, json};
use xtask::Result;
use xtask::browser::Record;
use xtask::page::Page;

use crate::{address, press};

/// Has every page that is opened from now on take its styles from its own site alone, and note what is refused.
const STRICT: &str = "window.refused = []; \
     addEventListener('securitypolicyviolation', event => \
         refused.push(`${event.violatedDirective}: ${event.sourceFile}:${event.lineNumber} ${event.sample}`)); \
     new MutationObserver((_, observer) => { \
         if (document.head === null) return; \
         observer.disconnect(); \
         const policy = document.createElement('meta'); \
         policy.httpEquiv = 'Content-Security-Policy'; \
         policy.content = \"style-src 'self' 'report-sample'\"; \
         document.head.prepend(policy); \
     }).observe(document, { childList: true, subtree: true });";

#[tokio::test]
#[ignore = "needs the built page: cargo xtask test"]
async fn nothing_is_styled_by_an_attribute() -> Result<()> {
    let page = Page::visit("about:blank", Record::Console).await?;
    page.browser
        .devtools(
            "Page.addScriptToEvaluateOnNewDocument",
            json!({ "source": STRICT }),
        )
        .await?;
    page.browser.goto(&address()).await?;
    page.wait_for("ready").await?;
    press(&page, "Use the demo").await?;
    // All regions, a board that is looked at, and a cursor on a chart.
    const ALL: &str = "document.querySelectorAll('details').forEach(details => details.open = true); \
         document.querySelectorAll('.plot[role=slider]').forEach(plot => \
             plot.dispatchEvent(new KeyboardEvent('keydown', { key: 'ArrowRight', bubbles: true })))";
    page.run(ALL, vec![]).await?;
    page.wait_for("ready").await?;
    page.wait_until(
        "return document.querySelectorAll('.cursor-line').length > 3 && \
         document.querySelectorAll('.bars .bar span').length > 3",
    )
    .await?;
    const WIDTHS: &str = "return [...document.querySelectorAll('.bars .bar span')] \
         .some(bar => bar.getBoundingClientRect().width > 10)";
    assert_eq!(
        page.run(WIDTHS, vec![]).await?,
        true,
        "bars without a length"
    );
    // The policy is in force: an attribute is refused.
    const TRIED: &str = "const tried = document.createElement('p'); \
         document.body.append(tried); \
         const before = refused.length; \
         tried.setAttribute('style', 'color: red'); \
         const done = arguments[arguments.length - 1]; \
         setTimeout(() => done([refused.slice(0, before), refused.length > before]), 100)";
    let told = page.browser.execute_async(TRIED, vec![]).await?;
    let expected: Value = json!([[], true]);
    assert_eq!(told, expected);
    Ok(())
}
