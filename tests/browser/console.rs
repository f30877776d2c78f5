//! What the page shows and what its module answers in the console are one and the same.

use serde_json::{Value, json};
use xtask::Result;
use xtask::page::Page;

use crate::open;

#[tokio::test]
#[ignore = "needs the built page: cargo xtask test"]
async fn solve_in_the_console_gives_what_the_page_shows() -> Result<()> {
    let page = open().await?;
    let outcome = solve(&page, "{}").await?;
    let stage = &outcome["stages"][0];

    let parts = stage["parts"].as_array().expect("a list of parts");
    assert_eq!(parts.len(), 6);
    for part in parts {
        let name = part["name"].as_str().expect("a part's name");
        assert_eq!(
            Some(page.part(name).await?),
            part["value"].as_f64(),
            "{name}"
        );
    }

    let figures = stage["figures"].as_array().expect("a list of figures");
    assert!(figures.len() >= 6, "{} figures", figures.len());
    for figure in figures {
        let name = figure["name"].as_str().expect("a figure's name");
        assert_eq!(
            Some(page.figure(name).await?),
            figure["value"].as_f64(),
            "{name}"
        );
        let ideal = format!("{name}-ideal");
        assert_eq!(
            json!(page.figure(&ideal).await?),
            figure["ideal"],
            "{ideal}"
        );
    }

    let share = outcome["spread"]["yield"]["fraction"].as_f64();
    assert_eq!(Some(page.figure("yield").await?), share);
    Ok(())
}

#[tokio::test]
#[ignore = "needs the built page: cargo xtask test"]
async fn nonsense_in_the_console_is_answered_and_does_no_harm() -> Result<()> {
    let page = open().await?;
    for nonsense in [
        "",
        "nonsense",
        r#"{"stages": 3}"#,
        r#"{"stages": [{"circuit": "none"}]}"#,
        r#"{"spread": {"boards": -1}}"#,
    ] {
        let answer = solve(&page, nonsense).await?;
        let errors = answer["errors"].as_array();
        assert!(
            errors.is_some_and(|list| !list.is_empty()),
            "`{nonsense}` is taken for a design"
        );
    }
    assert!(solve(&page, "{}").await?["stages"].is_array());
    Ok(())
}

/// Calls the module as somebody at the page's console does.
async fn solve(page: &Page, design: &str) -> Result<Value> {
    let script = "return wasmBindings.solve(arguments[0]).then(JSON.parse)";
    page.run(script, vec![json!(design)]).await
}
