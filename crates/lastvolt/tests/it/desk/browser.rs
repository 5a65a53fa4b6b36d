//! A real browser that a test leads by the hand: Chromium behind its driver, told what to do in the
//! words of the WebDriver standard (W3C, WebDriver, level 2), which is JSON over HTTP.

use std::io::{BufRead, BufReader};
use std::path::PathBuf;
use std::process::{Child, Command, Stdio};
use std::sync::{Mutex, MutexGuard};
use std::time::{Duration, Instant};

use serde_json::{Value, json};

use super::http::Line;
use crate::program::{BROWSERS, Folder, found};

/// How long a page may take until it shows what it should, on a machine that has other tests to run.
const PATIENCE: Duration = Duration::from_secs(30);
/// How often is looked.
const LOOKS: Duration = Duration::from_millis(20);
/// Names by which the driver may be known.
const DRIVERS: [&str; 2] = ["chromedriver", "chromium.chromedriver"];
/// Key of an element in the answers of a driver (WebDriver, section 12.1).
const ELEMENT: &str = "element-6066-11e4-a52e-4f735466cecf";
/// One browser at a time: two at once only wait for each other, and for the tests beside them.
static TURN: Mutex<()> = Mutex::new(());

/// Keys that are no letters (WebDriver, section 17.4.2, table of normalised key values).
pub(crate) mod key {
    pub(crate) const TAB: char = '\u{e004}';
    pub(crate) const ENTER: char = '\u{e007}';
    pub(crate) const CONTROL: char = '\u{e009}';
    pub(crate) const SPACE: char = ' ';
    pub(crate) const END: char = '\u{e010}';
    pub(crate) const HOME: char = '\u{e011}';
    pub(crate) const LEFT: char = '\u{e012}';
    pub(crate) const UP: char = '\u{e013}';
    pub(crate) const RIGHT: char = '\u{e014}';
    pub(crate) const DOWN: char = '\u{e015}';
}

/// A browser with one window; closed when the value is gone, also when the test fails.
pub(crate) struct Browser {
    driver: Child,
    line: Line,
    session: String,
    profile: Folder,
    _turn: MutexGuard<'static, ()>,
}

impl Browser {
    /// Starts a browser; its folder has the name of the test.
    pub(crate) fn open(name: &str) -> Self {
        let turn = TURN
            .lock()
            .unwrap_or_else(std::sync::PoisonError::into_inner);
        let program = std::env::var_os("LASTVOLT_BROWSER").map(PathBuf::from);
        let program = program.or_else(|| found(&BROWSERS)).expect(
            "a browser: install the Debian package chromium (.ci/tools does), or name one in LASTVOLT_BROWSER",
        );
        let profile = Folder::new(&format!("{name}-browser"));
        let (driver, port) = driver();
        let mut browser = Self {
            driver,
            line: Line::open(port),
            session: String::new(),
            profile,
            _turn: turn,
        };
        let options = json!({
            "binary": program,
            "args": [
                "--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
                "--disable-background-networking", "--disable-component-update", "--disable-sync",
                "--disable-dev-shm-usage", "--hide-scrollbars", "--window-size=1280,1000",
                format!("--user-data-dir={}", browser.profile.arg()),
            ],
        });
        let wanted = json!({"capabilities": {"alwaysMatch": {
            "goog:chromeOptions": options,
            "goog:loggingPrefs": {"browser": "ALL"},
            "unhandledPromptBehavior": "ignore",
        }}});
        let made = browser
            .send("POST", "/session", &wanted)
            .unwrap_or_else(|e| panic!("no browser: {e}"));
        made["sessionId"]
            .as_str()
            .expect("a session")
            .clone_into(&mut browser.session);
        browser
    }

