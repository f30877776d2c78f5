//! The page complains about nothing and talks to nobody.

use serde_json::Value;
use xtask::Result;
use xtask::browser::Record;
use xtask::page::Page;

use crate::{address, ask_for_another_notch};

#[tokio::test]
#[ignore = "needs the built page: cargo xtask test"]
async fn no_error_and_no_request_but_to_its_own_site() -> Result<()> {
    let page = Page::open(&address(), Record::Network).await?;
    ask_for_another_notch(&page).await?;
    // A page without an icon of its own makes some browsers ask for one that is not there.
    let icon = page
        .run(
            "return document.querySelector('link[rel~=icon]')?.href",
            vec![],
        )
        .await?;
    assert!(icon.is_string(), "the page names no icon");

    let console = page.browser.console().await?;
    let errors: Vec<&String> = console
        .iter()
        .filter(|line| line.starts_with("SEVERE"))
        .collect();
    assert!(errors.is_empty(), "the console says {errors:#?}");

    let home = page
        .browser
        .current_url()
        .await?
        .origin()
        .ascii_serialization();
    let events = page.browser.events().await?;
    let of_kind = |kind| {
        let events = events.iter().filter(move |event| event["method"] == kind);
        events.map(|event| &event["params"])
    };
    // The browser's own start page asks for things of its own.
    let requests: Vec<&Value> = of_kind("Network.requestWillBeSent")
        .filter(|request| !text(&request["documentURL"]).starts_with("chrome"))
        .collect();
    assert!(requests.len() > 2, "the requests were not recorded");
    let foreign = requests
        .iter()
        .find(|request| !stays_at(&home, &request["request"]["url"]));
    assert!(foreign.is_none(), "a request leaves the site: {foreign:#?}");

    let ids: Vec<&Value> = requests
        .iter()
        .map(|request| &request["requestId"])
        .collect();
    let failed = of_kind("Network.loadingFailed").find(|event| ids.contains(&&event["requestId"]));
    assert!(failed.is_none(), "a request failed: {failed:#?}");
    let refused = of_kind("Network.responseReceived")
        .filter(|event| ids.contains(&&event["requestId"]))
        .map(|event| &event["response"])
        .find(|response| {
            response["status"]
                .as_f64()
                .is_some_and(|status| status >= 400.0)
        });
    assert!(refused.is_none(), "a request was refused: {refused:#?}");
    Ok(())
}

/// Whether asking for `url` stays on the page's own site, or within the page itself.
fn stays_at(home: &str, url: &Value) -> bool {
    let url = text(url);
    let own = url
        .strip_prefix(home)
        .is_some_and(|rest| rest.starts_with('/'));
    own || url.starts_with("data:") || url.starts_with("blob:")
}

fn text(value: &Value) -> &str {
    value.as_str().unwrap_or_default()
}
