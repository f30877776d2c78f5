//! The keyboard stays where it was when a control goes, and no link leads nowhere.

use serde_json::json;
use xtask::Result;
use xtask::page::Page;

use crate::open;

/// Presses the control of this name by the keyboard's way, and says where the focus is when all is drawn, and whether the
/// window is at the page's top.
async fn after(page: &Page, name: &str) -> Result<(String, bool)> {
    const PRESS: &str = "const name = button => (button.getAttribute('aria-label') ?? button.textContent).trim(); \
         const button = [...document.querySelectorAll('button')].find(button => name(button).startsWith(arguments[0])); \
         for (let part = button; part; part = part.parentElement) if (part.tagName === 'DETAILS') part.open = true; \
         button.scrollIntoView({ block: 'center' }); button.focus(); button.click();";
    const AT: &str = "const own = document.activeElement; \
         return [(own.getAttribute('aria-label') ?? own.textContent).trim(), scrollY === 0]";
    page.run(PRESS, vec![json!(name)]).await?;
    page.wait_for("ready").await?;
    page.wait_for_frames().await?;
    Ok(serde_json::from_value(page.run(AT, vec![]).await?)?)
}

#[tokio::test]
#[ignore = "needs the built page: cargo xtask test"]
async fn it_goes_to_the_neighbour_of_what_is_taken_away() -> Result<()> {
    let page = open().await?;
    page.wait_for("ready").await?;
    for (pressed, then) in [
        ("Keep a copy to compare", "Keep a new copy"),
        ("End the comparison", "Keep a copy to compare"),
        ("Add a point", "Add a point"),
        ("Remove point", "Remove point 1"),
    ] {
        let (at, is_top) = after(&page, pressed).await?;
        assert_eq!(at, then, "after {pressed}");
        assert!(!is_top, "{pressed} leads to the top");
    }
    Ok(())
}

#[tokio::test]
#[ignore = "needs the built page: cargo xtask test"]
async fn what_an_empty_path_has_not_has_no_link() -> Result<()> {
    const DEAD: &str = "const shown = [...document.querySelectorAll('.regions a, .key-figures a')] \
             .filter(link => link.offsetParent !== null).map(link => link.textContent.trim()); \
         return ['Bench', 'Op amps'].map(name => shown.includes(name))";
    let page = open().await?;
    page.wait_for("ready").await?;
    assert_eq!(page.run(DEAD, vec![]).await?, json!([true, true]));
    after(&page, "Remove this stage").await?;
    assert_eq!(page.run(DEAD, vec![]).await?, json!([false, false]));
    Ok(())
}

#[tokio::test]
#[ignore = "needs the built page: cargo xtask test"]
async fn a_full_path_takes_no_stage_more() -> Result<()> {
    const IS_FULL: &str = "return document.getElementById('add-stage').disabled";
    let page = open().await?;
    for stage in 1..=12 {
        assert_eq!(page.run(IS_FULL, vec![]).await?, stage == 12, "{stage}");
        if stage < 12 {
            crate::choose(&page, "add-stage", "follower").await?;
        }
    }
    Ok(())
}
