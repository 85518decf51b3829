//! Reads a dump strictly by the grammar of IEEE 1364-2001, clause 18.2, independent of the writer.

use std::collections::BTreeMap;

/// A dump.
#[derive(Default, Debug)]
pub(crate) struct Dump {
    pub(crate) timescale: String,
    pub(crate) comments: Vec<String>,
    pub(crate) date: Option<String>,
    /// By code: path with dots, type, width.
    pub(crate) signals: BTreeMap<String, (String, String, u32)>,
    /// Time, code, value as it stands.
    pub(crate) changes: Vec<(u64, String, String)>,
    pub(crate) end: u64,
}

impl Dump {
    pub(crate) fn read(text: &str) -> Result<Self, String> {
        let mut dump = Self::default();
        let mut words = text.split_ascii_whitespace();
        let mut scopes: Vec<String> = Vec::new();
        loop {
            let keyword = words.next().ok_or("no $enddefinitions")?;
            let mut body = Vec::new();
            loop {
                match words.next().ok_or_else(|| format!("{keyword} has no $end"))? {
                    "$end" => break,
                    word => body.push(word),
                }
            }
            match (keyword, &body[..]) {
                ("$version", _) => {}
                ("$comment", words) => dump.comments.push(words.join(" ")),
                ("$date", words) => dump.date = Some(words.join(" ")),
                (
                    "$timescale",
                    [number @ ("1" | "10" | "100"), unit @ ("s" | "ms" | "us" | "ns" | "ps" | "fs")],
                ) => {
                    dump.timescale = format!("{number} {unit}");
                }
                ("$scope", ["module" | "task" | "function" | "begin" | "fork", name]) => {
                    scopes.push(identifier(name)?);
                }
                ("$upscope", []) => drop(scopes.pop().ok_or("$upscope without $scope")?),
                ("$var", [kind @ ("wire" | "reg" | "integer" | "real"), width, code, name]) => {
                    if !code.bytes().all(|c| (b'!'..=b'~').contains(&c)) {
                        return Err(format!("code {code:?}"));
                    }
                    let width = width.parse().map_err(|_| format!("width {width}"))?;
                    let path = format!("{}.{}", scopes.join("."), identifier(name)?);
                    if dump.signals.values().any(|(known, ..)| *known == path)
                        || dump
                            .signals
                            .insert((*code).to_owned(), (path, (*kind).to_owned(), width))
                            .is_some()
                    {
                        return Err(format!("{name} stands twice"));
                    }
                }
                ("$enddefinitions", []) => break,
                other => return Err(format!("{other:?}")),
            }
        }
        if !scopes.is_empty() {
            return Err(format!("open scopes {scopes:?}"));
        }
        dump.changes(words)?;
        Ok(dump)
    }

    fn changes<'t>(&mut self, mut words: impl Iterator<Item = &'t str>) -> Result<(), String> {
        let (mut time, mut in_dumpvars) = (None, false);
        while let Some(word) = words.next() {
            if let Some(digits) = word.strip_prefix('#') {
                let next: u64 = digits.parse().map_err(|_| format!("time {word}"))?;
                if time.is_some_and(|time| next <= time) {
                    return Err(format!("time {word} does not rise"));
                }
                time = Some(next);
                self.end = next;
                continue;
            }
            match (word, in_dumpvars) {
                ("$dumpvars", false) => in_dumpvars = true,
                ("$end", true) => in_dumpvars = false,
                _ => {
                    let time = time.ok_or("a change before any time")?;
                    let (first, rest) = word.split_at_checked(1).ok_or("an empty word")?;
                    let (value, code) = match first {
                        "0" | "1" | "x" | "z" | "X" | "Z" => (first.to_owned(), rest.to_owned()),
                        "b" | "B" | "r" | "R" => {
                            (word.to_owned(), words.next().ok_or("a value without code")?.to_owned())
                        }
                        _ => return Err(format!("change {word:?}")),
                    };
                    let (_, kind, width) =
                        self.signals.get(&code).ok_or_else(|| format!("code {code:?} is not declared"))?;
                    let fits = match (first, kind.as_str()) {
                        ("r" | "R", "real") => value[1..].parse::<f64>().is_ok_and(f64::is_finite),
                        ("b" | "B", "reg" | "integer") => {
                            value.len() as u32 - 1 <= *width
                                && value.len() > 1
                                && value[1..].chars().all(|c| "01xXzZ".contains(c))
                        }
                        (_, "wire" | "reg") => *width == 1 && value.len() == 1,
                        _ => false,
                    };
                    if !fits {
                        return Err(format!("{value} is no {kind} of {width}"));
                    }
                    self.changes.push((time, code, value));
                }
            }
        }
        if in_dumpvars { Err("$dumpvars has no $end".to_owned()) } else { Ok(()) }
    }

    /// Changes of a signal by its path, those at the start among them.
    pub(crate) fn of(&self, path: &str) -> Vec<(u64, &str)> {
        let code = self.signals.iter().find(|(_, (known, ..))| known == path).map(|(code, _)| code);
        let code = code.unwrap_or_else(|| panic!("no {path} in {:?}", self.signals));
        self.changes.iter().filter(|(_, c, _)| c == code).map(|(t, _, v)| (*t, v.as_str())).collect()
    }
}

fn identifier(name: &str) -> Result<String, String> {
    let first = name.chars().next().ok_or("an empty name")?;
    if (first.is_ascii_alphabetic() || first == '_')
        && name.chars().all(|c| c.is_ascii_alphanumeric() || c == '_' || c == '$')
    {
        Ok(name.to_owned())
    } else {
        Err(format!("{name:?} is no simple identifier"))
    }
}
