//! Runs the program as a person or a build server would, on the example or on families of its own.

use std::env;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

use serde_json::Value;

/// Programs that may be the browser.
pub(crate) const BROWSERS: [&str; 3] = ["chromium", "chromium-browser", "google-chrome"];

/// What a run of the program gave.
pub(crate) struct Ran {
    /// Exit status.
    pub(crate) status: i32,
    /// Standard output.
    pub(crate) out: String,
    /// Standard error.
    pub(crate) err: String,
}

impl Ran {
    /// Standard output as the one JSON document that it is.
    pub(crate) fn json(&self) -> Value {
        serde_json::from_str(&self.out)
            .unwrap_or_else(|e| panic!("not JSON ({e}):\n{}\n{}", self.out, self.err))
    }

    /// Fails with all that was said where the status is another.
    pub(crate) fn expect(self, status: i32) -> Self {
        assert_eq!(
            self.status, status,
            "stdout:\n{}\nstderr:\n{}",
            self.out, self.err
        );
        self
    }
}

/// The program with these arguments.
pub(crate) fn command(args: &[&str]) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_lastvolt"));
    command.args(args).stdin(Stdio::null());
    command
}

/// Runs the program to its end.
pub(crate) fn run(args: &[&str]) -> Ran {
    let output = command(args).output().expect("the program starts");
    let ran = Ran {
        status: output.status.code().expect("an exit status"),
        out: String::from_utf8(output.stdout).expect("UTF-8"),
        err: String::from_utf8(output.stderr).expect("UTF-8"),
    };
    for text in [&ran.out, &ran.err] {
        assert!(!text.contains('\u{1b}'), "colour in a pipe: {text:?}");
        assert!(
            !text.contains("panicked"),
            "a panic reached the user: {text}"
        );
    }
    ran
}

/// A program of one of these names, from the path.
pub(crate) fn found(names: &[&str]) -> Option<PathBuf> {
    let path = env::var_os("PATH")?;
    let folders: Vec<PathBuf> = env::split_paths(&path).collect();
    let all = names
        .iter()
        .flat_map(|name| folders.iter().map(move |f| f.join(name)));
    all.into_iter().find(|file| file.is_file())
}

/// The folder of the example family.
pub(crate) fn example() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../../examples/frost-beacon")
}

/// The example's folder as an argument.
pub(crate) fn example_arg() -> String {
    example().to_str().expect("UTF-8").to_owned()
}

/// A new empty folder for one test, gone when the value is.
pub(crate) struct Folder(PathBuf);

impl Folder {
    /// A folder of this name, unique to the test that names it.
    pub(crate) fn new(name: &str) -> Self {
        let path = Path::new(env!("CARGO_TARGET_TMPDIR")).join(name);
        if path.exists() {
            fs::remove_dir_all(&path).expect("the folder of an earlier run goes away");
        }
        fs::create_dir_all(&path).expect("a folder");
        Self(path)
    }

    /// A folder with a family of one tiny coin board.
    pub(crate) fn tiny(name: &str) -> Self {
        let folder = Self::new(name);
        folder.write("family.toml", FAMILY);
        folder.write("coin.toml", COIN);
        folder
    }

    /// Its path.
    pub(crate) fn path(&self) -> &Path {
        &self.0
    }

    /// Its path as an argument.
    pub(crate) fn arg(&self) -> &str {
        self.0.to_str().expect("UTF-8")
    }

    /// Writes a file into it.
    pub(crate) fn write(&self, name: &str, text: impl AsRef<[u8]>) {
        fs::write(self.0.join(name), text).expect("a file of the test");
    }

    /// Names of what is in it, in order.
    pub(crate) fn names(&self) -> Vec<String> {
        let entries = fs::read_dir(&self.0).expect("the folder");
        let name = |e: std::io::Result<fs::DirEntry>| {
            e.expect("an entry")
                .file_name()
                .to_string_lossy()
                .into_owned()
        };
        let mut names: Vec<String> = entries.map(name).collect();
        names.sort();
        names
    }
}

impl Drop for Folder {
    fn drop(&mut self) {
        // What cannot be removed is removed by the next run.
        let _ = fs::remove_dir_all(&self.0);
    }
}

/// A family that is small enough to read at a glance.
pub(crate) const FAMILY: &str = r#"[family]
name = "Tiny"
boards = ["coin.toml"]

[requirement]
life = "3 months"
ambient = { low = "0 degC", usual = "20 degC", high = "40 degC" }

[connector]
pins = ["VDD", "GND"]

[loads.radio]
pins = { plus = "VDD", minus = "GND" }
working = ["1.8 V", "3.6 V"]
survives = "3.9 V"
[loads.radio.states]
sleep = "3 uA"
send = "9 mA"

[profiles.day]
base = { radio = "sleep" }
[[profiles.day.tasks]]
name = "call"
every = "60 s"
steps = [{ for = "4 ms", set = { radio = "send" } }]

[models.tiny-cell]
kind = "cell"
chemistry = "lithium manganese dioxide"
charge = "100 mAh"
open_circuit = [[0, "3.2 V"], [0.1, "3.0 V"], [0.8, "2.9 V"], [1, "2.0 V"]]
resistance = [[0, "15 ohm"], [0.8, "20 ohm"], [1, "60 ohm"]]
source = "invented for a test"
"#;

/// Its board.
pub(crate) const COIN: &str = r#"title = "A coin cell and a switch"

[parts.BT1]
kind = "cell"
model = "tiny-cell"
holder = { contact = "50 mohm", reversed = "blocked" }
pins = { plus = "BAT", minus = "GND" }

[parts.S1]
kind = "switch"
pins = { 1 = "BAT", 2 = "VDD" }
positions = { on = [["1", "2"]], off = [] }
"#;
