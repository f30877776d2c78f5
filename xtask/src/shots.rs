//! `shots`: pictures of the built page, for who works on it and for the README.

use anyhow::{Context, Result};
use base64::Engine;
use base64::prelude::BASE64_STANDARD;
use serde_json::json;
use tokio::runtime;
use xshell::Shell;
use xtask::browser::Record;
use xtask::page::Page;

use crate::serve::Site;

const WIDTHS: [u32; 3] = [1440, 1024, 360];
const SCHEMES: [&str; 2] = ["light", "dark"];
const SHOTS: &str = "target/shots";

/// Takes a picture of the whole page at each width in each scheme, and prints the console.
pub fn run(sh: &Shell, fragment: Option<&str>) -> Result<()> {
    let site = Site::of_built_page(sh)?;
    let address = match fragment {
        Some(fragment) => format!("{}#{fragment}", site.address),
        None => site.address,
    };
    sh.create_dir(SHOTS)?;
    runtime::Builder::new_current_thread()
        .enable_all()
        .build()?
        .block_on(async {
            let page = Page::visit(&address, Record::Console).await?;
            // A page that does not get ready is worth a picture all the more.
            if let Err(error) = page.wait_for("ready").await {
                println!("{error:#}");
            }
            for width in WIDTHS {
                for scheme in SCHEMES {
                    let file = format!("{SHOTS}/{width}-{scheme}.png");
                    sh.write_file(&file, picture(&page, width, scheme).await?)?;
                    println!("{file}");
                }
            }
            for message in page.browser.console().await? {
                println!("{message}");
            }
            Ok(())
        })
}

/// The page as PNG, from its top to its bottom.
async fn picture(page: &Page, width: u32, scheme: &str) -> Result<Vec<u8>> {
    let browser = &page.browser;
    let scheme = json!({ "features": [{ "name": "prefers-color-scheme", "value": scheme }] });
    browser
        .devtools("Emulation.setEmulatedMedia", scheme)
        .await?;
    // What is out of sight is not painted: the window becomes as high as the page, which may grow by what is.
    let mut height = json!(900);
    for _ in 0..3 {
        let screen =
            json!({ "width": width, "height": height, "deviceScaleFactor": 1, "mobile": false });
        browser
            .devtools("Emulation.setDeviceMetricsOverride", screen)
            .await?;
        page.wait_for_frames().await?;
        let size = browser.devtools("Page.getLayoutMetrics", json!({})).await?;
        let whole = size["cssContentSize"]["height"].as_f64();
        height = json!(whole.context("the page has no height")?.ceil());
    }
    let answer = browser
        .devtools("Page.captureScreenshot", json!({}))
        .await?;
    let data = answer["data"].as_str().context("no picture came back")?;
    Ok(BASE64_STANDARD.decode(data)?)
}