    /// One command of the standard: what the driver answers, or its error.
    fn send(&mut self, method: &str, path: &str, body: &Value) -> Result<Value, String> {
        let body = if method == "POST" {
            body.to_string()
        } else {
            String::new()
        };
        let text = format!(
            "{method} {path} HTTP/1.1\r\nHost: localhost\r\nContent-Type: application/json\r\nContent-Length: {}\r\n\r\n{body}",
            body.len()
        );
        self.line.send(text.as_bytes()).map_err(|e| e.to_string())?;
        let answer = self
            .line
            .answer()
            .map_err(|e| format!("{method} {path}: {e}"))?;
        let mut said: Value = serde_json::from_slice(&answer.body).map_err(|e| e.to_string())?;
        let value = said["value"].take();
        if answer.status == 200 {
            Ok(value)
        } else {
            Err(format!("{}: {}", value["error"], value["message"]))
        }
    }

    fn command(&mut self, method: &str, path: &str, body: &Value) -> Value {
        let path = format!("/session/{}{path}", self.session);
        self.send(method, &path, body)
            .unwrap_or_else(|e| panic!("{method} {path} {body}: {e}"))
    }

    /// A command of the browser's own, as it has for those who build pages.
    pub(crate) fn inner(&mut self, name: &str, with: &Value) -> Value {
        self.command(
            "POST",
            "/goog/cdp/execute",
            &json!({"cmd": name, "params": with}),
        )
    }

    /// Opens an address.
    pub(crate) fn goto(&mut self, address: &str) {
        self.command("POST", "/url", &json!({"url": address}));
    }

    /// The address of the page.
    pub(crate) fn address(&mut self) -> String {
        self.command("GET", "/url", &Value::Null)
            .as_str()
            .expect("an address")
            .to_owned()
    }

    /// One step back in the history.
    pub(crate) fn back(&mut self) {
        self.command("POST", "/back", &json!({}));
    }

    /// One step forward in the history.
    pub(crate) fn forward(&mut self) {
        self.command("POST", "/forward", &json!({}));
    }

    /// Loads the page again.
    pub(crate) fn reload(&mut self) {
        self.command("POST", "/refresh", &json!({}));
    }

    /// What a script returns.
    pub(crate) fn run(&mut self, script: &str) -> Value {
        self.command(
            "POST",
            "/execute/sync",
            &json!({"script": script, "args": []}),
        )
    }

    /// The value of an expression of the page.
    pub(crate) fn value(&mut self, expression: &str) -> Value {
        self.run(&format!("return ({expression});"))
    }

    /// Waits until an expression of the page is true; its value.
    pub(crate) fn wait(&mut self, expression: &str) -> Value {
        let until = Instant::now() + PATIENCE;
        loop {
            let value = self.value(expression);
            if !matches!(value, Value::Null | Value::Bool(false)) && value != "" && value != 0 {
                return value;
            }
            if until < Instant::now() {
                let page = self.value("document.body.innerText");
                panic!(
                    "never true: {expression}\nat {}\nlog {:#?}\n{page}",
                    self.address(),
                    self.log()
                );
            }
            std::thread::sleep(LOOKS);
        }
    }

    /// The text of an element, once there is one.
    pub(crate) fn text(&mut self, selector: &str) -> String {
        let one = quoted(selector);
        let text = self.wait(&format!(
            "document.querySelector({one}) && [document.querySelector({one}).textContent.trim()]"
        ));
        text[0].as_str().expect("a text").to_owned()
    }

    fn element(&mut self, selector: &str) -> String {
        let one = quoted(selector);
        self.wait(&format!("document.querySelector({one}) !== null"));
        let found = self.command(
            "POST",
            "/element",
            &json!({"using": "css selector", "value": selector}),
        );
        found[ELEMENT].as_str().expect("an element").to_owned()
    }

    /// Clicks the middle of an element; what lies over it is an error. A region that is just being
    /// renewed is looked up again.
    pub(crate) fn click(&mut self, selector: &str) {
        let one = quoted(selector);
        self.wait(&format!("document.querySelector({one}) !== null"));
        // Whoever clicks has first brought it into sight, clear of bars that stay.
        self.run(&format!(
            "document.querySelector({one})?.scrollIntoView({{ block: 'center' }});"
        ));
        self.on(selector, "click", &json!({}));
    }

