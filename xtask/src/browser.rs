//! Headless Chromium, driven through chromedriver.

use std::ops::Deref;

use anyhow::{Context, Result};
use fantoccini::wd::{Capabilities, WebDriverCompatibleCommand};
use fantoccini::{Client, ClientBuilder};
use http::Method;
use hyper_util::client::legacy::connect::HttpConnector;
use serde_json::{Value, json};
use tempfile::TempDir;
use url::{ParseError, Url};

use crate::driver::Driver;

/// The names under which distributions install Chromium or Chrome.
pub const BROWSER_NAMES: [&str; 5] = [
    "chromium",
    "chromium-browser",
    "google-chrome-stable",
    "google-chrome",
    "chrome",
];

const FLAGS: [&str; 9] = [
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-dev-shm-usage",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--no-first-run",
    "--window-size=1440,900",
];

/// What the browser keeps a record of, beside its console.
#[derive(Clone, Copy)]
pub enum Record {
    /// Nothing more.
    Console,
    /// Every request and answer.
    Network,
    /// Trace events of these categories, separated by commas.
    Trace(&'static str),
}

/// A browser of its own: fresh profile, empty cache, nothing stored.
///
/// The commands of WebDriver are those of [`fantoccini::Client`], which this stands for.
/// Everything it started ends when it is dropped.
pub struct Browser {
    client: Client,
    // The order matters: the driver ends the browser, then the profile can be removed.
    _driver: Driver,
    _profile: TempDir,
}

impl Browser {
    /// Starts chromedriver and a browser.
    pub async fn start(record: Record) -> Result<Self> {
        let driver = Driver::start()?;
        let profile = tempfile::tempdir().context("no directory for the browser's profile")?;
        let client = ClientBuilder::new(HttpConnector::new())
            .capabilities(capabilities(record, &profile)?)
            .connect(&driver.address())
            .await
            .context("chromedriver does not start Chromium")?;
        let browser = Self {
            client,
            _driver: driver,
            _profile: profile,
        };
        // A window that the system gives no focus tells a page nothing of its own.
        let focus = json!({ "enabled": true });
        browser
            .devtools("Emulation.setFocusEmulationEnabled", focus)
            .await?;
        Ok(browser)
    }

    /// Gives a command of the Chrome DevTools Protocol and hands back its result.
    pub async fn devtools(&self, command: &str, parameters: Value) -> Result<Value> {
        let body = json!({ "cmd": command, "params": parameters });
        self.extension("goog/cdp/execute", body).await
    }

    /// How many workers the page's workers have started.
    pub async fn nested_workers(&self) -> Result<usize> {
        let targets = self.devtools("Target.getTargets", json!({})).await?;
        let all = targets["targetInfos"].as_array().cloned();
        let all = all.unwrap_or_default();
        let of_kind = |kind: &'static str| all.iter().filter(move |target| target["type"] == kind);
        let pages: Vec<&Value> = of_kind("page").map(|page| &page["targetId"]).collect();
        // Chromium 148 tells nobody's parent, and the address of the page's own workers alone.
        let is_nested = |worker: &&Value| match worker["parentId"].is_string() {
            true => !pages.contains(&&worker["parentId"]),
            false => worker["url"] == "",
        };
        let nested = of_kind("worker").filter(is_nested);
        Ok(nested.count())
    }

    /// What was written to the log `kind` ("browser" or "performance") since it was last read.
    pub async fn log(&self, kind: &str) -> Result<Vec<Value>> {
        let entries = self.extension("se/log", json!({ "type": kind })).await?;
        Ok(entries.as_array().cloned().unwrap_or_default())
    }

    /// The console's messages since they were last read, each as "LEVEL text".
    pub async fn console(&self) -> Result<Vec<String>> {
        let entries = self.log("browser").await?;
        let text = |entry: &Value, key: &str| entry[key].as_str().unwrap_or_default().to_owned();
        Ok(entries
            .iter()
            .map(|entry| format!("{} {}", text(entry, "level"), text(entry, "message")))
            .collect())
    }

    /// The events of the performance log since it was last read, as DevTools sent them.
    pub async fn events(&self) -> Result<Vec<Value>> {
        let entries = self.log("performance").await?;
        let event = |entry: &Value| -> Result<Value> {
            let text = entry["message"]
                .as_str()
                .context("a log entry without a message")?;
            let mut message: Value = serde_json::from_str(text)?;
            Ok(message["message"].take())
        };
        entries.iter().map(event).collect()
    }

    async fn extension(&self, path: &'static str, body: Value) -> Result<Value> {
        let command = Extension { path, body };
        self.client
            .issue_cmd(command)
            .await
            .with_context(|| format!("chromedriver's {path}"))
    }
}

impl Deref for Browser {
    type Target = Client;

    fn deref(&self) -> &Client {
        &self.client
    }
}

fn capabilities(record: Record, profile: &TempDir) -> Result<Capabilities> {
    let mut flags: Vec<String> = FLAGS.map(String::from).to_vec();
    flags.push(format!("--user-data-dir={}", profile.path().display()));
    let mut options = json!({ "args": flags });
    // Without a name chromedriver looks in the places where Chrome installs itself.
    if let Some(program) = BROWSER_NAMES
        .iter()
        .find_map(|name| which::which(name).ok())
    {
        options["binary"] = json!(program);
    }
    let mut logs = json!({ "browser": "ALL" });
    match record {
        Record::Console => {}
        Record::Network => logs["performance"] = json!("ALL"),
        Record::Trace(categories) => {
            logs["performance"] = json!("ALL");
            options["perfLoggingPrefs"] =
                json!({ "traceCategories": categories, "enableNetwork": false });
        }
    }
    let capabilities = json!({ "goog:chromeOptions": options, "goog:loggingPrefs": logs });
    Ok(serde_json::from_value(capabilities)?)
}

/// One of chromedriver's commands beyond the WebDriver standard.
#[derive(Debug)]
struct Extension {
    path: &'static str,
    body: Value,
}

impl WebDriverCompatibleCommand for Extension {
    fn endpoint(&self, base: &Url, session: Option<&str>) -> Result<Url, ParseError> {
        base.join(&format!(
            "session/{}/{}",
            session.unwrap_or_default(),
            self.path
        ))
    }

    fn method_and_body(&self, _: &Url) -> (Method, Option<String>) {
        (Method::POST, Some(self.body.to_string()))
    }
}
