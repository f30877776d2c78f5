//! Boards drawn by several workers: they are started, and the numbers on the page are those of the same design natively.

use serde_json::{Value, json};
use xtask::Result;

use crate::open;

/// More than one worker draws in a tenth of a second.
const BOARDS: u32 = 120_000;

#[tokio::test]
#[ignore = "needs the built page: cargo xtask test"]
async fn boards_of_several_workers_are_those_of_one() -> Result<()> {
    let page = open().await?;
    page.fill("Boards", &BOARDS.to_string()).await?;
    page.wait_for("ready").await?;
    let cores = page
        .run("return navigator.hardwareConcurrency", vec![])
        .await?;
    let further = cores.as_u64().unwrap_or(1).min(8) as usize - 1;
    assert_eq!(
        page.browser.nested_workers().await?,
        further,
        "{cores} cores"
    );
    let design = json!({
        "spread": {"boards": BOARDS},
        "view": {"compare": false, "propose": false, "blame": false}
    });
    let native: Value = serde_json::from_str(&polewright::solve_json(&design.to_string()))?;
    let expected = native["spread"]["yield"]["fraction"].as_f64();
    assert_eq!(Some(page.figure("yield").await?), expected);
    // The worker of scripts draws alone.
    let script = "return wasmBindings.solve(arguments[0])";
    let answer = page.run(script, vec![json!(design.to_string())]).await?;
    let alone: Value = serde_json::from_str(answer.as_str().unwrap_or_default())?;
    assert_eq!(alone["spread"]["yield"]["fraction"].as_f64(), expected);
    assert_eq!(page.browser.nested_workers().await?, further);
    let console = page.browser.console().await?;
    assert!(console.is_empty(), "{console:?}");
    Ok(())
}
