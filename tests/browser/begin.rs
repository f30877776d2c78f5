//! Where somebody with a plant begins: an empty path, the demo's notch out of a stranger's loop, and what stays in
//! sight meanwhile.

use std::f64::consts::TAU;
use std::time::Duration;

use fantoccini::key::Key;
use serde_json::{Value, json};
use xtask::Result;
use xtask::page::Page;

use crate::{choose, open, paste, press};

/// How many cards the path has.
async fn stages(page: &Page) -> Result<u64> {
    let count = page
        .run(
            "return document.querySelectorAll('.path .card').length",
            vec![],
        )
        .await?;
    Ok(count.as_u64().expect("a count"))
}

/// Whether the page shows this figure at all.
async fn shows(page: &Page, figure: &str) -> Result<bool> {
    const SCRIPT: &str = "return !!document.querySelector(`[data-figure='${arguments[0]}']`)";
    Ok(page.run(SCRIPT, vec![json!(figure)]).await? == true)
}

/// Presses Tab until what has the focus says this, and then Enter.
async fn press_by_keyboard(page: &Page, words: &str) -> Result<()> {
    const SAID: &str = "const e = document.activeElement; \
         return (e.textContent + (e.getAttribute('aria-label') ?? '')).trim()";
    for _ in 0..60 {
        page.press(Key::Tab).await?;
        let said = page.run(SAID, vec![]).await?;
        if said.as_str().is_some_and(|said| said.contains(words)) {
            page.press(Key::Enter).await?;
            return page.wait_for("ready").await;
        }
    }
    panic!("60 Tabs do not reach `{words}`")
}

/// A mass on a suspension, far from the demo: `f`, dB and degrees.
fn another_sweep() -> String {
    let mut text = String::from("f (Hz), dB, deg\n");
    for k in 0..90 {
        let f = 3.0 * 10f64.powf(f64::from(k) / 30.0);
        let (omega, own) = (TAU * f, TAU * 60.0);
        let (re, im) = (own * own - omega * omega, 0.1 * own * omega);
        let size = 4.0 * own * own / re.hypot(im);
        let phase = -im.atan2(re).to_degrees();
        text.push_str(&format!("{f:.6}, {:.6}, {phase:.6}\n", 20.0 * size.log10()));
    }
    text
}

#[tokio::test]
#[ignore = "needs the built page: cargo xtask test"]
async fn the_only_stage_is_taken_out_and_another_one_put_in() -> Result<()> {
    let page = open().await?;
    press_by_keyboard(&page, "Remove this stage").await?;
    assert_eq!(stages(&page).await?, 0);
    // Nothing of the stage that was there is told any longer.
    for name in [
        "yield",
        "q",
        "notch-frequency",
        "band-yield",
        "band-miss",
        "path-yield",
    ] {
        assert!(!shows(&page, name).await?, "{name}");
    }
    const PARTS: &str =
        "return document.querySelectorAll('[data-part], .others tbody tr, .picks tr').length";
    assert_eq!(page.run(PARTS, vec![]).await?, 0);
    assert_eq!(page.figure("path-sign").await?, 1.0);
    // The keyboard stands where a stage is added.
    const FOCUS: &str = "return document.activeElement.id";
    page.wait_for_frames().await?;
    assert_eq!(page.run(FOCUS, vec![]).await?, "add-stage");
    // The browser's way back undoes it, and its way forward does it again.
    page.browser.back().await?;
    page.wait_until("return document.querySelectorAll('.path .card').length === 1")
        .await?;
    page.wait_for("ready").await?;
    page.browser.forward().await?;
    page.wait_until("return document.querySelectorAll('.path .card').length === 0")
        .await?;
    page.wait_for("ready").await?;
    // It survives a reload.
    page.run("location.reload()", vec![]).await?;
    page.wait_for("ready").await?;
    assert_eq!(stages(&page).await?, 0);
    choose(&page, "add-stage", "sallen-key-low-pass").await?;
    assert_eq!(stages(&page).await?, 1);
    assert!(page.figure("yield").await? > 0.0 && page.part("R1").await? > 0.0);
    assert_eq!(
        page.figure("band-yield").await?,
        page.figure("yield").await?
    );
    // Charts that were not there before are drawn.
    const DRAWN: &str = "const canvas = document.querySelector('.magnitude canvas'); \
         const all = canvas.getContext('2d').getImageData(0, 0, canvas.width, canvas.height).data; \
         return all.some(v => v !== 0)";
    page.wait_until(DRAWN).await?;
    // A field may go while somebody is in it.
    const GO: &str = "document.querySelector('.ask input').focus(); \
         document.querySelector('[aria-label=\"Remove this stage\"]').click()";
    page.run(GO, vec![]).await?;
    page.wait_for("ready").await?;
    assert_eq!(stages(&page).await?, 0);
    let console = page.browser.console().await?;
    assert!(console.is_empty(), "{console:?}");
    Ok(())
}

