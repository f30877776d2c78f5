//! Each field is a form of its own: a browser reads all fields of the form that is typed into.

use fantoccini::key::Key;
use serde_json::json;
use xtask::Result;

use crate::{choose, open, press};

#[tokio::test]
#[ignore = "needs the built page: cargo xtask test"]
async fn no_field_shares_its_form() -> Result<()> {
    const CROWDED: &str = "const typed = ':is(input[type=text], textarea):not([readonly])'; \
         const fields = [...document.querySelectorAll(typed)]; \
         const alone = field => field.form && [...field.form.elements].filter(other => other.matches(typed)).length === 1; \
         return [fields.length, fields.filter(field => !alone(field)).map(field => field.id)]";
    let page = open().await?;
    press(&page, "Use the demo").await?;
    press(&page, "Add a converter").await?;
    choose(&page, "stimulus", "trajectory").await?;
    let found = page.run(CROWDED, vec![]).await?;
    assert!(found[0].as_u64() > Some(100), "{found}");
    assert_eq!(found[1], json!([]));
    // Those which are not of the design are seen as well.
    const THERE: &str = "return ['converter-name-1', 'mode-added', 'trajectory', 'boards-to-buy', 'board-number', 'sweep-text', 'bench-text'] \
         .filter(id => document.getElementById(id) === null)";
    assert_eq!(page.run(THERE, vec![]).await?, json!([]));
    Ok(())
}

/// A form that is sent would have the browser load another page.
#[tokio::test]
#[ignore = "needs the built page: cargo xtask test"]
async fn enter_in_a_field_keeps_page_and_entry() -> Result<()> {
    const IS_HERE: &str = "return [window.isHere === true, location.search]";
    let page = open().await?;
    const OPEN: &str = "window.isHere = true; \
         for (const part of document.querySelectorAll('details')) part.open = true";
    page.run(OPEN, vec![]).await?;
    for label in ["Q", "Design name", "Board"] {
        page.tab_to(label).await?;
        page.select_all().await?;
        page.press('3').await?;
        page.press(Key::Enter).await?;
        page.wait_for_frames().await?;
    }
    page.wait_for("ready").await?;
    assert_eq!(page.input("Q", "value").await?, "3");
    assert_eq!(page.input("Design name", "value").await?, "3");
    assert_eq!(page.run(IS_HERE, vec![]).await?, json!([true, ""]));
    Ok(())
}
