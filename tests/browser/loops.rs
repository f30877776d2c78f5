//! A plant in, and the loop read off: the demo's sweep by its button, another plant's as a pasted text.

use std::f64::consts::TAU;

use num_complex::Complex64;
use polewright::plant::{KeepWork, sweep as sweeps};
use serde_json::{Value, json};
use xtask::Result;
use xtask::page::Page;

use crate::{choose, open, paste, press, sweep};

fn near(a: f64, b: f64, share: f64, what: &str) {
    assert!((a / b - 1.0).abs() < share, "{what}: {a}, not {b}");
}

/// The share of stable loops with the demo's sweep behind the demo's path, worked out natively on the same boards.
fn stable_of_the_demo() -> Result<f64> {
    let reading = sweeps::read(sweeps::DEMO, None);
    let mut keep = KeepWork::begin(sweeps::merge(&[&reading]).sweep);
    while keep.step().is_pending() {}
    let design = json!({
        "servo": {"sweep": sweeps::write(&keep.into_kept())},
        "view": {"compare": false, "blame": false, "propose": false}
    });
    let answer: Value = serde_json::from_str(&polewright::solve_json(&design.to_string()))?;
    let stable = answer["servo"]["spread"]["stable"]["fraction"].as_f64();
    stable.ok_or_else(|| anyhow::anyhow!("no loop over boards: {}", answer["errors"]))
}

#[tokio::test]
#[ignore = "needs the built page: cargo xtask test"]
async fn the_demo_sweep_is_fitted_and_its_loop_is_read() -> Result<()> {
    let page = open().await?;
    press(&page, "Use the demo").await?;
    assert!(page.figure("sweep-points").await? > 150.0);
    // What the sweep was made from (tests/reference/demo_sweep.py).
    near(
        page.figure("mode-1-frequency").await?,
        27.0,
        2e-3,
        "suspension",
    );
    near(page.figure("mode-2-frequency").await?, 2350.0, 2e-3, "mode");
    near(page.figure("mode-3-frequency").await?, 5100.0, 2e-3, "mode");
    // Measured points and model tell the same.
    for name in ["crossover", "phase-margin", "sensitivity-peak"] {
        let measured = page.figure(&format!("{name}-measured")).await?;
        near(page.figure(name).await?, measured, 0.05, name);
    }
    let stable = page.figure("loop-stable").await?;
    let native = stable_of_the_demo()?;
    assert!(
        (stable - native).abs() < 1e-3,
        "{stable}, natively {native}"
    );
    let console = page.browser.console().await?;
    assert!(console.is_empty(), "{console:?}");
    Ok(())
}

/// A free mass behind a wire, since the demo's notch is not for it: 1/s² with a delay, in rad/s, ratio and radians, with semicolons and
/// decimal commas, rows upside down and one of them broken.
#[tokio::test]
#[ignore = "needs the built page: cargo xtask test"]
async fn another_plants_sweep_is_pasted_with_a_bad_row() -> Result<()> {
    let page = open().await?;
    let (crossing, delay) = (300.0 * TAU, 20e-6);
    let comma = |v: f64| format!("{v:.9e}").replace('.', ",");
    let mut text = String::from("omega (rad/s);gain (ratio);phase (rad)\n");
    for k in (0..120).rev() {
        let omega = TAU * 10.0 * 10f64.powf(f64::from(k) / 40.0);
        let gain = (crossing / omega).powi(2);
        let phase = -std::f64::consts::PI - omega * delay;
        text.push_str(&format!(
            "{};{};{}\n",
            comma(omega),
            comma(gain),
            comma(phase)
        ));
    }
    text.push_str("77,5;;\n");
    paste(&page, &text).await?;
    // Nothing is taken over before the user has said that the row may be left out.
    assert_eq!(page.figure("sweep-points").await?, 0.0);
    press(&page, "Exclude 1 row").await?;
    assert_eq!(page.figure("sweep-points").await?, 120.0);
    near(page.figure("crossover").await?, 300.0, 0.01, "crossover");
    // A free mass has no phase to lose: the delay makes the loop unstable.
    assert!(page.figure("phase-margin").await? < 0.0);
    assert!(page.figure("unstable-poles").await? > 0.0);
    const VERDICT: &str = "return document.querySelector('.verdict').textContent";
    let verdict: Value = page.run(VERDICT, vec![]).await?;
    assert_eq!(verdict, "Unstable.");
    // The plant survives a reload by its link.
    let figure = page.figure("crossover").await?;
    page.run("location.reload()", vec![]).await?;
    page.wait_for("ready").await?;
    near(
        page.figure("crossover").await?,
        figure,
        1e-9,
        "after the reload",
    );
    Ok(())
}

