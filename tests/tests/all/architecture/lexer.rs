//! Rust as words and punctuation, each with its line. Comments and what strings and numbers say are left out, so that
//! a rule can look for a word without finding it where people only talk about it.

use std::iter::Peekable;
use std::str::Chars;

/// What stands for a string, a character or a number.
pub const LITERAL: &str = "…";

#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Token {
    /// A word, a lifetime, one character of punctuation, or [`LITERAL`].
    pub text: String,
    pub line: usize,
}

/// The tokens of a source.
pub fn tokens(source: &str) -> Vec<Token> {
    let mut lexer = Lexer { rest: source.chars().peekable(), line: 1, tokens: Vec::new() };
    while lexer.one() {}
    lexer.tokens
}

struct Lexer<'a> {
    rest: Peekable<Chars<'a>>,
    line: usize,
    tokens: Vec<Token>,
}

impl Lexer<'_> {
    fn next(&mut self) -> Option<char> {
        let next = self.rest.next();
        if next == Some('\n') {
            self.line += 1;
        }
        next
    }

    /// What comes, without taking it.
    fn ahead(&self, skip: usize) -> Option<char> {
        self.rest.clone().nth(skip)
    }

    fn push(&mut self, text: impl Into<String>, line: usize) {
        self.tokens.push(Token { text: text.into(), line });
    }

    /// Takes one token, comment or space; whether there was one.
    fn one(&mut self) -> bool {
        let line = self.line;
        let Some(first) = self.next() else { return false };
        match first {
            '/' if self.ahead(0) == Some('/') => {
                while self.ahead(0).is_some_and(|c| c != '\n') && self.next().is_some() {}
            }
            '/' if self.ahead(0) == Some('*') => self.block_comment(),
            '"' => {
                self.string();
                self.push(LITERAL, line);
            }
            '\'' => self.quote(line),
            c if c.is_ascii_digit() => {
                self.number();
                self.push(LITERAL, line);
            }
            c if is_word(c) => self.word(c, line),
            c if c.is_whitespace() => {}
            c => self.push(c, line),
        }
        true
    }

    fn block_comment(&mut self) {
        let mut depth = 1;
        self.next();
        while depth > 0 {
            match (self.next(), self.ahead(0)) {
                (Some('*'), Some('/')) => depth -= 1,
                (Some('/'), Some('*')) => depth += 1,
                (None, _) => return,
                _ => continue,
            }
            self.next();
        }
    }

    /// To the end of a string whose first quote is taken.
    fn string(&mut self) {
        loop {
            match self.next() {
                Some('\\') => {
                    self.next();
                }
                Some('"') | None => return,
                Some(_) => {}
            }
        }
    }

    /// A raw string, at its first `#` or quote.
    fn raw_string(&mut self) {
        let mut hashes = 0;
        while self.ahead(0) == Some('#') {
            self.next();
            hashes += 1;
        }
        self.next();
        while let Some(c) = self.next() {
            if c == '"' && (0..hashes).all(|n| self.ahead(n) == Some('#')) {
                for _ in 0..hashes {
                    self.next();
                }
                return;
            }
        }
    }

    /// A character, or a lifetime.
    fn quote(&mut self, line: usize) {
        if self.ahead(0) == Some('\\') || self.ahead(1) == Some('\'') {
            if self.next() == Some('\\') {
                self.next();
            }
            while self.next().is_some_and(|c| c != '\'') {}
            self.push(LITERAL, line);
        } else {
            let mut name = String::from('\'');
            self.rest_of_word(&mut name);
            self.push(name, line);
        }
    }

    fn number(&mut self) {
        let mut digits = String::new();
        self.rest_of_word(&mut digits);
        // `1.5`, but not `1..2` nor `1.max(2)`
        if self.ahead(0) == Some('.') && self.ahead(1).is_some_and(|c| c.is_ascii_digit()) {
            self.next();
            self.rest_of_word(&mut digits);
        }
    }

    fn word(&mut self, first: char, line: usize) {
        let mut word = String::from(first);
        self.rest_of_word(&mut word);
        let (next, after) = (self.ahead(0), self.ahead(1));
        match word.as_str() {
            "r" | "br" | "cr"
                if next == Some('"') || (next == Some('#') && matches!(after, Some('"' | '#'))) =>
            {
                self.raw_string();
                self.push(LITERAL, line);
            }
            "b" | "c" if next == Some('"') => {
                self.next();
                self.string();
                self.push(LITERAL, line);
            }
            "b" if next == Some('\'') => {
                self.next();
                self.quote(line);
            }
            // a raw identifier is its name
            "r" if next == Some('#') => {
                self.next();
            }
            _ => self.push(word, line),
        }
    }

    fn rest_of_word(&mut self, word: &mut String) {
        while let Some(c) = self.ahead(0).filter(|c| is_word(*c)) {
            word.push(c);
            self.next();
        }
    }
}

fn is_word(c: char) -> bool {
    c == '_' || c.is_alphanumeric()
}

#[test]
fn words_are_told_from_what_is_only_said() {
    let source = "/* use a; /* b */ c */ // d\n'x: \"e \\\" f\" r#\"g \" h\"# b'\\'' '\"' br\"i\" 1.5e3 0..n r#mod\n\"j\nk\" z";
    let found: Vec<(String, usize)> = tokens(source).into_iter().map(|t| (t.text, t.line)).collect();
    let words = |text: &str, line| -> Vec<(String, usize)> {
        text.split(' ').map(|t| (t.to_owned(), line)).collect()
    };
    let expected = [words("'x : … … … … … … … . . n mod", 2), words("…", 3), words("z", 4)].concat();
    assert_eq!(found, expected);
}
