//! There is always a way out, and it loses nothing.

use base64::Engine;
use base64::prelude::BASE64_URL_SAFE_NO_PAD;
use serde_json::json;
use xtask::Result;
use xtask::browser::Record;
use xtask::page::Page;

use crate::address;

const CARDS: &str = "return document.querySelectorAll('.card').length";
const OVER: &str = "const found = [...document.querySelectorAll('button')] \
         .find(button => button.innerText === 'Start over'); \
     found.focus(); found.click()";

#[tokio::test]
#[ignore = "needs the built page: cargo xtask test"]
async fn the_demo_comes_back_and_the_way_back_undoes_that() -> Result<()> {
    for (design, state) in [
        (json!({ "stages": [] }), "ready"),
        (json!({ "version": 2 }), "ready"),
        (json!({ "version": 0 }), "error"),
        (json!({ "stages": [{ "circuit": "none" }] }), "error"),
    ] {
        let text = BASE64_URL_SAFE_NO_PAD.encode(design.to_string());
        let page = Page::visit(&format!("{}#{text}", address()), Record::Console).await?;
        page.wait_for(state).await?;
        let before = page.run(CARDS, vec![]).await?;
        if state == "error" {
            const TOLD: &str = "return document.querySelector('.notice')?.innerText ?? ''";
            let told = page.run(TOLD, vec![]).await?;
            assert_ne!(told, "", "{design} is refused without a word");
        }
        page.run(OVER, vec![]).await?;
        page.wait_for("ready").await?;
        assert_eq!(page.run(CARDS, vec![]).await?, 1, "{design}");
        assert_eq!(page.input("Notch frequency", "value").await?, "2.35 kHz");
        const FOCUS: &str = "return document.activeElement.innerText";
        assert_eq!(page.run(FOCUS, vec![]).await?, "Start over");
        // What could not be read is the demo already: there is nothing to go back to.
        if design != json!({ "version": 2 }) {
            page.run("history.back()", vec![]).await?;
            page.wait_for(state).await?;
            assert_eq!(page.run(CARDS, vec![]).await?, before, "{design}");
        }
    }
    Ok(())
}

#[tokio::test]
#[ignore = "needs the built page: cargo xtask test"]
async fn starting_over_keeps_what_was_typed_for_the_way_back() -> Result<()> {
    let page = crate::open().await?;
    page.fill("Q", "3").await?;
    page.fill("Notch frequency", "2 parsecs").await?;
    page.wait_for("error").await?;
    page.run(OVER, vec![]).await?;
    page.wait_for("ready").await?;
    assert_eq!(page.input("Notch frequency", "value").await?, "2.35 kHz");
    assert_eq!(page.input("Q", "value").await?, "2");
    page.run("history.back()", vec![]).await?;
    page.wait_for("error").await?;
    assert_eq!(page.input("Notch frequency", "value").await?, "2 parsecs");
    assert_eq!(page.input("Q", "value").await?, "3");
    Ok(())
}
