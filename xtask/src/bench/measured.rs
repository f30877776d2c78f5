//! How soon the page says what a measured board is, and what its noise is.

use anyhow::Result;
use serde_json::json;
use xtask::page::Page;

use super::numbers::median;
use super::table::Row;

/// Measurements that are dropped, and changes of the noise band.
const ROUNDS: u32 = 7;

/// From a dropped response of 81 points to the verdict with its repairs; and from a new band to the noise over it.
pub async fn rows(page: &Page) -> Result<Vec<Row>> {
    let estimates = times(page, ESTIMATE).await?;
    let noise = times(page, NOISE).await?;
    let [estimate, noise] = [estimates, noise].map(|times| median(&times));
    Ok(vec![
        Row::heading("Measured boards and noise, the demo's stage, in Chromium"),
        Row::new(
            "response dropped to verdict and repairs",
            format!("median {estimate:.0} ms"),
        )
        .below(1000.0, "ms", estimate),
        Row::new("new noise band to its rms", format!("median {noise:.0} ms"))
            .below(50.0, "ms", noise),
    ])
}

async fn times(page: &Page, script: &str) -> Result<Vec<f64>> {
    let mut all = Vec::new();
    for round in 0..ROUNDS {
        let took = page
            .browser
            .execute_async(script, vec![json!(round)])
            .await?;
        all.push(serde_json::from_value(took)?);
        page.wait_for("ready").await?;
    }
    Ok(all)
}

/// The stage's own curve with one per cent of noise that is another in each round.
const ESTIMATE: &str = "const [round, done] = arguments; (async () => { \
     const told = JSON.parse(await wasmBindings.solve('{\"spread\": {\"boards\": 100}}')); \
     const { frequency, real } = told.stages[0].curves; \
     const few = frequency.map((f, k) => k).filter(k => k % Math.ceil(frequency.length / 81) === 0); \
     const rows = few.map(k => [frequency[k], real.magnitude_db[k] + 0.08 * Math.sin(12.9898 * k + round), \
         real.phase_deg[k] + 0.5 * Math.sin(78.233 * k + round)].join('\\t')); \
     const box = document.getElementById('bench-text'); \
     const began = performance.now(); \
     box.value = 'f (Hz)\\tdB\\tdeg\\n' + rows.join('\\n'); \
     box.dispatchEvent(new Event('input', { bubbles: true })); \
     const bench = document.getElementById('bench'); \
     let was_busy = false; \
     const look = () => { \
         was_busy ||= bench.ariaBusy === 'true'; \
         if (was_busy && bench.ariaBusy === 'false' && document.querySelector('[data-figure=bench-verdict]')) \
             done(performance.now() - began); \
         else setTimeout(look, 2); \
     }; \
     look() })()";

/// Each round another end of the band.
const NOISE: &str = "const [round, done] = arguments; \
     const field = document.getElementById('field-noise-to'); \
     const figure = document.querySelector('[data-figure=path-noise]'); \
     const before = figure.dataset.value; \
     const began = performance.now(); \
     field.value = `${20 + round} kHz`; \
     field.dispatchEvent(new Event('input', { bubbles: true })); \
     const look = () => { \
         const now = document.querySelector('[data-figure=path-noise]').dataset.value; \
         if (now !== before) done(performance.now() - began); else setTimeout(look, 1); \
     }; \
     look()";