/// The whole way by clicks: controller, notch, controller again because the notch costs phase; then the share of
/// built loops that keep 45°.
async fn shape(page: &Page) -> Result<f64> {
    press(page, "Controller for a crossover").await?;
    press(page, "Put these").await?;
    press(page, "Notch for mode 2").await?;
    press(page, "Put this notch").await?;
    press(page, "Put these").await?;
    near(page.figure("crossover").await?, 420.0, 0.02, "crossover");
    let margin = page.figure("phase-margin").await?;
    assert!((margin - 50.0).abs() < 2.0, "{margin}°");
    assert_eq!(page.figure("unstable-poles").await?, 0.0);
    page.figure("loop-phase-yield").await
}

#[tokio::test]
#[ignore = "needs the built page: cargo xtask test"]
async fn the_demo_becomes_a_loop_that_boards_keep() -> Result<()> {
    let page = open().await?;
    press(&page, "Use the demo").await?;
    let share = shape(&page).await?;
    assert!(share > 0.95, "{share}");
    let console = page.browser.console().await?;
    assert!(console.is_empty(), "{console:?}");
    Ok(())
}

/// Another plant: a suspension at 40 Hz, modes at 1.9 kHz and 6.3 kHz, 4 µs, in real and imaginary part.
#[tokio::test]
#[ignore = "needs the built page: cargo xtask test"]
async fn another_sweep_becomes_a_loop_that_boards_keep() -> Result<()> {
    let page = open().await?;
    let modes = [
        (40.0, 0.05, 3e4),
        (1900.0, 0.008, 5e3),
        (6300.0, 0.01, -4e3),
    ];
    paste(&page, &sweep(8.0, 260, 78.0, &modes)).await?;
    near(page.figure("mode-2-frequency").await?, 1900.0, 2e-3, "mode");
    let share = shape(&page).await?;
    assert!(share > 0.9, "{share}");
    Ok(())
}

/// What was found for a plant goes with it: three points cannot be fitted, and neither the motion nor the help of the plant
/// before stands beside them.
#[tokio::test]
#[ignore = "needs the built page: cargo xtask test"]
async fn nothing_of_the_former_plant_stays_beside_a_sweep_that_cannot_be_fitted() -> Result<()> {
    const SHOWN: &str = "return ['settling-time', 'shaped-crossover', 'phase-margin', 'loop-yield'].filter(name => \
         Number.isFinite(parseFloat(document.querySelector(`[data-figure='${name}']`)?.dataset.value)))";
    let page = open().await?;
    press(&page, "Use the demo").await?;
    press(&page, "Controller for a crossover").await?;
    let before = page.run(SHOWN, vec![]).await?;
    assert!(
        before.as_array().is_some_and(|list| list.len() == 4),
        "{before}"
    );
    paste(
        &page,
        "f (Hz), dB, deg\n10, 0, 0\n20, 0, -10\n40, -3, -30\n",
    )
    .await?;
    const TOLD: &str = "return document.querySelector('.model .problem')?.textContent ?? ''";
    let told = page.run(TOLD, vec![]).await?;
    assert!(
        told.as_str()
            .is_some_and(|told| told.contains("points are needed")),
        "{told}"
    );
    assert_eq!(page.run(SHOWN, vec![]).await?, json!([]));
    Ok(())
}

