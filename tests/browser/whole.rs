//! A stranger's mirror: what it is told to be, and the loop that was asked for by one click.

use std::f64::consts::TAU;

use fantoccini::key::Key;
use serde_json::json;
use xtask::Result;

use crate::{close, open, paste, press};

/// Friction's corner and the modes: frequency, damping, share of the rigid gain.
const FRICTION: f64 = 12.0;
const MODES: [(f64, f64, f64); 3] = [
    (1100.0, 0.012, 0.35),
    (1900.0, 0.008, -0.2),
    (3400.0, 0.01, 0.3),
];
const GAIN: f64 = 1.8e5;

/// An invented mirror on bearings, in rows of frequency, real and imaginary part, with a little scatter.
fn mirror() -> String {
    let mut text = String::from("f (Hz)\treal\timaginary\n");
    let over = |(a, b): (f64, f64)| (a / (a * a + b * b), -b / (a * a + b * b));
    for k in 0..700 {
        let f = 6000f64.powf(f64::from(k) / 699.0);
        let omega = TAU * f;
        // 1/(s·(s + c)) = 1/(−ω² + j·ω·c)
        let (mut re, mut im) = over((-omega * omega, omega * TAU * FRICTION));
        for (own, damping, share) in MODES {
            let own = TAU * own;
            let mode = over((own * own - omega * omega, 2.0 * damping * own * omega));
            (re, im) = (re + share * mode.0, im + share * mode.1);
        }
        let (sin, cos) = (-omega * 20e-6).sin_cos();
        let scatter = 1.0 + 0.003 * (f64::from(k) * 12.9898).sin();
        let gain = GAIN * scatter;
        let turn = 0.003 * (f64::from(k) * 78.233).sin();
        let (x, y) = (gain * (re * cos - im * sin), gain * (re * sin + im * cos));
        text += &format!("{f}\t{}\t{}\n", x - turn * y, y + turn * x);
    }
    text
}

#[tokio::test]
#[ignore = "needs the built page: cargo xtask test"]
async fn a_mirror_gets_the_loop_that_is_asked_for_by_one_click() -> Result<()> {
    let page = open().await?;
    paste(&page, &mirror()).await?;
    page.wait_for("ready").await?;
    const WORD: &str =
        "return document.querySelector(`[data-figure='${arguments[0]}']`)?.dataset.value ?? ''";
    let word = |name: &str| page.run(WORD, vec![json!(name)]);
    assert_eq!(word("low-end").await?, "friction");
    assert_eq!(word("low-end-decided").await?, "true");
    for (number, (frequency, ..)) in MODES.iter().enumerate() {
        let found = page
            .figure(&format!("mode-{}-frequency", number + 1))
            .await?;
        assert!(close(found, *frequency, 1e-3), "{found}");
    }
    assert_eq!(word("mode-4-frequency").await?, "");

    press(&page, "Controller and notches for one crossover").await?;
    page.fill("Loop crossover", "250 Hz").await?;
    page.fill("Loop phase margin", "50").await?;
    page.press(Key::Tab).await?;
    page.wait_for("ready").await?;
    page.wait_until(
        "return document.querySelector('[data-figure=whole-holds]')?.dataset.value === 'true'",
    )
    .await?;
    const TAKE: &str = "const take = document.querySelector('.whole-loop button.take'); \
         take.focus(); \
         take.click()";
    page.run(TAKE, vec![]).await?;
    page.wait_until(
        "return document.querySelector('[data-figure=whole-now-holds]')?.dataset.value === 'true'",
    )
    .await?;
    page.wait_for("ready").await?;
    assert!(close(page.figure("crossover").await?, 250.0, 0.01));
    assert!((page.figure("phase-margin").await? - 50.0).abs() < 1.0);
    // The answer was drawn anew with its button; the keyboard stands at what asked for it.
    const FOCUS: &str = "return document.activeElement.textContent.trim()";
    let focus = page.run(FOCUS, vec![]).await?;
    assert_eq!(focus, "Controller and notches for one crossover");
    assert!(page.figure("verdict-loop-yield").await? > 0.5);
    // What was asked is what the path holds, and a change of a stage by hand is said to break it.
    assert_eq!(word("whole-now-holds").await?, "true");
    Ok(())
}
