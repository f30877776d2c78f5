//! An ask typed on the keyboard becomes parts and figures.

use fantoccini::key::Key;
use xtask::Result;

use crate::notch::Notch;
use crate::{ask_for_another_notch, close, open, parts};

#[tokio::test]
#[ignore = "needs the built page: cargo xtask test"]
async fn parts_and_figures_follow_what_is_typed() -> Result<()> {
    let page = open().await?;
    ask_for_another_notch(&page).await?;

    let notch = Notch::of(parts(&page).await?);
    let frequency = page.figure("notch-frequency-ideal").await?;
    let q = page.figure("q-ideal").await?;
    let depth = page.figure("depth-db-ideal").await?;
    let gain = page.figure("gain-low-db-ideal").await?;
    assert!(
        close(frequency, notch.frequency, 1e-6),
        "{frequency} Hz, not {}",
        notch.frequency
    );
    assert!(close(q, notch.q, 1e-6), "Q {q}, not {}", notch.q);
    assert!(
        (depth - notch.depth_db).abs() < 0.01,
        "depth {depth} dB, not {}",
        notch.depth_db
    );
    assert!(
        (gain - notch.gain_db).abs() < 1e-6,
        "gain {gain} dB, not {}",
        notch.gain_db
    );

    assert!(
        close(frequency, 3400.0, 0.05),
        "asked for 3.4 kHz, got {frequency} Hz"
    );
    assert!(close(q, 3.0, 0.1), "asked for a Q of 3, got {q}");
    let share = page.figure("yield").await?;
    // The same boards are drawn natively; rounding may turn one of them over a limit.
    let design = r#"{
        "stages": [{"ask": {"family": "notch", "frequency": 3400, "q": 3}}],
        "view": {"compare": false, "blame": false, "propose": false}
    }"#;
    let answer: serde_json::Value = serde_json::from_str(&polewright::solve_json(design))?;
    let native = answer["spread"]["yield"]["fraction"].as_f64();
    assert!(
        native.is_some_and(|native| (share - native).abs() < 5e-4),
        "a yield of {share}, natively {native:?}"
    );
    Ok(())
}

#[tokio::test]
#[ignore = "needs the built page: cargo xtask test"]
async fn a_value_code_means_what_its_unit_means() -> Result<()> {
    let page = open().await?;
    page.fill("Notch frequency", "3.4 kHz").await?;
    page.wait_for("ready").await?;
    let with_unit = parts(&page).await?;

    page.select_all().await?;
    page.type_text("3k4").await?;
    page.wait_for("ready").await?;
    assert_eq!(parts(&page).await?, with_unit);
    Ok(())
}

/// What is typed inside a value stays where it is typed: the page does not write the field while somebody does.
#[tokio::test]
#[ignore = "needs the built page: cargo xtask test"]
async fn the_caret_stays_where_it_is() -> Result<()> {
    let page = open().await?;
    page.fill("Notch frequency", "2.35 kHz").await?;
    page.press(Key::Home).await?;
    for _ in 0.."2.35".len() {
        page.press(Key::Right).await?;
    }
    page.type_text("15").await?;
    assert_eq!(page.input("Notch frequency", "value").await?, "2.3515 kHz");
    Ok(())
}
