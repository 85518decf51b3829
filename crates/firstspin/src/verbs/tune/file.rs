//! Gains as a file: TOML, JSON or CSV by its name, whole or not at all.

use super::{Told, number};
use crate::env::Env;
use crate::failure::Failure;
use control::sheet::numbers;
use logs::NewFile;
use serde_json::{Map, Value, json};
use std::fs;
use std::io::Write;
use std::path::{Path, PathBuf};

/// First line of every such TOML file, by which it is known.
const TOML: &str = "# Gains written by firstspin tune: SI units, at the motor shaft.";
/// The same of CSV.
const CSV: &str = "axis,gain,name,symbol,value,unit,in samples,unit in samples";
/// The same of JSON.
const JSON: &str = "{\n  \"gains_by\": \"firstspin tune\",";

#[derive(Clone, Copy, PartialEq, Eq)]
enum Form {
    Toml,
    Json,
    Csv,
}

/// A place for gains that may be written.
pub(super) struct Place {
    path: PathBuf,
    shown: String,
    form: Form,
}

impl Place {
    /// A new file, or one that holds gains already; any other is left as it is.
    pub(super) fn of(named: &Path, env: &Env) -> Result<Self, Failure> {
        let (path, shown) = (env.folder.join(named), named.display().to_string());
        let form = match named.extension().and_then(|end| end.to_str()) {
            Some("toml") => Form::Toml,
            Some("json") => Form::Json,
            Some("csv") => Form::Csv,
            _ => {
                return Err(Failure::Said(format!(
                    "{shown} has none of the endings by which gains are written: .toml, .json, .csv"
                )));
            }
        };
        let is_other = match fs::read_to_string(&path) {
            Ok(text) => !text.starts_with(form.begins()),
            Err(_) => path.symlink_metadata().is_ok(),
        };
        match is_other {
            true => {
                Err(Failure::Said(format!("{shown} is there already and holds no gains; name another file")))
            }
            false => Ok(Self { path, shown, form }),
        }
    }

    /// Its name as it was given.
    pub(super) fn shown(&self) -> &str {
        &self.shown
    }

    /// Writes the gains of all axes.
    pub(super) fn write(&self, told: &[Told]) -> Result<(), Failure> {
        let text = match self.form {
            Form::Toml => toml(told),
            Form::Json => json(told),
            Form::Csv => csv(told),
        };
        let written = NewFile::beside(&self.path).and_then(|mut file| {
            file.write_all(text.as_bytes())?;
            file.put_in_place()
        });
        written.map_err(|error| {
            Failure::Said(format!("cannot write {}: {error}; nothing was changed there", self.shown))
        })
    }
}

impl Form {
    fn begins(self) -> &'static str {
        match self {
            Self::Toml => TOML,
            Self::Json => JSON,
            Self::Csv => CSV,
        }
    }
}

fn toml(told: &[Told]) -> String {
    let mut text = format!("{TOML}\n");
    for (axis, tuned) in told.iter().filter_map(|one| Some((&one.axis, &one.tuned.as_ref().ok()?.0))) {
        text.push_str(&format!("\n[axes.{}]\n", key(axis)));
        for number in numbers(&tuned.best.gains) {
            let unit = if number.unit.is_empty() { String::new() } else { format!("{}; ", number.unit) };
            text.push_str(&format!("{} = {:?}  # {unit}{}\n", number.key, number.value, number.name));
        }
        text.push_str(&format!("\n[axes.{}.in_samples]\n", key(axis)));
        for number in numbers(&tuned.best.gains) {
            if let Some((value, unit)) = number.in_samples {
                text.push_str(&format!("{} = {value:?}  # {unit}\n", number.key));
            }
        }
    }
    text
}

/// A key of TOML, in quotes where it has to be.
fn key(name: &str) -> String {
    let is_bare = |c: char| c.is_ascii_alphanumeric() || c == '_' || c == '-';
    match !name.is_empty() && name.chars().all(is_bare) {
        true => name.to_owned(),
        // The escapes of JSON are those of TOML.
        false => Value::from(name).to_string(),
    }
}

fn json(told: &[Told]) -> String {
    let mut axes = Map::new();
    for one in told {
        if let Ok((tuned, _)) = &one.tuned {
            let all = numbers(&tuned.best.gains);
            axes.insert(one.axis.clone(), all.iter().map(number).collect());
        }
    }
    format!("{:#}\n", json!({ "gains_by": "firstspin tune", "axes": axes }))
}

fn csv(told: &[Told]) -> String {
    let mut text = format!("{CSV}\r\n");
    for one in told {
        let Ok((tuned, _)) = &one.tuned else { continue };
        for number in numbers(&tuned.best.gains) {
            let (value, unit) =
                number.in_samples.map_or_else(Default::default, |(value, unit)| (format!("{value:?}"), unit));
            let cells = [
                cell(&one.axis),
                number.key.to_owned(),
                number.name.to_owned(),
                number.symbol.to_owned(),
                format!("{:?}", number.value),
                number.unit.to_owned(),
                value,
                unit.to_owned(),
            ];
            text.push_str(&cells.join(","));
            text.push_str("\r\n");
        }
    }
    text
}

/// Source: RFC 4180.
fn cell(text: &str) -> String {
    match text.contains([',', '"', '\n', '\r']) {
        true => format!("\"{}\"", text.replace('"', "\"\"")),
        false => text.to_owned(),
    }
}
