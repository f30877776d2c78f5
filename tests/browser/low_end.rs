//! What the page says of a plant that the sweep tells only in part: twins, and a low end that is open.

use serde_json::Value;
use xtask::Result;
use xtask::page::Page;

use crate::{open, paste, sweep};

/// Everything that the region says.
async fn said(page: &Page) -> Result<String> {
    const TEXT: &str = "return document.getElementById('loop').textContent";
    let text: Value = page.run(TEXT, vec![]).await?;
    Ok(text.as_str().unwrap_or_default().to_owned())
}

/// Sets an entry by its label, as somebody does who types or chooses.
async fn set(page: &Page, label: &str, value: &str) -> Result<()> {
    const SCRIPT: &str = "const [label, value] = arguments; \
         const entry = [...document.querySelectorAll('label')].find(l => l.textContent.trim() === label).control; \
         entry.value = value; \
         entry.dispatchEvent(new Event('input', { bubbles: true })); \
         entry.dispatchEvent(new Event('change', { bubbles: true }));";
    page.run(SCRIPT, vec![label.into(), value.into()]).await?;
    page.wait_for("ready").await
}

#[tokio::test]
#[ignore = "needs the built page: cargo xtask test"]
async fn twins_that_the_data_demand_are_drawn_and_drift_together() -> Result<()> {
    let page = open().await?;
    // Half-power widths of 76 Hz, 38 Hz apart.
    let modes = [(40.0, 0.05, 3e4), (1900.0, 0.02, 5e3), (1938.0, 0.02, 4e3)];
    paste(&page, &sweep(8.0, 320, 90.0, &modes)).await?;
    for (at, (frequency, _, _)) in modes.iter().enumerate() {
        let found = page.figure(&format!("mode-{}-frequency", at + 1)).await?;
        assert!(
            (found / frequency - 1.0).abs() < 1e-3,
            "{found} for {frequency}"
        );
    }
    assert!(said(&page).await?.contains(
        "The modes at 1.9 kHz and 1.938 kHz are closer than their widths and drift together."
    ));
    // In the run over plants they have one frequency that strays, so that what they do to the loop comes to one entry.
    const CONTRIBUTING: &str =
        "return [...document.querySelectorAll('.bars .factor')].map(e => e.textContent).join()";
    let contributing = page.run(CONTRIBUTING, vec![]).await?;
    let contributing = contributing.as_str().unwrap_or_default();
    assert!(
        !contributing.contains("mode 2 ") && !contributing.contains("mode 3 "),
        "{contributing}"
    );
    // Model and points are painted.
    const PAINTED: &str = "const box = [...document.querySelectorAll('[aria-label^=\"Plant, magnitude\"]')][0]; \
         box.scrollIntoView({ block: 'center' }); \
         const canvas = box.querySelector('canvas') ?? box; \
         const all = canvas.getContext('2d').getImageData(0, 0, canvas.width, canvas.height).data; \
         return all.some(v => v !== 0)";
    page.wait_until(PAINTED).await?;
    // The data demand both: one mode in their place leaves much more.
    let left = page.figure("fit-residual").await?;
    set(&page, "Maximum number of modes", "2").await?;
    let with_one = page.figure("fit-residual").await?;
    assert!(with_one > 5.0 * left, "{with_one} and {left}");
    Ok(())
}

#[tokio::test]
#[ignore = "needs the built page: cargo xtask test"]
async fn an_open_low_end_claims_no_type_until_somebody_sets_it() -> Result<()> {
    let page = open().await?;
    // The suspension lies a decade below the sweep.
    let modes = [(27.0, 0.08, 4e5), (2350.0, 0.01, 6e4)];
    paste(&page, &sweep(300.0, 220, 110.0, &modes)).await?;
    set(&page, "Output unit", "µm").await?;
    const DECIDED: &str =
        "return document.querySelector('[data-figure=low-end-decided]').dataset.value";
    assert_eq!(page.run(DECIDED, vec![]).await?, "false");
    let text = said(&page).await?;
    assert!(text.contains("does not decide how many integrators the plant has at DC"));
    // Each answer with what it would mean, and no type that is claimed.
    for answer in [
        "If it is inertia alone, the loop is of type 2 as built:",
        "If it is inertia with friction, the loop is of type 1 as built:",
        "If it is position held by a spring, the loop is of type 0 as built:",
        "along a ramp of 1 µm/s it is",
        "along a parabola of 1 µm/s² it grows without bound.",
    ] {
        assert!(text.contains(answer), "{answer} in {text}");
    }
    assert!(!text.contains("As built the loop is of type"));
    for name in ["steady-error", "ramp-error", "parabola-error"] {
        assert!(page.figure(name).await?.is_nan(), "{name}");
    }
    // The user knows the plant.
    set(&page, "Low-frequency model", "spring").await?;
    let text = said(&page).await?;
    assert!(text.contains("as you set it"));
    assert!(text.contains("As built the loop is of type 0"));
    assert!(!text.contains("does not decide how many integrators") && !text.contains("If it is "));
    assert!(page.figure("steady-error").await? > 0.0);
    Ok(())
}