#[tokio::test]
#[ignore = "needs the built page: cargo xtask test"]
async fn one_begins_with_a_plant_by_keyboard() -> Result<()> {
    let page = open().await?;
    press_by_keyboard(&page, "Begin with a plant").await?;
    assert_eq!(stages(&page).await?, 0);
    page.wait_for_frames().await?;
    const SEEN: &str = "const box = document.getElementById('sweep-text'); \
         const at = box.getBoundingClientRect(); \
         const band = document.querySelector('.key-figures').getBoundingClientRect(); \
         return document.activeElement === box && at.top >= 0 && at.bottom <= band.top";
    assert_eq!(page.run(SEEN, vec![]).await?, true);
    // The browser's way back brings the former path.
    page.browser.back().await?;
    page.wait_until("return document.querySelectorAll('.path .card').length === 1")
        .await?;
    page.wait_for("ready").await?;
    assert!(page.figure("yield").await? > 0.0);
    page.browser.forward().await?;
    page.wait_until("return document.querySelectorAll('.path .card').length === 0")
        .await?;
    let console = page.browser.console().await?;
    assert!(console.is_empty(), "{console:?}");
    Ok(())
}

#[tokio::test]
#[ignore = "needs the built page: cargo xtask test"]
async fn a_strangers_sweep_empties_the_demos_path_and_no_other() -> Result<()> {
    let page = open().await?;
    paste(&page, &another_sweep()).await?;
    assert_eq!(stages(&page).await?, 0);
    assert!(page.figure("sweep-points").await? > 80.0);
    // The loop is the plant alone: 4/(1 − u²) with u² = 5 is −1 at √5 · 60 Hz.
    let crossover = page.figure("crossover").await?;
    assert!(
        (crossover / (60.0 * 5f64.sqrt()) - 1.0).abs() < 0.01,
        "{crossover}"
    );
    // The notch is put back by one click, and a newer sweep of the same plant leaves it there.
    press(&page, "Restore the demo").await?;
    assert_eq!(stages(&page).await?, 1);
    let shorter = another_sweep()
        .split_inclusive('\n')
        .take(80)
        .collect::<String>();
    paste(&page, &shorter).await?;
    assert_eq!(stages(&page).await?, 1);

    // The demo's own sweep keeps its notch.
    let page = open().await?;
    press(&page, "Use the demo").await?;
    assert_eq!(stages(&page).await?, 1);
    // And a path that is not the demo's is left alone.
    let page = open().await?;
    page.fill("Q", "3").await?;
    page.wait_for("ready").await?;
    paste(&page, &another_sweep()).await?;
    assert_eq!(stages(&page).await?, 1);
    Ok(())
}

#[tokio::test]
#[ignore = "needs the built page: cargo xtask test"]
async fn the_band_follows_a_change_and_stays_in_sight() -> Result<()> {
    let page = open().await?;
    press(&page, "Use the demo").await?;
    const IN_SIGHT: &str = "const at = document.querySelector('.key-figures').getBoundingClientRect(); \
         return Math.abs(at.bottom - innerHeight) < 2 && at.height <= 41";
    for place in ["0", "document.body.scrollHeight / 2"] {
        page.run(&format!("scrollTo(0, {place})"), vec![]).await?;
        page.wait_for_frames().await?;
        assert_eq!(page.run(IN_SIGHT, vec![]).await?, true, "at {place}");
    }
    for name in ["yield", "phase-margin", "gain-margin", "loop-yield"] {
        let own = page.figure(name).await?;
        let shown = page.figure(&format!("band-{name}")).await?;
        assert_eq!(shown, own, "{name}");
    }
    // What the edit did is told against what was there before it, however many keys it took.
    tokio::time::sleep(Duration::from_secs(2)).await;
    let (share, margin) = (
        page.figure("band-yield").await?,
        page.figure("band-phase-margin").await?,
    );
    page.fill("Q", "1.37").await?;
    page.wait_for("ready").await?;
    for (name, before) in [("yield", share), ("phase-margin", margin)] {
        let now = page.figure(name).await?;
        assert_ne!(now, before, "{name} does not depend on Q");
        let change = page.figure(&format!("band-{name}-change")).await?;
        assert!(
            (change - (now - before)).abs() < 1e-9,
            "{name}: {change}, {before} to {now}"
        );
        // And it is written with the arrow that it needs, a share in percentage points.
        const WRITTEN: &str = "return document.querySelector(`[data-figure='band-${arguments[0]}-change']`).textContent";
        let written = page.run(WRITTEN, vec![json!(name)]).await?;
        let size = change.abs() * if name == "yield" { 100.0 } else { 1.0 };
        let arrow = if change > 0.0 { "▲" } else { "▼" };
        let (drawn, number) = written
            .as_str()
            .and_then(|text| text.split_once(' '))
            .expect("an arrow and a number");
        assert_eq!(drawn, arrow, "{name}: {change}");
        // A difference of yields is in percentage points.
        let (number, room) = match number.split_once(' ') {
            Some((number, unit)) => {
                assert_eq!((name, unit), ("yield", "pp"));
                (number, 0.0101)
            }
            None => {
                assert_eq!(name, "phase-margin");
                (number, 0.1001)
            }
        };
        assert!(
            (number.parse::<f64>()? - size).abs() <= room,
            "{number} for {size}"
        );
    }
    // No field that the keyboard reaches is under the band.
    const COVERED: &str = "const field = document.activeElement.getBoundingClientRect(); \
         const band = document.querySelector('.key-figures'); \
         return !band.contains(document.activeElement) && field.height < 300 && \
             field.bottom > band.getBoundingClientRect().top + 1 ? document.activeElement.outerHTML : null";
    for _ in 0..120 {
        page.press(Key::Tab).await?;
        assert_eq!(page.run(COVERED, vec![]).await?, Value::Null);
    }
    Ok(())
}

