//! A browser without a window, spoken to over its debugging protocol.
//!
//! Knows: how to start it, open a page, ask it something. Must not know: what a report is.
//! Promises: the browser is gone when this is dropped; where there is none, [`Browser::start`] says so and gives `None`.

use std::io::{BufRead, BufReader};
use std::net::TcpStream;
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

use serde_json::{Value, json};
use tempfile::TempDir;
use tungstenite::stream::MaybeTlsStream;
use tungstenite::{Message, WebSocket};

/// Where a browser may be found, after the variable `BROWSER_BIN`.
const NAMES: [&str; 4] = [
    "chromium",
    "chromium-browser",
    "google-chrome",
    "google-chrome-stable",
];

/// Longer than any answer takes on a busy computer.
const PATIENCE: Duration = Duration::from_secs(120);

pub struct Browser {
    process: Child,
    socket: WebSocket<MaybeTlsStream<TcpStream>>,
    session: String,
    number: u64,
    /// What the page complained of: errors of scripts, failed requests.
    pub complaints: Vec<String>,
    /// Events of a trace.
    pub trace: Vec<Value>,
    _profile: TempDir,
}

impl Browser {
    /// Starts a browser, if there is one.
    pub fn start() -> Option<Self> {
        let named = std::env::var("BROWSER_BIN").ok();
        let names = named.iter().map(String::as_str).chain(NAMES);
        let profile = tempfile::tempdir().expect("a temporary folder");
        let mut process = names.into_iter().find_map(|name| {
            Command::new(name)
                .args([
                    "--headless=new",
                    "--no-sandbox",
                    "--disable-gpu",
                    "--disable-dev-shm-usage",
                    "--hide-scrollbars",
                ])
                .args([
                    "--no-first-run",
                    "--disable-background-networking",
                    "--remote-debugging-port=0",
                ])
                .arg(format!("--user-data-dir={}", profile.path().display()))
                .arg("about:blank")
                .stdin(Stdio::null())
                .stdout(Stdio::null())
                .stderr(Stdio::piped())
                .spawn()
                .ok()
        });
        let Some(process) = process.take() else {
            eprintln!("skipped: no browser; install chromium, or name one in BROWSER_BIN");
            return None;
        };
        Some(Self::connect(process, profile))
    }

    fn connect(mut process: Child, profile: TempDir) -> Self {
        let errors = process.stderr.take().expect("it is piped");
        let mut lines = BufReader::new(errors).lines();
        let address = lines
            .by_ref()
            .map_while(Result::ok)
            .find_map(|line| Some(line.split_once("DevTools listening on ")?.1.to_owned()))
            .expect("the browser tells its address");
        // The rest is read, or the browser would wait for somebody to read it.
        std::thread::spawn(move || lines.for_each(drop));
        let (socket, _) = tungstenite::connect(address).expect("the browser listens");
        if let MaybeTlsStream::Plain(stream) = socket.get_ref() {
            stream
                .set_read_timeout(Some(PATIENCE))
                .expect("a time above nothing");
        }
        let mut browser = Self {
            process,
            socket,
            session: String::new(),
            number: 0,
            complaints: Vec::new(),
            trace: Vec::new(),
            _profile: profile,
        };
        let target = browser.call("Target.createTarget", json!({"url": "about:blank"}));
        let attached = browser.call(
            "Target.attachToTarget",
            json!({"targetId": target["targetId"], "flatten": true}),
        );
        browser.session = attached["sessionId"]
            .as_str()
            .expect("a session")
            .to_owned();
        for domain in [
            "Page.enable",
            "Runtime.enable",
            "Log.enable",
            "Network.enable",
        ] {
            browser.call(domain, json!({}));
        }
        browser
    }

    /// Calls a method and waits for its answer.
    pub fn call(&mut self, method: &str, parameters: Value) -> Value {
        self.number += 1;
        let mut message = json!({"id": self.number, "method": method, "params": parameters});
        if !self.session.is_empty() {
            message["sessionId"] = json!(self.session);
        }
        let sent = self.socket.send(Message::text(message.to_string()));
        sent.expect("the browser is there");
        let number = self.number;
        let answer = self.wait(|message| message["id"] == number);
        assert!(answer["error"].is_null(), "{method}: {}", answer["error"]);
        answer["result"].clone()
    }

    /// Waits for a message.
    fn wait(&mut self, wanted: impl Fn(&Value) -> bool) -> Value {
        let begun = Instant::now();
        loop {
            assert!(begun.elapsed() < PATIENCE, "the browser does not answer");
            let message = self.socket.read().expect("the browser is there");
            let Ok(text) = message.to_text() else {
                continue;
            };
            let Ok(message) = serde_json::from_str::<Value>(text) else {
                continue;
            };
            self.note(&message);
            if wanted(&message) {
                return message;
            }
        }
    }

