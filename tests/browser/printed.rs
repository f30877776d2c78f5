//! The build sheet as it is printed: as many pages as it has parts, whatever the scheme, and as the design is.

use fantoccini::wd::PrintConfiguration;
use serde_json::{Value, json};
use xtask::Result;
use xtask::page::Page;

use crate::{ask_for_another_notch, open, press};

/// Height that is printed on a sheet of A4, and on the shorter letter, less both margins, in millimetres.
const HEIGHTS: [f64; 2] = [297.0 - 22.0, 279.4 - 22.0];

/// How many pages the browser prints.
async fn printed(page: &Page) -> Result<usize> {
    let bytes = page.browser.print(PrintConfiguration::default()).await?;
    const OBJECT: &[u8] = b"/Type /Page";
    let objects = bytes.windows(OBJECT.len() + 1);
    // Not the object that lists them, `/Type /Pages`.
    let pages =
        objects.filter(|at| at.starts_with(OBJECT) && !at[OBJECT.len()].is_ascii_alphabetic());
    Ok(pages.count())
}

/// Each page of the sheet as it lies on paper: its height in millimetres, and by how much it is too wide.
async fn laid_out(page: &Page) -> Result<Vec<(f64, f64)>> {
    // A4 less its margins.
    let paper = json!({ "width": 688, "height": 1040, "deviceScaleFactor": 1, "mobile": false });
    page.browser
        .devtools("Emulation.setDeviceMetricsOverride", paper)
        .await?;
    media(page, "print", "light").await?;
    const SIZES: &str = "return [...document.querySelectorAll('.sheet-page')].map(page => \
         [page.getBoundingClientRect().height * 25.4 / 96, \
          Math.max(...[page, ...page.querySelectorAll(':not(svg *)')].map(one => one.getBoundingClientRect().right)) \
          - page.getBoundingClientRect().right])";
    let sizes = page.run(SIZES, vec![]).await?;
    media(page, "", "light").await?;
    page.browser
        .devtools("Emulation.clearDeviceMetricsOverride", json!({}))
        .await?;
    let number = |value: &Value| value.as_f64().unwrap_or(f64::NAN);
    let sizes = sizes.as_array().cloned().unwrap_or_default();
    Ok(sizes
        .iter()
        .map(|size| (number(&size[0]), number(&size[1])))
        .collect())
}

/// As many pages as the sheet has parts, none of them empty, and nothing that hangs over an edge.
async fn is_printed_on(page: &Page, pages: usize) -> Result<()> {
    let sizes = laid_out(page).await?;
    assert_eq!(sizes.len(), pages, "{sizes:?}");
    for (height, over) in &sizes {
        assert!(
            *height > 60.0 && HEIGHTS.iter().all(|most| height <= most),
            "{sizes:?}"
        );
        assert!(*over < 1.0, "{sizes:?}");
    }
    assert_eq!(printed(page).await?, pages);
    Ok(())
}

async fn media(page: &Page, media: &str, scheme: &str) -> Result<()> {
    let feature = json!({ "name": "prefers-color-scheme", "value": scheme });
    let wanted = json!({ "media": media, "features": [feature] });
    page.browser
        .devtools("Emulation.setEmulatedMedia", wanted)
        .await?;
    Ok(())
}

/// Waits until the worker has written the sheet of the design as it is.
async fn written(page: &Page, words: &str) -> Result<()> {
    let script = format!(
        "return document.querySelector('body > .sheet').textContent.includes({})",
        json!(words)
    );
    page.wait_until(&script).await
}

async fn add_stage(page: &Page, id: &str) -> Result<()> {
    const SCRIPT: &str = "const choice = document.getElementById('add-stage'); choice.value = arguments[0]; \
         choice.dispatchEvent(new Event('change', { bubbles: true }));";
    page.run(SCRIPT, vec![json!(id)]).await?;
    page.wait_for("ready").await
}

#[tokio::test]
#[ignore = "needs the built page: cargo xtask test"]
async fn one_stage_is_two_pages_of_the_design_as_it_is() -> Result<()> {
    let page = open().await?;
    ask_for_another_notch(&page).await?;
    written(&page, "Variance contributions, %").await?;
    written(&page, "3.4 kHz").await?;
    is_printed_on(&page, 2).await?;
    media(&page, "", "dark").await?;
    assert_eq!(printed(&page).await?, 2);
    media(&page, "print", "dark").await?;
    const INK: &str = "const of = one => getComputedStyle(document.querySelector(one)); \
         return [of('body').backgroundColor, of('body > .sheet').color, of('main').display]";
    let ink = page.run(INK, vec![]).await?;
    assert_eq!(ink, json!(["rgb(255, 255, 255)", "rgb(0, 0, 0)", "none"]));
    Ok(())
}

#[tokio::test]
#[ignore = "needs the built page: cargo xtask test"]
async fn each_further_stage_is_a_page() -> Result<()> {
    let page = open().await?;
    add_stage(&page, "sallen-key-low-pass").await?;
    add_stage(&page, "mfb-band-pass").await?;
    written(&page, "Stage 3 of 3").await?;
    written(&page, "Variance contributions, %").await?;
    is_printed_on(&page, 4).await?;
    Ok(())
}

#[tokio::test]
#[ignore = "needs the built page: cargo xtask test"]
async fn the_loop_is_a_page() -> Result<()> {
    let page = open().await?;
    press(&page, "Use the demo").await?;
    written(&page, "Phase budget").await?;
    written(&page, "Variance contributions, %").await?;
    written(&page, "IEC 60825-1").await?;
    is_printed_on(&page, 3).await?;
    Ok(())
}

#[tokio::test]
#[ignore = "needs the built page: cargo xtask test"]
async fn a_sheet_older_than_the_design_says_so() -> Result<()> {
    let page = open().await?;
    written(&page, "Seed").await?;
    const TOLD: &str = "dispatchEvent(new Event('beforeprint')); \
         return document.querySelector('.sheet-warning').textContent";
    assert_eq!(page.run(TOLD, vec![]).await?, "");
    // At once, so that the worker has not answered.
    const CHANGED: &str = "const field = [...document.querySelectorAll('label')].find(l => l.innerText.trim() === 'Q').control; \
         field.value = '3'; field.dispatchEvent(new Event('input', { bubbles: true })); \
         field.dispatchEvent(new Event('change', { bubbles: true })); \
         dispatchEvent(new Event('beforeprint')); \
         return document.querySelector('.sheet-warning').textContent";
    let told = page.run(CHANGED, vec![]).await?;
    assert!(
        told.as_str()
            .is_some_and(|told| told.contains("older than the design")),
        "{told}"
    );
    Ok(())
}

#[tokio::test]
#[ignore = "needs the built page: cargo xtask test"]
async fn the_button_waits_for_the_sheet() -> Result<()> {
    let page = open().await?;
    page.run("window.printed = []; window.print = () => printed.push(document.querySelector('body > .sheet').textContent)", vec![])
        .await?;
    page.fill("Notch frequency", "3.4 kHz").await?;
    page.run("[...document.querySelectorAll('button')].find(b => b.innerText.startsWith('Print')).click()", vec![])
        .await?;
    page.wait_until("return printed.length === 1").await?;
    let text = page.run("return printed[0]", vec![]).await?;
    assert!(text.as_str().is_some_and(|text| text.contains("3.4 kHz")));
    Ok(())
}
