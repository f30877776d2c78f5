//! What is typed and cannot be read stays at its field, wherever its stage goes.

use serde_json::{Value, json};
use xtask::Result;
use xtask::page::Page;

use crate::open;

const BAD: &str = "2.3 parsecs";

/// Adds a stage behind the shown one.
async fn add(page: &Page, circuit: &str) -> Result<()> {
    const SCRIPT: &str = "const select = document.getElementById('add-stage'); \
         select.value = arguments[0]; \
         select.dispatchEvent(new Event('change', { bubbles: true }));";
    page.run(SCRIPT, vec![json!(circuit)]).await?;
    page.wait_for_frames().await
}

/// Presses the button of this spoken name.
async fn press(page: &Page, name: &str) -> Result<()> {
    const SCRIPT: &str = "document.querySelector(`button[aria-label='${arguments[0]}']`).click()";
    page.run(SCRIPT, vec![json!(name)]).await?;
    page.wait_for_frames().await
}

/// Looks at the stage of this place, from 1.
async fn show(page: &Page, place: usize) -> Result<()> {
    const SCRIPT: &str = "document.querySelectorAll('.card .show')[arguments[0] - 1].click()";
    page.run(SCRIPT, vec![json!(place)]).await?;
    page.wait_for_frames().await
}

/// Pastes into a field: at once, and not key by key.
async fn put(page: &Page, label: &str, text: &str) -> Result<()> {
    page.tab_to(label).await?;
    page.select_all().await?;
    page.browser
        .devtools("Input.insertText", json!({ "text": text }))
        .await?;
    page.wait_for_frames().await
}

/// The places, from 1, of the cards that say that an entry is not valid.
async fn marked(page: &Page) -> Result<Value> {
    const SCRIPT: &str = "return [...document.querySelectorAll('.card')] \
         .flatMap((card, at) => card.querySelector('.unread') ? [at + 1] : [])";
    page.run(SCRIPT, vec![]).await
}

/// What the field of this id holds, in sight or not.
async fn value(page: &Page, id: &str) -> Result<Value> {
    const SCRIPT: &str = "return document.getElementById(arguments[0])?.value ?? null";
    page.run(SCRIPT, vec![json!(id)]).await
}

async fn frequency(page: &Page) -> Result<Value> {
    page.input("Notch frequency", "value").await
}

#[tokio::test]
#[ignore = "needs the built page: cargo xtask test"]
async fn a_draft_goes_with_its_stage() -> Result<()> {
    let page = open().await?;
    // Two that are alike but for what is typed.
    add(&page, "mfb-notch").await?;
    put(&page, "Notch frequency", "2.35 kHz").await?;
    show(&page, 1).await?;
    put(&page, "Notch frequency", BAD).await?;
    page.wait_for("error").await?;
    assert_eq!(marked(&page).await?, json!([]));

    show(&page, 2).await?;
    assert_eq!(frequency(&page).await?, "2.35 kHz");
    assert_eq!(marked(&page).await?, json!([1]));
    show(&page, 1).await?;
    assert_eq!(frequency(&page).await?, BAD);

    press(&page, "Move this stage later").await?;
    assert_eq!(frequency(&page).await?, BAD);
    show(&page, 1).await?;
    assert_eq!(frequency(&page).await?, "2.35 kHz");
    assert_eq!(marked(&page).await?, json!([2]));

    // Another one in between.
    add(&page, "gain-non-inverting").await?;
    assert_eq!(marked(&page).await?, json!([3]));
    show(&page, 1).await?;
    press(&page, "Remove this stage").await?;
    assert_eq!(marked(&page).await?, json!([2]));
    show(&page, 2).await?;
    assert_eq!(frequency(&page).await?, BAD);
    page.wait_for("error").await?;

    // Only with its field it goes, and the way back brings both again.
    press(&page, "Remove this stage").await?;
    page.wait_for("ready").await?;
    page.run("history.back()", vec![]).await?;
    page.wait_for("error").await?;
    assert_eq!(frequency(&page).await?, BAD);
    Ok(())
}

#[tokio::test]
#[ignore = "needs the built page: cargo xtask test"]
async fn a_draft_elsewhere_stays_when_stages_come_and_the_plant_changes() -> Result<()> {
    let page = open().await?;
    put(&page, "Boards", "many").await?;
    page.wait_for("error").await?;
    add(&page, "gain-non-inverting").await?;
    assert_eq!(value(&page, "field-spread-boards").await?, "many");
    const PLANT: &str = "[...document.querySelectorAll('button')] \
         .find(button => button.textContent.includes('Begin with a model')).click()";
    page.run("document.getElementById('intake').open = true", vec![])
        .await?;
    page.run(PLANT, vec![]).await?;
    page.wait_for_frames().await?;
    assert_eq!(value(&page, "field-spread-boards").await?, "many");

    // Of two modes the first one is removed: what is typed at the second goes on with it.
    const ADD: &str = "[...document.querySelectorAll('button')] \
         .find(button => button.textContent.trim() === 'Add a mode').click()";
    page.run(ADD, vec![]).await?;
    page.wait_for_frames().await?;
    put(&page, "Mode 2 frequency", "fast").await?;
    press(&page, "Remove mode 1").await?;
    assert_eq!(
        value(&page, "field-servo-model-modes-0-frequency").await?,
        "fast"
    );
    assert_eq!(value(&page, "field-spread-boards").await?, "many");
    Ok(())
}

#[tokio::test]
#[ignore = "needs the built page: cargo xtask test"]
async fn a_draft_comes_back_with_the_path_that_was_emptied() -> Result<()> {
    const PRESS: &str = "[...document.querySelectorAll('button')] \
         .find(button => button.textContent.includes(arguments[0])).click()";
    let page = open().await?;
    put(&page, "Notch frequency", BAD).await?;
    page.wait_for("error").await?;
    page.run(PRESS, vec![json!("Begin with a plant")]).await?;
    page.wait_for("ready").await?;
    page.run(PRESS, vec![json!("Restore the former path")])
        .await?;
    page.wait_for("error").await?;
    assert_eq!(frequency(&page).await?, BAD);
    Ok(())
}
