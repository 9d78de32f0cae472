//! A real browser: headless Chromium through its own driver, with screenshots and an accessibility checker.

use crate::people::PASSWORD;
use crate::place;
use base64::Engine as _;
use fantoccini::wd::Capabilities;
use fantoccini::{Client, ClientBuilder, Locator};
use hyper_util::client::legacy::connect::HttpConnector;
use reqwest::{Method, Url};
use serde_json::{Value, json};
use std::io::{BufRead, BufReader};
use std::process::{Child, Command, Stdio};
use tokio::runtime::Runtime;

/// What a page is seen on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Screen {
    /// A phone held upright.
    Phone,
    /// A desk.
    Desk,
}

impl Screen {
    /// Width and height in CSS pixels.
    pub fn size(self) -> (u32, u32) {
        match self {
            Screen::Phone => (390, 844),
            Screen::Desk => (1280, 900),
        }
    }
}

/// A window of its own, without cookies. Ends with the test.
pub struct Browser {
    runtime: Runtime,
    client: Client,
    driver: Child,
    // read to its end only by dropping it: the driver must not meet a closed pipe
    _said: BufReader<std::process::ChildStdout>,
}

impl Browser {
    /// Starts the driver and a window.
    pub fn start(screen: Screen) -> Self {
        let program = std::env::var("CHROMEDRIVER").unwrap_or_else(|_| "chromedriver".into());
        let mut command = Command::new(&program);
        command.arg("--port=0").stdin(Stdio::null()).stdout(Stdio::piped()).stderr(Stdio::null());
        let mut driver = command.spawn().unwrap_or_else(|e| {
            panic!("cannot run {program} ({e}); `tests/run` installs it on Debian (package chromium-driver)")
        });
        let mut said = BufReader::new(driver.stdout.take().expect("stdout is a pipe"));
        let port = port(&mut said).expect("the driver says on which port it listens");
        let runtime = Runtime::new().expect("a runtime can be made");
        let capabilities = capabilities(screen);
        let address = format!("http://127.0.0.1:{port}");
        let client = runtime.block_on(async {
            ClientBuilder::new(HttpConnector::new()).capabilities(capabilities).connect(&address).await
        });
        let client = client.unwrap_or_else(|e| {
            let _ = driver.kill();
            panic!("no window: {e}")
        });
        Self { runtime, client, driver, _said: said }
    }

    /// The WebDriver client itself, for what the short forms don't cover; see [`Browser::run`].
    pub fn client(&self) -> Client {
        self.client.clone()
    }

    /// Runs something on the browser's runtime.
    pub fn run<T>(&self, future: impl Future<Output = T>) -> T {
        self.runtime.block_on(future)
    }

    /// Goes to an address and waits until the page is loaded.
    #[track_caller]
    pub fn visit(&self, url: &str) {
        self.run(self.client.goto(url)).unwrap_or_else(|e| panic!("{url}: {e}"));
    }

    /// Where it is.
    pub fn url(&self) -> String {
        self.run(self.client.current_url()).expect("the window has an address").into()
    }

    /// The text that a reader sees in the first element for this selector.
    #[track_caller]
    pub fn text(&self, css: &str) -> String {
        let found = self.run(async { self.client.find(Locator::Css(css)).await?.text().await });
        found.unwrap_or_else(|e| panic!("{css}: {e}\n{}", self.source()))
    }

    /// How many elements match.
    pub fn count(&self, css: &str) -> usize {
        self.run(self.client.find_all(Locator::Css(css))).map_or(0, |found| found.len())
    }

    /// Clicks the first element for this selector; a link or a form's button has loaded its page when this returns.
    #[track_caller]
    pub fn click(&self, css: &str) {
        let clicked = self.run(async { self.client.find(Locator::Css(css)).await?.click().await });
        clicked.unwrap_or_else(|e| panic!("{css}: {e}\n{}", self.source()));
    }

    /// Clicks what leads to another page, and waits until that page is there.
    #[track_caller]
    pub fn follow(&self, css: &str) {
        // to where nothing that sticks to an edge lies over it, as a reader would
        let leave = "document.documentElement.dataset.left = '';
            document.querySelector(arguments[0])?.scrollIntoView({ block: 'center' })";
        self.script(leave, vec![css.into()]);
        self.click(css);
        let arrived = "html:not([data-left]) main";
        let found = self.run(async { self.client.wait().for_element(Locator::Css(arrived)).await.map(drop) });
        found.unwrap_or_else(|e| panic!("{css} leads nowhere: {e}\n{}", self.source()));
    }

    /// Signs in by the form, as somebody else if it has to be, and stands on the first page.
    #[track_caller]
    pub fn sign_in(&self, site: &str, login: &str) {
        if self.url().starts_with(site) && self.count("nav.menu form button") > 0 {
            self.follow("nav.menu form button");
        }
        self.visit(&format!("{}/sign-in", site.trim_end_matches('/')));
        self.fill("#login_name", login);
        self.fill("#password", PASSWORD);
        self.follow("main button");
    }

    /// Types into a field, after emptying it.
    #[track_caller]
    pub fn fill(&self, css: &str, text: &str) {
        let filled = self.run(async {
            let field = self.client.find(Locator::Css(css)).await?;
            field.clear().await?;
            field.send_keys(text).await
        });
        filled.unwrap_or_else(|e| panic!("{css}: {e}\n{}", self.source()));
    }

    /// The page as the browser has it now.
    pub fn source(&self) -> String {
        self.run(self.client.source()).unwrap_or_else(|e| e.to_string())
    }