    /// Puts a text in the place of what a field says, as hands do: all is selected and typed over.
    pub(crate) fn refill(&mut self, selector: &str, text: &str) {
        let one = quoted(selector);
        self.wait(&format!("document.querySelector({one}) !== null"));
        self.run(&format!("document.querySelector({one}).focus();"));
        self.press_with(key::CONTROL, 'a');
        self.press(&text.chars().collect::<Vec<_>>());
        self.wait(&format!(
            "document.querySelector({one})?.value === {}",
            quoted(text)
        ));
    }

    fn on(&mut self, selector: &str, what: &str, with: &Value) {
        let until = Instant::now() + PATIENCE;
        loop {
            let element = self.element(selector);
            let path = format!("/session/{}/element/{element}/{what}", self.session);
            match self.send("POST", &path, with) {
                Ok(_) => return,
                Err(why) if why.contains("stale element") && Instant::now() < until => {}
                Err(why) => panic!("{what} {selector}: {why}\nat {}", self.address()),
            }
        }
    }

    /// Presses keys, one after the other, on whatever has the focus.
    pub(crate) fn press(&mut self, keys: &[char]) {
        let mut steps = Vec::new();
        for key in keys {
            steps.push(json!({"type": "keyDown", "value": key}));
            steps.push(json!({"type": "keyUp", "value": key}));
        }
        self.keyboard(&Value::Array(steps));
    }

    /// Presses a key while another is held.
    pub(crate) fn press_with(&mut self, held: char, key: char) {
        self.keyboard(&json!([
            {"type": "keyDown", "value": held}, {"type": "keyDown", "value": key},
            {"type": "keyUp", "value": key}, {"type": "keyUp", "value": held},
        ]));
    }

    fn keyboard(&mut self, steps: &Value) {
        self.command(
            "POST",
            "/actions",
            &json!({"actions": [{"type": "key", "id": "keys", "actions": steps}]}),
        );
    }

    /// Drags from one place of the window to another, in steps, as a hand does.
    pub(crate) fn drag(&mut self, from: (f64, f64), to: (f64, f64), steps: u32) {
        let mut moves = vec![
            json!({"type": "pointerMove", "duration": 0, "x": from.0.round(), "y": from.1.round()}),
            json!({"type": "pointerDown", "button": 0}),
        ];
        for at in 1..=steps {
            let share = f64::from(at) / f64::from(steps);
            let (x, y) = (
                from.0 + (to.0 - from.0) * share,
                from.1 + (to.1 - from.1) * share,
            );
            moves.push(
                json!({"type": "pointerMove", "duration": 15, "x": x.round(), "y": y.round()}),
            );
        }
        moves.push(json!({"type": "pointerUp", "button": 0}));
        self.command("POST", "/actions", &json!({"actions": [{
            "type": "pointer", "id": "hand", "parameters": {"pointerType": "mouse"}, "actions": moves,
        }]}));
    }

    /// Where an element lies in the window: left, top, width, height.
    pub(crate) fn place(&mut self, selector: &str) -> [f64; 4] {
        let one = quoted(selector);
        self.element(selector);
        let script = format!(
            "const e = document.querySelector({one}); e.scrollIntoView({{block: 'center'}}); \
             const b = e.getBoundingClientRect(); return [b.x, b.y, b.width, b.height];"
        );
        let found = self.run(&script);
        [0, 1, 2, 3].map(|at| found[at].as_f64().expect("a number"))
    }

    /// Opens another window and goes there; the handles of the one before and of the new one.
    pub(crate) fn another(&mut self) -> (String, String) {
        let here = self.command("GET", "/window", &Value::Null);
        let made = self.command("POST", "/window/new", &json!({"type": "window"}));
        let (here, there) = (
            here.as_str().expect("a window"),
            made["handle"].as_str().expect("a window"),
        );
        let both = (here.to_owned(), there.to_owned());
        self.switch(&both.1);
        both
    }

