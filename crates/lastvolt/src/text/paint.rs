//! Colour on a terminal: never the only sign, never in a pipe, never against `NO_COLOR`.

use std::io::IsTerminal;

use anstyle::{AnsiColor, Style};

/// Whether and how to colour one stream.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Paint {
    /// Text alone.
    Plain,
    /// With colour.
    Colour,
}

/// What a piece of text is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Tone {
    /// A heading.
    Heading,
    /// Something that must stop a build.
    Stop,
    /// Something to put right.
    Fix,
    /// Something worth knowing.
    Note,
    /// Something of less weight.
    Quiet,
}

impl Paint {
    /// What standard output can show.
    pub(crate) fn for_stdout() -> Self {
        Self::for_stream(std::io::stdout().is_terminal())
    }

    /// What standard error can show.
    pub(crate) fn for_stderr() -> Self {
        Self::for_stream(std::io::stderr().is_terminal())
    }

    fn for_stream(terminal: bool) -> Self {
        let refused = std::env::var_os("NO_COLOR").is_some_and(|v| !v.is_empty());
        let dumb = std::env::var_os("TERM").is_some_and(|v| v == "dumb");
        if terminal && !refused && !dumb {
            Self::Colour
        } else {
            Self::Plain
        }
    }

    /// The text in its tone.
    pub(crate) fn tone(self, tone: Tone, text: &str) -> String {
        if self == Self::Plain {
            return text.to_owned();
        }
        let style = match tone {
            Tone::Heading => Style::new().bold(),
            Tone::Stop => Style::new().bold().fg_color(Some(AnsiColor::Red.into())),
            Tone::Fix => Style::new().bold().fg_color(Some(AnsiColor::Yellow.into())),
            Tone::Note => Style::new().fg_color(Some(AnsiColor::Cyan.into())),
            Tone::Quiet => Style::new().dimmed(),
        };
        format!("{style}{text}{style:#}")
    }
}
