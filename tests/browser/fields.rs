//! Each field is a form of its own: a browser reads all fields of the form that is typed into.

use fantoccini::key::Key;
use serde_json::json;
use xtask::Result;

use crate::open;

#[tokio::test]
#[ignore = "needs the built page: cargo xtask test"]
async fn no_field_shares_its_form() -> Result<()> {
    const CROWDED: &str = "const fields = [...document.querySelectorAll('[id^=field-]:is(input, textarea)')]; \
         return [fields.length > 40, fields.filter(field => field.form?.elements.length !== 1).map(field => field.id)]";
    let page = open().await?;
    assert_eq!(page.run(CROWDED, vec![]).await?, json!([true, []]));
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
    for label in ["Q", "Design name"] {
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