    /// Runs a script and gives what it returns.
    #[track_caller]
    pub fn script(&self, script: &str, arguments: Vec<Value>) -> Value {
        self.run(self.client.execute(script, arguments)).unwrap_or_else(|e| panic!("{e}"))
    }

    /// Light or dark, as the reader's machine would ask for.
    pub fn prefer(&self, scheme: &str) {
        self.devtools(
            "Emulation.setEmulatedMedia",
            json!({"features": [{"name": "prefers-color-scheme", "value": scheme}]}),
        );
    }

    /// Switches scripts off or on, from the next page on.
    pub fn allow_scripts(&self, allow: bool) {
        self.devtools("Emulation.setScriptExecutionDisabled", json!({"value": !allow}));
    }

    /// Keeps a picture of the whole page as `target/screenshots/<name>.png`.
    pub fn screenshot(&self, name: &str) {
        let taken =
            self.devtools("Page.captureScreenshot", json!({"captureBeyondViewport": true, "format": "png"}));
        let encoded = taken["data"].as_str().expect("a screenshot is text");
        let png = base64::engine::general_purpose::STANDARD.decode(encoded).expect("a screenshot is base64");
        std::fs::write(place::shelf("screenshots").join(format!("{name}.png")), png)
            .expect("it can be written");
    }

    /// Fails the test if the accessibility checker finds anything against WCAG 2.2 AA, or if the page scrolls sideways.
    #[track_caller]
    pub fn check_accessibility(&self) {
        let found = self.violations();
        assert!(found.is_empty(), "{}:\n{}", self.url(), found.join("\n"));
        let sideways = "return document.documentElement.scrollWidth - document.documentElement.clientWidth";
        assert_eq!(self.script(sideways, vec![]), 0, "{} scrolls sideways", self.url());
    }

    /// What the checker finds, one line an element.
    #[track_caller]
    pub fn violations(&self) -> Vec<String> {
        let checker = place::target().join("axe-core/package/axe.min.js");
        let checker = std::fs::read_to_string(&checker)
            .unwrap_or_else(|e| panic!("{}: {e}; `tests/run` fetches it", checker.display()));
        // through the debugger, since the page's own policy rightly lets no foreign script in
        self.devtools("Runtime.evaluate", json!({"expression": checker}));
        let run = json!({"awaitPromise": true, "returnByValue": true, "expression": AXE});
        let answer = self.devtools("Runtime.evaluate", run);
        let lines =
            answer["result"]["value"].as_array().unwrap_or_else(|| panic!("the checker failed: {answer}"));
        lines.iter().map(|line| line.as_str().unwrap_or_default().to_owned()).collect()
    }

    /// A command of Chromium's debugger.
    #[track_caller]
    pub fn devtools(&self, command: &str, parameters: Value) -> Value {
        let call = Devtools(json!({"cmd": command, "params": parameters}));
        self.run(self.client.issue_cmd(call)).unwrap_or_else(|e| panic!("{command}: {e}"))
    }
}

/// Best practices beyond WCAG are left to people's eyes.
const AXE: &str = r#"
axe.run(document, { runOnly: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"] }).then(found =>
  found.violations.flatMap(v => v.nodes.map(n => `${v.id}: ${v.help}: ${n.html} ${n.failureSummary}`)))
"#;

/// chromedriver's way to the debugger.
#[derive(Debug)]
struct Devtools(Value);

impl fantoccini::wd::WebDriverCompatibleCommand for Devtools {
    fn endpoint(&self, base: &Url, session: Option<&str>) -> Result<Url, <Url as std::str::FromStr>::Err> {
        base.join(&format!("session/{}/goog/cdp/execute", session.unwrap_or_default()))
    }

    fn method_and_body(&self, _: &Url) -> (Method, Option<String>) {
        (Method::POST, Some(self.0.to_string()))
    }
}

fn capabilities(screen: Screen) -> Capabilities {
    let (width, height) = screen.size();
    // no sandbox: Chromium refuses it to root, and the pages are our own; no /dev/shm: it is tiny in containers
    let mut arguments = vec![
        "--headless=new".to_owned(),
        "--no-sandbox".into(),
        "--disable-dev-shm-usage".into(),
        "--disable-gpu".into(),
        "--hide-scrollbars".into(),
        "--force-prefers-reduced-motion".into(),
        format!("--window-size={width},{height}"),
    ];
    if let Ok(more) = std::env::var("CHROMIUM_FLAGS") {
        arguments.extend(more.split_whitespace().map(str::to_owned));
    }
    let mut options = json!({"args": arguments});
    if screen == Screen::Phone {
        options["mobileEmulation"] =
            json!({"deviceMetrics": {"width": width, "height": height, "pixelRatio": 2.0}});
    }
    let mut capabilities = Capabilities::new();
    capabilities.insert("goog:chromeOptions".into(), options);
    capabilities
}

/// The driver's words end with the port it got.
fn port(said: &mut impl BufRead) -> Option<u16> {
    for line in said.lines() {
        let line = line.ok()?;
        if let Some((_, port)) = line.split_once("started successfully on port ") {
            return port.trim_end_matches('.').trim().parse().ok();
        }
    }
    None
}

impl Drop for Browser {
    fn drop(&mut self) {
        let client = self.client.clone();
        // best effort: the driver ends its window with itself
        let _ = self.runtime.block_on(client.close());
        let _ = self.driver.kill();
        let _ = self.driver.wait();
    }
}
