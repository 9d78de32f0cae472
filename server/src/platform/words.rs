//! Text for display in runs: scientific names in italics, codes that must not break. Knows no area.

/// How a run of text is set.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum RunKind {
    /// As the text around it.
    Plain,
    /// A scientific name: italic serif.
    Name,
    /// Bold.
    Strong,
    /// A brood's code, or a number with its unit: never broken over lines.
    Code,
}

impl RunKind {
    /// What the template asks for.
    pub fn as_str(self) -> &'static str {
        match self {
            Self::Plain => "plain",
            Self::Name => "name",
            Self::Strong => "strong",
            Self::Code => "code",
        }
    }
}

/// A piece of text set one way.
#[derive(Clone, Debug)]
pub struct Run {
    /// The text, unescaped.
    pub text: String,
    /// How it is set.
    pub kind: RunKind,
}

/// A sentence or name made of runs.
#[derive(Clone, Debug, Default)]
pub struct Words {
    /// In reading order.
    pub runs: Vec<Run>,
}

/// Parts of a scientific name that are not set in italics.
const UPRIGHT: [&str; 9] = ["cf.", "aff.", "sp.", "spp.", "ssp.", "subsp.", "var.", "×", "x"];

impl Words {
    /// Plain text.
    pub fn plain(text: impl Into<String>) -> Self {
        Self::default().and(RunKind::Plain, text)
    }

    /// A scientific name; "cf.", "aff.", "sp." and the like stand upright. Not for trade names: those are plain.
    pub fn species(name: &str) -> Self {
        let mut words = Self::default();
        for (at, word) in name.split_whitespace().enumerate() {
            let kind = if UPRIGHT.contains(&word) { RunKind::Plain } else { RunKind::Name };
            let space = if at == 0 { "" } else { " " };
            match words.runs.last_mut() {
                Some(last) if last.kind == kind => {
                    last.text.push_str(space);
                    last.text.push_str(word);
                }
                // a space between runs belongs to the upright one, so that no italic space is drawn
                Some(last) if last.kind == RunKind::Plain => {
                    last.text.push_str(space);
                    words.runs.push(Run { text: word.to_owned(), kind });
                }
                _ => words.runs.push(Run { text: format!("{space}{word}"), kind }),
            }
        }
        words
    }

    /// The same with another run behind it.
    pub fn and(mut self, kind: RunKind, text: impl Into<String>) -> Self {
        self.runs.push(Run { text: text.into(), kind });
        self
    }

    /// The same with other words behind it, set as they are.
    pub fn then(mut self, words: Self) -> Self {
        self.runs.extend(words.runs);
        self
    }

    /// The same with a capital letter at its beginning.
    pub fn capital(mut self) -> Self {
        if let Some(first) = self.runs.iter_mut().find(|run| !run.text.is_empty()) {
            let mut letters = first.text.chars();
            first.text = letters.next().into_iter().flat_map(char::to_uppercase).chain(letters).collect();
        }
        self
    }

    /// In quotation marks; those that stand within become single ones.
    pub fn quoted(self) -> Self {
        let within = |run: Run| Run {
            text: run.text.replace('\u{201c}', "\u{2018}").replace('\u{201d}', "\u{2019}"),
            ..run
        };
        let runs = self.runs.into_iter().map(within).collect();
        Self::plain("\u{201c}").then(Self { runs }).and(RunKind::Plain, "\u{201d}")
    }

    /// The text without its setting, for titles and labels.
    pub fn text(&self) -> String {
        self.runs.iter().map(|run| run.text.as_str()).collect()
    }
}

impl From<String> for Words {
    fn from(text: String) -> Self {
        Self::plain(text)
    }
}

impl From<&str> for Words {
    fn from(text: &str) -> Self {
        Self::plain(text)
    }
}
