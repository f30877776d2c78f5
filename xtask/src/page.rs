//! The page as somebody at the keyboard meets it: labels, keys, and what can be read.
//!
//! Only what the page promises to scripts is used: labels, `data-state`, `data-figure`,
//! `data-part` and `data-value`.

use std::time::{Duration, Instant};

use anyhow::{Context, Result, bail};
use fantoccini::actions::{InputSource, KeyAction, KeyActions};
use fantoccini::key::Key;
use serde_json::{Value, json};

use crate::browser::{Browser, Record};

/// How long the page may take to settle.
const PATIENCE: Duration = Duration::from_secs(20);

/// The page in a browser of its own.
pub struct Page {
    /// The browser, for what only it can tell.
    pub browser: Browser,
}

impl Page {
    /// Opens the page in a fresh browser and waits until it is ready.
    pub async fn open(address: &str, record: Record) -> Result<Self> {
        let page = Self::visit(address, record).await?;
        page.wait_for("ready").await?;
        Ok(page)
    }

    /// Opens the page in a fresh browser, in whatever state it then is.
    pub async fn visit(address: &str, record: Record) -> Result<Self> {
        let browser = Browser::start(record).await?;
        browser.goto(address).await?;
        Ok(Self { browser })
    }

    /// Runs a script in the page.
    pub async fn run(&self, script: &str, arguments: Vec<Value>) -> Result<Value> {
        let result = self.browser.execute(script, arguments).await;
        result.with_context(|| format!("in the page: {script}"))
    }

    /// Waits for two frames: what was typed before is then taken in, and what it changed drawn.
    pub async fn wait_for_frames(&self) -> Result<()> {
        const SCRIPT: &str = "const done = arguments[arguments.length - 1]; \
             requestAnimationFrame(() => requestAnimationFrame(() => done()));";
        self.browser.execute_async(SCRIPT, vec![]).await?;
        Ok(())
    }

    /// Waits until `body[data-state]` is `state` for what was typed last.
    pub async fn wait_for(&self, state: &str) -> Result<()> {
        let patience = Instant::now() + PATIENCE;
        self.wait_for_frames().await?;
        loop {
            let now = self
                .run("return document.body.dataset.state ?? null", vec![])
                .await?;
            if now == state {
                return Ok(());
            }
            if Instant::now() > patience {
                let console = self.browser.console().await?.join("\n");
                bail!("the page is `{now}`, not `{state}`. Its console:\n{console}");
            }
            tokio::time::sleep(Duration::from_millis(20)).await;
        }
    }

    /// Waits until a script returns true.
    pub async fn wait_until(&self, script: &str) -> Result<()> {
        let patience = Instant::now() + PATIENCE;
        while self.run(script, vec![]).await? != true {
            if Instant::now() > patience {
                bail!("in the page never true: {script}");
            }
            tokio::time::sleep(Duration::from_millis(5)).await;
        }
        Ok(())
    }

    /// Types `text` on the keyboard, into whatever has the focus.
    pub async fn type_text(&self, text: &str) -> Result<()> {
        for key in text.chars() {
            self.press(key).await?;
        }
        Ok(())
    }

    /// Presses one key: a character, or a [`Key`] turned into one.
    pub async fn press(&self, key: impl Into<char>) -> Result<()> {
        let value = key.into();
        let keys = KeyActions::new("keyboard".into())
            .then(KeyAction::Down { value })
            .then(KeyAction::Up { value });
        Ok(self.browser.perform_actions(keys).await?)
    }

    /// Selects all text of the field that has the focus.
    pub async fn select_all(&self) -> Result<()> {
        // What Control+A does everywhere but on a Mac.
        let held = if cfg!(target_os = "macos") {
            Key::Meta
        } else {
            Key::Control
        };
        let keys = KeyActions::new("keyboard".into())
            .then(KeyAction::Down { value: held.into() })
            .then(KeyAction::Down { value: 'a' })
            .then(KeyAction::Up { value: 'a' })
            .then(KeyAction::Up { value: held.into() });
        Ok(self.browser.perform_actions(keys).await?)
    }

    /// Presses Tab until the input labelled `label` has the focus.
    pub async fn tab_to(&self, label: &str) -> Result<()> {
        const MOST: usize = 300;
        for _ in 0..MOST {
            self.press(Key::Tab).await?;
            let labels = self
                .run(
                    "return [...(document.activeElement.labels ?? [])].map(l => l.innerText.trim())",
                    vec![],
                )
                .await?;
            if labels
                .as_array()
                .is_some_and(|labels| labels.contains(&json!(label)))
            {
                return Ok(());
            }
        }
        bail!("{MOST} Tabs do not reach an input labelled `{label}`")
    }

    /// Goes to the input labelled `label` by keyboard and types `text` in place of what it holds.
    pub async fn fill(&self, label: &str, text: &str) -> Result<()> {
        self.tab_to(label).await?;
        self.select_all().await?;
        self.type_text(text).await
    }

    /// Reads property `property` of the input labelled `label`.
    pub async fn input(&self, label: &str, property: &str) -> Result<Value> {
        const SCRIPT: &str = "const [text, property] = arguments; \
             const label = [...document.querySelectorAll('label')] \
                 .find(l => l.innerText.trim() === text); \
             return label?.control ? label.control[property] ?? null : undefined";
        self.run(SCRIPT, vec![json!(label), json!(property)]).await
    }

    /// The figure `name` at full precision, in SI units.
    pub async fn figure(&self, name: &str) -> Result<f64> {
        self.value(&format!("[data-figure='{name}']")).await
    }

    /// The value of the part `name`, in SI units.
    pub async fn part(&self, name: &str) -> Result<f64> {
        self.value(&format!("[data-part='{name}']")).await
    }

    /// `data-value` of the first element that `selector` finds.
    async fn value(&self, selector: &str) -> Result<f64> {
        let script = "return document.querySelector(arguments[0])?.dataset.value ?? null";
        let text = self.run(script, vec![json!(selector)]).await?;
        let text = text
            .as_str()
            .with_context(|| format!("the page shows no {selector}"))?;
        text.parse()
            .with_context(|| format!("{selector} has data-value=\"{text}\""))
    }
}