#[tokio::test]
#[ignore = "needs the built page: cargo xtask test"]
async fn links_go_to_regions_and_leave_the_design_in_the_address() -> Result<()> {
    let page = open().await?;
    page.fill("Q", "3").await?;
    page.wait_for("ready").await?;
    press(&page, "Use the demo").await?;
    const AT: &str = "const at = document.getElementById(arguments[0]).getBoundingClientRect(); \
         return at.top > -2 && at.top < innerHeight / 2";
    const GO: &str = "document.querySelector(`.regions a[href$='/${arguments[0]}']`).click(); return location.hash";
    for (name, place) in [
        ("spread", "spread"),
        ("parts", "parts"),
        ("loop", "loop"),
        ("plant", "model"),
    ] {
        let hash = page.run(GO, vec![json!(name)]).await?;
        assert_ne!(hash, format!("#{name}"));
        page.wait_for_frames().await?;
        assert_eq!(page.run(AT, vec![json!(place)]).await?, true, "{name}");
        // Marked while it is read.
        page.wait_until(&format!(
            "return document.querySelector('.key-figures [aria-current]')?.textContent.trim().toLowerCase() === '{name}'"
        ))
        .await?;
    }
    // An address that ends in a region's name keeps the design, too.
    page.run("location.hash = 'spread'", vec![]).await?;
    page.wait_for_frames().await?;
    assert_eq!(page.input("Q", "value").await?, "3");
    assert_ne!(page.run("return location.hash", vec![]).await?, "#spread");
    Ok(())
}

#[tokio::test]
#[ignore = "needs the built page: cargo xtask test"]
async fn a_link_in_another_tab_shows_the_same_design_at_its_region() -> Result<()> {
    let page = open().await?;
    press(&page, "Use the demo").await?;
    page.fill("Q", "3").await?;
    page.wait_for("ready").await?;
    let margin = page.figure("phase-margin").await?;
    // Typed last, and not yet in the address.
    page.fill("Q", "3.5").await?;
    const PLACE: &str = "const at = document.querySelector(\".regions a[href$='/loop']\").getBoundingClientRect(); \
         scrollTo(0, 0); return [at.left + at.width / 2, at.top + at.height / 2]";
    page.run("scrollTo(0, 0)", vec![]).await?;
    let place = page.run(PLACE, vec![]).await?;
    for kind in ["mousePressed", "mouseReleased"] {
        let press = json!({ "type": kind, "x": place[0], "y": place[1], "button": "middle", "clickCount": 1 });
        page.browser
            .devtools("Input.dispatchMouseEvent", press)
            .await?;
    }
    page.wait_for("ready").await?;
    let own = page.figure("phase-margin").await?;
    assert_ne!(own, margin);
    let here = page.browser.window().await?;
    let mut windows = page.browser.windows().await?;
    for _ in 0..50 {
        if windows.len() > 1 {
            break;
        }
        tokio::time::sleep(Duration::from_millis(100)).await;
        windows = page.browser.windows().await?;
    }
    let there = windows.into_iter().find(|window| *window != here);
    page.browser
        .switch_to_window(there.expect("another tab"))
        .await?;
    page.wait_for("ready").await?;
    assert_eq!(page.input("Q", "value").await?, "3.5");
    assert_eq!(page.figure("phase-margin").await?, own);
    // It stands at the region, with the keyboard, also after all results have come in.
    page.wait_for_frames().await?;
    const AT: &str = "const at = document.getElementById('loop').getBoundingClientRect(); \
         return at.top > -2 && at.top < innerHeight / 2 && document.activeElement.id === 'loop-title'";
    assert_eq!(page.run(AT, vec![]).await?, true);
    // Its address is the design's again, which a reload keeps.
    const PLAIN: &str = "return location.hash.length > 20 && !location.hash.includes('/')";
    page.wait_until(PLAIN).await?;
    Ok(())
}