    /// Keeps what a page complains of, and what is traced.
    fn note(&mut self, message: &Value) {
        let parameters = &message["params"];
        match message["method"].as_str() {
            Some("Runtime.exceptionThrown") => self.complaints.push(parameters.to_string()),
            Some("Runtime.consoleAPICalled") if parameters["type"] != "log" => {
                self.complaints.push(parameters.to_string())
            }
            Some("Log.entryAdded") if parameters["entry"]["level"] == "error" => {
                self.complaints.push(parameters.to_string())
            }
            Some("Page.javascriptDialogOpening") => {
                self.complaints.push(format!("a dialog: {parameters}"))
            }
            Some("Network.requestWillBeSent") => {
                let address = parameters["request"]["url"].as_str().unwrap_or_default();
                if !address.starts_with("file:") && !address.starts_with("data:") {
                    self.complaints.push(format!("asks for {address}"));
                }
            }
            Some("Tracing.dataCollected") => {
                self.trace
                    .extend(parameters["value"].as_array().cloned().unwrap_or_default());
            }
            _ => {}
        }
    }

    /// Sets the width of the window, px.
    pub fn width(&mut self, width: u32) {
        let size =
            json!({"width": width, "height": 900, "deviceScaleFactor": 1, "mobile": width < 500});
        self.call("Emulation.setDeviceMetricsOverride", size);
    }

    /// Opens a file and waits until it is there.
    pub fn open(&mut self, path: &Path) {
        let address = format!("file://{}", path.display());
        self.call("Page.navigate", json!({"url": address}));
        self.wait(|message| message["method"] == "Page.loadEventFired");
    }

    /// What an expression of JavaScript is worth.
    pub fn ask(&mut self, expression: &str) -> Value {
        let asked = json!({"expression": expression, "returnByValue": true, "awaitPromise": true});
        let answer = self.call("Runtime.evaluate", asked);
        assert!(
            answer["exceptionDetails"].is_null(),
            "{expression}: {answer}"
        );
        answer["result"]["value"].clone()
    }

    /// Presses a key.
    pub fn press(&mut self, key: &str) {
        let code = match key {
            "ArrowLeft" => 37,
            "ArrowUp" => 38,
            "ArrowRight" => 39,
            "ArrowDown" => 40,
            "Tab" => 9,
            _ => u32::from(key.to_uppercase().bytes().next().unwrap_or(0)),
        };
        for kind in ["keyDown", "keyUp"] {
            let mut event = json!({"type": kind, "key": key, "windowsVirtualKeyCode": code});
            if key.len() == 1 && kind == "keyDown" {
                event["text"] = json!(key);
            }
            self.call("Input.dispatchKeyEvent", event);
        }
    }

    /// Moves the mouse to a place in the window.
    pub fn point(&mut self, x: f64, y: f64) {
        self.call(
            "Input.dispatchMouseEvent",
            json!({"type": "mouseMoved", "x": x, "y": y}),
        );
    }

    /// The page as a PDF, with its headings as an outline.
    pub fn pdf(&mut self) -> Vec<u8> {
        let answer = self.call(
            "Page.printToPDF",
            json!({"preferCSSPageSize": true, "printBackground": true, "generateTaggedPDF": true, "generateDocumentOutline": true}),
        );
        decoded(answer["data"].as_str().expect("data"))
    }

    /// The longest task of the page's main thread while something is done, ms.
    pub fn longest_task(&mut self, doing: impl FnOnce(&mut Self)) -> f64 {
        let session = std::mem::take(&mut self.session);
        self.trace.clear();
        let categories = json!({"traceConfig": {"includedCategories": ["toplevel", "devtools.timeline", "disabled-by-default-devtools.timeline"]}});
        self.call("Tracing.start", categories);
        self.session.clone_from(&session);
        doing(self);
        self.session.clear();
        self.call("Tracing.end", json!({}));
        self.wait(|message| message["method"] == "Tracing.tracingComplete");
        self.session = session;
        let renderers: Vec<(Value, Value)> = self
            .trace
            .iter()
            .filter(|event| {
                event["name"] == "thread_name" && event["args"]["name"] == "CrRendererMain"
            })
            .map(|event| (event["pid"].clone(), event["tid"].clone()))
            .collect();
        let tasks = self.trace.iter().filter(|event| {
            let name = event["name"].as_str().unwrap_or_default();
            name.ends_with("RunTask")
                && renderers.contains(&(event["pid"].clone(), event["tid"].clone()))
        });
        let (mut longest, mut seen) = (0.0_f64, 0);
        for task in tasks {
            seen += 1;
            longest = longest.max(task["dur"].as_f64().unwrap_or(0.0) / 1000.0);
        }
        assert!(seen > 0, "the trace has no task of the page");
        longest
    }
}

impl Drop for Browser {
    fn drop(&mut self) {
        let _ = self.process.kill();
        let _ = self.process.wait();
    }
}

/// Base 64, RFC 4648.
fn decoded(text: &str) -> Vec<u8> {
    let digit = |byte: u8| match byte {
        b'A'..=b'Z' => Some(byte - b'A'),
        b'a'..=b'z' => Some(byte - b'a' + 26),
        b'0'..=b'9' => Some(byte - b'0' + 52),
        b'+' => Some(62),
        b'/' => Some(63),
        _ => None,
    };
    let digits: Vec<u8> = text.bytes().filter_map(digit).collect();
    digits
        .chunks(4)
        .flat_map(|four| {
            let word = (0..4).fold(0u32, |word, at| {
                word << 6 | u32::from(four.get(at).copied().unwrap_or(0))
            });
            let bytes = word.to_be_bytes();
            bytes[1..four.len()].to_vec()
        })
        .collect()
}
