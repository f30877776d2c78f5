//! What is drawn, saved as SVG and PNG from where it stands.

use serde_json::{Value, json};
use xtask::Result;
use xtask::page::Page;

use crate::open;

/// Notes everything that is saved, by the name of its file.
const WATCH: &str = "window.saved = {}; \
     const blobs = {}; \
     const make = URL.createObjectURL.bind(URL); \
     URL.createObjectURL = blob => { const address = make(blob); blobs[address] = blob; return address }; \
     const click = HTMLAnchorElement.prototype.click; \
     HTMLAnchorElement.prototype.click = function () { \
         if (this.download) saved[this.download] = blobs[this.href]; \
         click.call(this); \
     }";

/// Presses the button of this spoken name, by keyboard.
async fn save(page: &Page, what: &str, form: &str, file: &str) -> Result<()> {
    const FOCUS: &str = "const label = `Save “${arguments[0]}” as ${arguments[1]}`; \
         document.querySelector(`button[aria-label='${label}']`).focus()";
    page.run(FOCUS, vec![json!(what), json!(form)]).await?;
    page.press(fantoccini::key::Key::Enter).await?;
    page.wait_until(&format!("return saved['{file}'] !== undefined"))
        .await
}

/// Width and height of a saved file as the browser shows it.
async fn shown(page: &Page, file: &str) -> Result<Vec<f64>> {
    const SHOW: &str = "window.shown = null; \
         const image = new Image(); \
         image.onload = () => { shown = [image.naturalWidth, image.naturalHeight] }; \
         image.onerror = () => { shown = [] }; \
         image.src = URL.createObjectURL(saved[arguments[0]])";
    page.run(SHOW, vec![json!(file)]).await?;
    page.wait_until("return shown !== null").await?;
    let size = page.run("return shown", vec![]).await?;
    let numbers = size.as_array().into_iter().flatten();
    Ok(numbers.filter_map(Value::as_f64).collect())
}

#[tokio::test]
#[ignore = "needs the built page: cargo xtask test"]
async fn charts_and_schematics_are_saved_as_pictures() -> Result<()> {
    let page = open().await?;
    page.run(WATCH, vec![]).await?;
    let all = [
        ("Magnitude", "magnitude"),
        ("Schematic", "schematic"),
        ("Histograms of the shown stage", "distributions"),
    ];
    for (what, name) in all {
        let (drawn, painted) = (format!("{name}.svg"), format!("{name}.png"));
        save(&page, what, "SVG", &drawn).await?;
        let size = shown(&page, &drawn).await?;
        assert!(size.len() == 2 && size[0] > 100.0, "{drawn}: {size:?}");
        save(&page, what, "PNG", &painted).await?;
        const BYTES: &str = "window.bytes = null; \
             saved[arguments[0]].arrayBuffer().then(all => { bytes = [...new Uint8Array(all)].slice(0, 8) })";
        page.run(BYTES, vec![json!(painted)]).await?;
        page.wait_until("return bytes !== null").await?;
        // The signature of PNG (ISO/IEC 15948, clause 5.2).
        let signature = json!([137, 80, 78, 71, 13, 10, 26, 10]);
        assert_eq!(
            page.run("return bytes", vec![]).await?,
            signature,
            "{painted}"
        );
        // Three pixels to one, up to the last one cut off.
        let fine = shown(&page, &painted).await?;
        assert!((fine[0] - 3.0 * size[0]).abs() <= 3.0, "{size:?} {fine:?}");
    }
    Ok(())
}

/// The buttons stand over no curve, and are large enough (WCAG 2.2, 2.5.8).
#[tokio::test]
#[ignore = "needs the built page: cargo xtask test"]
async fn buttons_that_save_cover_no_chart() -> Result<()> {
    let page = open().await?;
    page.wait_for("ready").await?;
    page.run("document.querySelector('.spread').scrollIntoView()", vec![])
        .await?;
    page.wait_until("return document.querySelectorAll('.spread figure > .saving').length >= 2")
        .await?;
    page.wait_for_frames().await?;
    const COVERED: &str = "return [...document.querySelectorAll('figure:has(> .saving)')].flatMap(figure => { \
         const canvas = figure.querySelector('canvas').getBoundingClientRect(); \
         return [...figure.querySelectorAll('.saving button')].filter(button => { \
             const box = button.getBoundingClientRect(); \
             return box.width > 0 && (box.bottom > canvas.top + 2 || box.height < 23.9) \
         }).map(button => button.ariaLabel) })";
    assert_eq!(page.run(COVERED, vec![]).await?, json!([]));
    const SEEN: &str = "return [...document.querySelectorAll('.curves .saving button')].length";
    assert_eq!(page.run(SEEN, vec![]).await?, json!(8));
    Ok(())
}
