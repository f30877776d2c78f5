//! A narrow screen scrolls one way only.

use serde_json::json;
use xtask::Result;

use crate::bench::drop_an_ill_board;
use crate::open;

/// Stands for a response that is dropped, among buttons that are pressed.
const MEASURED: &str = "a measured board";

#[tokio::test]
#[ignore = "needs the built page: cargo xtask test"]
async fn narrow_screen_does_not_scroll_sideways() -> Result<()> {
    const TOO_WIDE: &str = "const page = document.documentElement; \
         const sticks_out = element => element.getBoundingClientRect().right > innerWidth; \
         return page.scrollWidth <= innerWidth ? null : \
             [...document.querySelectorAll('body *')].find(sticks_out)?.outerHTML ?? 'the page'";
    let page = open().await?;
    let screen = json!({ "width": 360, "height": 800, "deviceScaleFactor": 2, "mobile": false });
    page.browser
        .devtools("Emulation.setDeviceMetricsOverride", screen)
        .await?;
    page.wait_for("ready").await?;
    assert_eq!(page.run("return innerWidth", vec![]).await?, 360);
    // As it opens, with a measured board, with a plant, and with an empty path.
    for button in [None, Some(MEASURED), Some("Use the demo"), Some("×")] {
        const PRESS: &str = "[...document.querySelectorAll('button')] \
             .find(b => b.textContent.trim().startsWith(arguments[0])).click()";
        if button == Some(MEASURED) {
            drop_an_ill_board(&page).await?;
        } else if let Some(button) = button {
            page.run(PRESS, vec![json!(button)]).await?;
            page.wait_for("ready").await?;
        }
        let too_wide = page.run(TOO_WIDE, vec![]).await?;
        let too_wide: Option<String> = serde_json::from_value(too_wide)?;
        assert!(
            too_wide.is_none(),
            "after {button:?} {:.200} is too wide",
            too_wide.unwrap_or_default()
        );
    }
    Ok(())
}
