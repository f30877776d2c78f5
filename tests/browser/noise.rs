//! Noise as somebody uses it who has a limit for it: read off the page, held by the pick, traded by the slider.

use fantoccini::key::Key;
use serde_json::{Value, json};
use xtask::Result;

use crate::{close, open, press};

/// What the program says natively of the demo with these entries of its stage.
fn native(stage: &Value) -> Value {
    let design = json!({
        "stages": [stage],
        "spread": { "boards": 200 },
        "view": { "compare": false, "blame": false, "propose": false }
    });
    let answer = polewright::solve_json(&design.to_string());
    serde_json::from_str(&answer).expect("an answer")
}

#[tokio::test]
#[ignore = "needs the built page: cargo xtask test"]
async fn noise_is_what_it_is_natively() -> Result<()> {
    let page = open().await?;
    let known = &native(&json!({}))["noise"];
    let rms = known["path"]["total"]["rms"].as_f64().expect("an rms");
    assert!(close(page.figure("path-noise").await?, rms, 1e-9));
    let input = known["path"]["total"]["input_rms"].as_f64();
    let input = input.expect("an rms at the input");
    assert!(close(page.figure("input-noise").await?, input, 1e-9));
    // Every contributor has its row, most first.
    const ROWS: &str = "return [...document.querySelectorAll('[data-contributor]')].map(c => Number(c.dataset.value))";
    let rows: Vec<f64> = serde_json::from_value(page.run(ROWS, vec![]).await?)?;
    let all = known["stages"][0]["contributors"].as_array();
    assert_eq!(Some(rows.len()), all.map(Vec::len));
    assert!(rows.windows(2).all(|pair| pair[0] >= pair[1]));
    // A narrower band has less.
    page.fill("Noise to", "1 kHz").await?;
    page.press(Key::Tab).await?;
    page.wait_for("ready").await?;
    assert!(page.figure("path-noise").await? < 0.5 * rms);
    let console = page.browser.console().await?;
    assert!(console.is_empty(), "{console:?}");
    Ok(())
}

#[tokio::test]
#[ignore = "needs the built page: cargo xtask test"]
async fn a_limit_is_held_and_the_slider_trades() -> Result<()> {
    let page = open().await?;
    let before = page.figure("stage-noise").await?;
    let level = page.figure("impedance").await?;
    page.fill("Output noise below", &format!("{} uV", 0.75e6 * before))
        .await?;
    page.press(Key::Tab).await?;
    page.wait_for("ready").await?;
    assert!(page.figure("stage-noise").await? <= 0.75 * before);
    assert!(page.figure("impedance").await? < level);
    page.fill("Output noise below", "any").await?;
    page.press(Key::Tab).await?;
    page.wait_for("ready").await?;
    assert_eq!(page.figure("stage-noise").await?, before);
    // By keyboard: one step down is a lower level.
    const FOCUS: &str = "document.getElementById('impedance-slider').focus()";
    page.run(FOCUS, vec![]).await?;
    for _ in 0..24 {
        page.press(Key::Left).await?;
    }
    page.wait_for("ready").await?;
    assert!(page.figure("impedance").await? < level);
    assert!(page.figure("stage-noise").await? < before);
    press(&page, "As usual").await?;
    assert_eq!(page.figure("stage-noise").await?, before);
    Ok(())
}

#[tokio::test]
#[ignore = "needs the built page: cargo xtask test"]
async fn the_demos_plant_has_noise_of_drive_and_position() -> Result<()> {
    let page = open().await?;
    press(&page, "Use the demo").await?;
    const LOOP: &str = "const at = name => document.querySelector(`[data-figure=\"${name}\"]`)?.dataset.value; \
        return [at('drive-noise'), at('position-noise'), document.querySelector('.noise .problem')?.textContent ?? null]";
    let told: (Option<String>, Option<String>, Option<String>) =
        serde_json::from_value(page.run(LOOP, vec![]).await?)?;
    // Either the loop is stable and both are told, or it is said why not.
    assert_eq!(told.0.is_some(), told.1.is_some());
    assert!(told.0.is_some() != told.2.is_some(), "{told:?}");
    Ok(())
}
