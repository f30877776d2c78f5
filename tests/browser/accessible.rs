//! Everybody can read and use the page: axe-core finds nothing against WCAG 2.2 AA.

use fantoccini::key::Key;
use serde_json::{Value, json};
use xtask::Result;
use xtask::page::Page;

use crate::bench::drop_an_ill_board;
use crate::{open, press};

/// Runs axe-core; each finding as its rule, its element and why.
const JUDGE: &str = "const done = arguments[arguments.length - 1]; \
     axe.run(document, { \
         runOnly: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa'], \
         rules: { 'target-size': { enabled: true }, 'label-content-name-mismatch': { enabled: true } }, \
         resultTypes: ['violations'], \
     }).then(found => done([found.passes.length, found.violations.flatMap(rule => rule.nodes.map(node => \
         `${rule.id}: ${node.html.slice(0, 200)} ${node.failureSummary}`))]), error => done([0, [String(error)]]))";

/// Puts axe-core into the page, and everything in sight: what is not laid out is not judged.
async fn prepare(page: &Page) -> Result<()> {
    let place = std::env::var("POLEWRIGHT_AXE").expect("POLEWRIGHT_AXE must say where axe-core is");
    page.run(&std::fs::read_to_string(place)?, vec![]).await?;
    const SEEN: &str = "const sheet = new CSSStyleSheet(); \
         sheet.replaceSync('* { content-visibility: visible !important }'); \
         document.adoptedStyleSheets.push(sheet)";
    page.run(SEEN, vec![]).await?;
    Ok(())
}

async fn judge(page: &Page, what: &str) -> Result<()> {
    const OPEN: &str =
        "document.querySelectorAll('details').forEach(details => details.open = true)";
    page.run(OPEN, vec![]).await?;
    page.wait_for_frames().await?;
    let told: Value = page.browser.execute_async(JUDGE, vec![]).await?;
    let (passed, found): (usize, Vec<String>) = serde_json::from_value(told)?;
    assert!(found.is_empty(), "{what}:\n{}", found.join("\n"));
    assert!(passed > 10, "{what}: only {passed} rules were applied");
    Ok(())
}

/// Chooses in a select, or types into a field, by its id.
async fn set(page: &Page, id: &str, value: &str) -> Result<()> {
    const SCRIPT: &str = "const field = document.getElementById(arguments[0]); \
         field.value = arguments[1]; \
         field.dispatchEvent(new Event('input', { bubbles: true })); \
         field.dispatchEvent(new Event('change', { bubbles: true }));";
    page.run(SCRIPT, vec![json!(id), json!(value)]).await?;
    page.wait_for_frames().await
}

/// Presses the button of this spoken name.
async fn press_named(page: &Page, name: &str) -> Result<()> {
    const SCRIPT: &str = "document.querySelector(`button[aria-label^='${arguments[0]}']`).click()";
    page.run(SCRIPT, vec![json!(name)]).await?;
    page.wait_for("ready").await
}