/// A constant plant behind a wire is a loop without a pole.
#[tokio::test]
#[ignore = "needs the built page: cargo xtask test"]
async fn a_constant_plant_is_read() -> Result<()> {
    let page = open().await?;
    let mut text = String::from("f (Hz), dB, deg\n");
    (10..70).for_each(|f| text.push_str(&format!("{f}, -40, 0\n")));
    paste(&page, &text).await?;
    assert_eq!(page.figure("unstable-poles").await?, 0.0);
    let console = page.browser.console().await?;
    assert!(console.is_empty(), "{console:?}");
    Ok(())
}

/// A plant with a mode at 27 Hz that was swept within its loop: the closed loop's resonance lies elsewhere, and the plant's
/// is found where it is.
#[tokio::test]
#[ignore = "needs the built page: cargo xtask test"]
async fn a_sweep_of_the_closed_loop_gives_the_plant() -> Result<()> {
    let design = json!({ "view": {"compare": false, "blame": false, "propose": false} });
    let answer: Value = serde_json::from_str(&polewright::solve_json(&design.to_string()))?;
    let path = &answer["transfer"]["path"];
    let roots = |name: &str| -> Vec<Complex64> {
        let all = path[name].as_array().into_iter().flatten();
        let number = |value: &Value| value.as_f64().unwrap_or(f64::NAN);
        all.map(|root| Complex64::new(number(&root[0]), number(&root[1])))
            .collect()
    };
    let (zeros, poles) = (roots("zeros"), roots("poles"));
    let gain = path["gain"].as_f64().unwrap_or(f64::NAN);
    let mut text = String::from("f (Hz), real, imaginary\n");
    for k in 0..300 {
        let f = 3.0 * 10f64.powf(f64::from(k) / 110.0);
        let s = Complex64::new(0.0, TAU * f);
        let product =
            |roots: &[Complex64]| -> Complex64 { roots.iter().map(|root| s - root).product() };
        let own = TAU * 27.0;
        let plant = 3.0 * own * own / (s * s + 0.1 * own * s + own * own);
        let open = gain * product(&zeros) / product(&poles) * plant;
        let closed = open / (1.0 + open) * (1.0 + 1e-3 * (f64::from(k) * 12.9898).sin());
        text += &format!("{f:.6e}, {:.9e}, {:.9e}\n", closed.re, closed.im);
    }
    // Said first: the path stays.
    let page = open().await?;
    choose(&page, "sweep-of", "2").await?;
    paste(&page, &text).await?;
    near(page.figure("mode-1-frequency").await?, 27.0, 1e-3, "mode");
    assert!(page.part("R1").await? > 0.0);
    let page = open().await?;
    paste(&page, &text).await?;
    // Taken for the plant's own: √(1 + 3·0.89) times as high, 0.89 the notch's gain (demo, to two digits).
    near(
        page.figure("mode-1-frequency").await?,
        51.7,
        0.02,
        "as it is",
    );
    // The demo's notch is gone with the demo's loop; it was in this one.
    press(&page, "Restore the demo").await?;
    choose(&page, "sweep-of", "2").await?;
    near(page.figure("mode-1-frequency").await?, 27.0, 1e-3, "mode");
    near(page.figure("mode-1-damping").await?, 0.05, 0.02, "damping");
    // |L| = 1 where the frequency's square is 1 + 3·0.89 times the mode's.
    near(page.figure("crossover").await?, 51.7, 0.01, "crossover");
    const NOTES: &str = "return document.getElementById('intake').textContent";
    let said = page.run(NOTES, Vec::new()).await?;
    let said = said.as_str().unwrap_or_default();
    assert!(said.contains("worked out from the closed loop"), "{said}");
    choose(&page, "sweep-of", "0").await?;
    near(
        page.figure("mode-1-frequency").await?,
        51.7,
        0.02,
        "as it is again",
    );
    Ok(())
}
