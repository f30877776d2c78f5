//! What the page holds does not grow with the number of edits.

use serde_json::json;
use xtask::Result;
use xtask::page::Page;

use crate::open;

/// Edits before the first look: what is filled once is filled then.
const FIRST: u32 = 60;
const EDITS: u32 = 120;
/// A module's memory grows by whole pages of this, bytes.
const PAGE: u64 = 65536;

async fn edit(page: &Page, count: u32) -> Result<()> {
    const SCRIPT: &str = "const field = document.getElementById('field-stages-0-ask-frequency'); \
         field.value = arguments[0]; \
         field.dispatchEvent(new Event('input', { bubbles: true }))";
    for edit in 0..count {
        let text = format!("{} Hz", 2000 + edit);
        page.run(SCRIPT, vec![json!(text)]).await?;
        page.wait_for("ready").await?;
    }
    Ok(())
}

async fn memory(page: &Page) -> Result<u64> {
    let script = "return wasmBindings.default().then(module => module.memory.buffer.byteLength)";
    let bytes = page.run(script, vec![]).await?;
    Ok(bytes.as_u64().unwrap_or_default())
}

#[tokio::test]
#[ignore = "needs the built page: cargo xtask test"]
async fn edits_take_no_more_memory() -> Result<()> {
    let page = open().await?;
    edit(&page, FIRST).await?;
    let before = memory(&page).await?;
    assert!(before > PAGE, "{before}");
    edit(&page, EDITS).await?;
    let after = memory(&page).await?;
    // It grew by 25 kB an edit once.
    assert!(after - before <= 8 * PAGE, "from {before} to {after} bytes");
    Ok(())
}