/// The page as it opens, with a plant and all that is asked of it, with a model, with an ask out of reach, and with entries
/// that cannot be read.
async fn all(width: u32, scheme: &str) -> Result<()> {
    let page = open().await?;
    let media = json!({ "features": [{ "name": "prefers-color-scheme", "value": scheme }] });
    page.browser
        .devtools("Emulation.setEmulatedMedia", media)
        .await?;
    let screen = json!({ "width": width, "height": 900, "deviceScaleFactor": 1, "mobile": false });
    page.browser
        .devtools("Emulation.setDeviceMetricsOverride", screen)
        .await?;
    page.wait_for("ready").await?;
    prepare(&page).await?;
    judge(&page, "as it opens").await?;

    drop_an_ill_board(&page).await?;
    judge(&page, "with a measured board").await?;
    press(&page, "Use the demo").await?;
    judge(&page, "with a plant").await?;
    press(&page, "Keep a copy to compare").await?;
    page.wait_until("return document.querySelector('.compared') !== null")
        .await?;
    judge(&page, "with a copy beside it").await?;
    press(&page, "Controller for a crossover").await?;
    press(&page, "Controller and notches").await?;
    press(&page, "Notch for mode 2").await?;
    press(&page, "Add a converter").await?;
    press_named(&page, "Bursts at light load").await?;
    press_named(&page, "Spread spectrum").await?;
    press_named(&page, "Parts at the extremes").await?;
    set(&page, "shaft-kind", "torsion").await?;
    page.wait_for("ready").await?;
    judge(&page, "with help, a supply and a shaft").await?;
    press(&page, "Edit the model").await?;
    press(&page, "Add or remove the rigid part").await?;
    judge(&page, "with a model").await?;

    set(&page, "field-stages-0-ask-frequency", "2 MHz").await?;
    page.wait_for("ready").await?;
    judge(&page, "with an ask out of reach").await?;
    set(&page, "field-stages-0-ask-q", "2 parsecs").await?;
    page.wait_for("error").await?;
    page.run("location.hash = 'top'", vec![]).await?;
    page.wait_for_frames().await?;
    judge(&page, "with entries and a link that cannot be read").await?;
    set(&page, "add-stage", "gain-non-inverting").await?;
    page.wait_for("error").await?;
    judge(&page, "with two stages, one of them not valid").await
}

#[tokio::test]
#[ignore = "needs the built page: cargo xtask test"]
async fn nothing_is_found_in_the_light() -> Result<()> {
    all(1440, "light").await
}

#[tokio::test]
#[ignore = "needs the built page: cargo xtask test"]
async fn nothing_is_found_in_the_dark() -> Result<()> {
    all(1440, "dark").await
}

#[tokio::test]
#[ignore = "needs the built page: cargo xtask test"]
async fn nothing_is_found_on_a_narrow_screen() -> Result<()> {
    all(390, "light").await
}

#[tokio::test]
#[ignore = "needs the built page: cargo xtask test"]
async fn nothing_is_found_on_a_narrow_screen_in_the_dark() -> Result<()> {
    all(390, "dark").await
}

/// No button is cut off by what it stands in.
#[tokio::test]
#[ignore = "needs the built page: cargo xtask test"]
async fn the_worst_case_fits_a_narrow_screen() -> Result<()> {
    let page = open().await?;
    let screen = json!({ "width": 390, "height": 900, "deviceScaleFactor": 1, "mobile": false });
    page.browser
        .devtools("Emulation.setDeviceMetricsOverride", screen)
        .await?;
    page.run(
        "document.querySelector('.worst-case').scrollIntoView()",
        vec![],
    )
    .await?;
    page.wait_until("return document.querySelectorAll('.corners button').length > 3")
        .await?;
    const CUT: &str = "const box = document.querySelector('.worst-case .wide-table'); \
         return box.scrollWidth > box.clientWidth";
    assert_eq!(page.run(CUT, vec![]).await?, false);
    Ok(())
}

/// The Tab key stops once in the picks; arrow keys go from one to the next.
#[tokio::test]
#[ignore = "needs the built page: cargo xtask test"]
async fn picks_are_one_stop_of_the_tab_key() -> Result<()> {
    const HERE: &str = "return document.activeElement.closest('.picks tbody') === null ? '' : \
         document.activeElement.innerText";
    let page = open().await?;
    let mut stops = Vec::new();
    for _ in 0..80 {
        page.press(Key::Tab).await?;
        let here = page.run(HERE, vec![]).await?;
        if here != "" {
            stops.push(here);
            page.press(Key::Down).await?;
            page.press(Key::Down).await?;
            assert_eq!(page.run(HERE, vec![]).await?, "Use 3");
            page.press(Key::End).await?;
            page.press(Key::Home).await?;
            page.press(Key::Down).await?;
            page.press(Key::Enter).await?;
            page.wait_for("ready").await?;
            assert_eq!(page.run(HERE, vec![]).await?, "In use");
        }
    }
    assert_eq!(stops, [json!("In use")]);
    Ok(())
}