    /// Goes to a window.
    pub(crate) fn switch(&mut self, window: &str) {
        self.command("POST", "/window", &json!({"handle": window}));
    }

    /// Shows the page on a screen of this size, in light or in dark.
    pub(crate) fn screen(&mut self, width: u32, height: u32, dark: bool) {
        let size =
            json!({"width": width, "height": height, "deviceScaleFactor": 1, "mobile": false});
        self.inner("Emulation.setDeviceMetricsOverride", &size);
        let scheme = if dark { "dark" } else { "light" };
        let features = json!([{"name": "prefers-color-scheme", "value": scheme}]);
        self.inner("Emulation.setEmulatedMedia", &json!({"features": features}));
    }

    /// What the console of the browser has said since it was last asked.
    pub(crate) fn log(&mut self) -> Vec<String> {
        let said = self.command("POST", "/se/log", &json!({"type": "browser"}));
        let lines = said.as_array().into_iter().flatten();
        lines
            .map(|line| format!("{}: {}", line["level"], line["message"]))
            .collect()
    }

    /// Fails where a script failed, something was refused or was not found.
    pub(crate) fn is_clean(&mut self) {
        self.is_clean_but(&[]);
    }

    /// The same, but for what is part of the journey, by words of it.
    pub(crate) fn is_clean_but(&mut self, expected: &[&str]) {
        let mut log = self.log();
        log.retain(|line| !expected.iter().any(|word| line.contains(word)));
        assert!(log.is_empty(), "the console says:\n{}", log.join("\n"));
    }
}

impl Drop for Browser {
    fn drop(&mut self) {
        let path = format!("/session/{}", self.session);
        // A driver that is gone has taken its browser along, or leaves it to the sweep below.
        let _ = self.send("DELETE", &path, &Value::Null);
        let _ = self.driver.kill();
        let _ = self.driver.wait();
        sweep(self.profile.arg());
    }
}

/// Ends what still runs on a folder that is this test's own.
fn sweep(profile: &str) {
    let Ok(all) = std::fs::read_dir("/proc") else {
        return;
    };
    for entry in all.flatten() {
        let name = entry.file_name().to_string_lossy().into_owned();
        let is_process = name.chars().all(|c| c.is_ascii_digit());
        let line = std::fs::read(entry.path().join("cmdline")).unwrap_or_default();
        if is_process
            && String::from_utf8_lossy(&line).contains(&format!("--user-data-dir={profile}"))
        {
            // It may have ended meanwhile.
            let _ = Command::new("kill")
                .args(["-KILL", &name])
                .stderr(Stdio::null())
                .status();
        }
    }
}

/// Starts the driver at a port that it chooses.
fn driver() -> (Child, u16) {
    let named = std::env::var_os("LASTVOLT_DRIVER").map(PathBuf::from);
    let program = named.or_else(|| found(&DRIVERS)).expect(
        "a driver of the browser: install the Debian package chromium-driver (.ci/tools does), or name one in LASTVOLT_DRIVER",
    );
    let mut command = Command::new(program);
    command
        .arg("--port=0")
        .stdin(Stdio::null())
        .stdout(Stdio::piped())
        .stderr(Stdio::null());
    let mut child = command.spawn().expect("the driver starts");
    let mut said = BufReader::new(child.stdout.take().expect("its output"));
    let port = port(&mut said);
    // Whoever writes into a pipe that nobody reads is stopped in the end.
    std::thread::spawn(move || std::io::copy(&mut said, &mut std::io::sink()));
    (child, port)
}

/// The port that the driver says.
fn port(said: &mut impl BufRead) -> u16 {
    loop {
        let mut line = String::new();
        let read = said.read_line(&mut line).expect("its words");
        assert!(0 < read, "the driver ends without a port");
        let port = line.split("successfully on port ").nth(1);
        if let Some(port) = port.and_then(|p| p.trim_end_matches(['.', '\n']).parse().ok()) {
            return port;
        }
    }
}

/// A text as a script writes it.
pub(crate) fn quoted(text: &str) -> String {
    Value::from(text).to_string()
}
