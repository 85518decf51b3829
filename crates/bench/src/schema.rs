//! JSON Schema (draft 2020-12) of the files, from the tables of fields: editors complete and check with it.

use crate::describe::{anchor, example, holds, measures, otherwise};
use crate::file::BenchFile;
use crate::kind::{Field, Form, Kind, Quant};
use crate::read::datum::{CONDITIONS, LONG_FORM};
use crate::read::part_kinds;
use crate::record::Table;
use serde_json::{Map, Value, json};
use std::collections::BTreeSet;
use worked::Dimension;

const DRAFT: &str = "https://json-schema.org/draft/2020-12/schema";

/// Schema of `bench.toml`.
pub fn bench_schema() -> Value {
    let mut defs = Defs::default();
    let mut top = defs.object(BenchFile::KIND, &[]);
    let mut schema = json!({ "$schema": DRAFT, "title": "bench file" });
    defs.finish(&mut top);
    extend(&mut schema, top);
    schema
}

/// Schema of a part file of any kind.
pub fn part_schema() -> Value {
    let mut defs = Defs::default();
    let mut branches = Vec::new();
    for kind in part_kinds() {
        let name = format!("{} file", kind.name);
        let word = json!({ "const": kind.name, "description": "kind of part" });
        let object = defs.object(kind, &[("kind", word)]);
        defs.done.insert(name.clone());
        defs.map.insert(anchor_of(&name), object);
        branches.push(json!({
            "if": { "properties": { "kind": { "const": kind.name } }, "required": ["kind"] },
            "then": reference(&name),
        }));
    }
    let kinds: Vec<&str> = part_kinds().iter().map(|kind| kind.name).collect();
    let mut schema = json!({
        "$schema": DRAFT,
        "title": "part file",
        "type": "object",
        "required": ["kind"],
        "properties": { "kind": { "enum": kinds, "description": "kind of part" } },
        "allOf": branches,
    });
    defs.finish(&mut schema);
    schema
}

/// Definitions that the schema refers to, each made once.
#[derive(Default)]
struct Defs {
    map: Map<String, Value>,
    done: BTreeSet<String>,
}

impl Defs {
    /// Puts the definitions into a schema.
    fn finish(self, schema: &mut Value) {
        if let Value::Object(object) = schema {
            object.insert("$defs".to_owned(), Value::Object(self.map));
        }
    }

    /// A table of a kind with further keys.
    fn object(&mut self, kind: &'static Kind, more: &[(&'static str, Value)]) -> Value {
        let mut properties = Map::new();
        for (key, value) in more {
            properties.insert((*key).to_owned(), value.clone());
        }
        let mut required: Vec<&str> =
            more.iter().filter(|(key, _)| *key == "kind").map(|(key, _)| *key).collect();
        self.properties(kind, &mut properties, &mut required);
        let mut object = json!({
            "type": "object",
            "description": kind.text.trim(),
            "properties": properties,
            "additionalProperties": false,
        });
        // What `like` gives need not stand in the table itself.
        let heir = kind.fields.iter().any(|field| field.key == "like");
        if !required.is_empty() && !heir {
            object["required"] = json!(required);
        }
        object
    }

    fn properties(
        &mut self,
        kind: &'static Kind,
        properties: &mut Map<String, Value>,
        required: &mut Vec<&'static str>,
    ) {
        for field in kind.fields {
            if let Form::Flat(flat) = field.form {
                self.properties(flat, properties, required);
                continue;
            }
            let value = self.field(field);
            properties.insert(field.key.to_owned(), value);
            if field.required {
                required.push(field.key);
            }
        }
    }

    fn field(&mut self, field: &'static Field) -> Value {
        let mut schema = self.form(&field.form);
        let mut description = field.text.to_owned();
        if let Form::Quantity(quant) | Form::Window(quant) | Form::Settings { quant, .. } = &field.form {
            description = format!("{description} ({})", measures(quant));
        } else if matches!(field.form, Form::Text(_) | Form::Texts(_)) && holds(&field.form) != "text" {
            description = format!("{description} ({})", holds(&field.form));
        }
        let otherwise = otherwise(field);
        if !otherwise.is_empty() && !field.required {
            description = format!("{description}; {otherwise}");
        }
        if let Value::Object(object) = &mut schema {
            object.insert("description".to_owned(), Value::String(description));
        }
        schema
    }

    fn form(&mut self, form: &'static Form) -> Value {
        let text = json!({ "type": "string" });
        match form {
            Form::Quantity(quant) | Form::Window(quant) => self.quantity(quant),
            Form::Ratio => json!({ "type": ["number", "string"], "exclusiveMinimum": 0, "pattern": "[0-9]" }),
            Form::Whole { within, per_rev, .. } => {
                let number = json!({ "type": "integer", "minimum": within.0, "maximum": within.1 });
                match per_rev {
                    true => json!({ "anyOf": [number, { "type": "string", "pattern": "[0-9]" }] }),
                    false => number,
                }
            }
            Form::Choice { words, .. } => {
                let words: Vec<&str> = words.iter().map(|word| word.word).collect();
                json!({ "enum": words })
            }
            Form::Flag { .. } => json!({ "type": "boolean" }),
            // A date may stand as TOML writes dates, which readers of JSON see as a text.
            Form::Text(_) => text,
            Form::Texts(_) => json!({ "anyOf": [text, { "type": "array", "items": text }] }),
            Form::Table(kind) => self.kind(kind),
            Form::Flat(_) => json!({}),
            Form::Tables(kind) => json!({ "type": "array", "items": self.kind(kind) }),
            Form::Named(kind) => json!({
                "type": "object",
                "propertyNames": { "pattern": "^[^.:\"']+$" },
                "additionalProperties": self.kind(kind),
            }),
            Form::Settings { quant, .. } => {
                json!({ "type": "object", "additionalProperties": self.setting(form, quant) })
            }
            Form::Map { table, .. } => {
                let mut values = vec![text.clone(), json!({ "type": "array", "items": text })];
                if let Some(kind) = table {
                    values.push(self.kind(kind));
                }
                json!({ "type": "object", "additionalProperties": { "anyOf": values } })
            }
            Form::Part(kind) => {
                let name = format!("{} in the bench", kind.name);
                if self.done.insert(name.clone()) {
                    let file = json!({ "type": "string", "description": "part file whose figures the other keys replace" });
                    let word = json!({ "const": kind.name, "description": "kind of part" });
                    let mut object = self.object(kind, &[("file", file), ("kind", word)]);
                    if let Value::Object(object) = &mut object {
                        object.remove("required");
                    }
                    self.map.insert(anchor_of(&name), object);
                }
                json!({ "anyOf": [{ "type": "string", "pattern": "\\S" }, reference(&name)] })
            }
        }
    }

    fn setting(&mut self, form: &Form, quant: &Quant) -> Value {
        match form {
            Form::Settings { or_name: true, .. } => {
                json!({ "anyOf": [self.quantity(quant), { "type": "string", "pattern": "\\S" }] })
            }
            _ => self.quantity(quant),
        }
    }

    /// A nested table, by reference; the text that stands for it, where it has one.
    fn kind(&mut self, kind: &'static Kind) -> Value {
        let name = kind.name.to_owned();
        if self.done.insert(name.clone()) {
            let object = self.object(kind, &[]);
            self.map.insert(anchor(kind), object);
        }
        match kind.shorthand {
            Some(_) => json!({ "anyOf": [{ "type": "string" }, reference(&name)] }),
            None => reference(&name),
        }
    }

    /// A text with a number, a bare number where it has no unit, or the long form.
    fn quantity(&mut self, quant: &Quant) -> Value {
        if self.done.insert("quantity".to_owned()) {
            self.map.insert("quantity".to_owned(), long_form());
        }
        let text = json!({ "type": "string", "pattern": "[0-9]", "examples": [example(quant)] });
        let pure = quant.dimension == Dimension::NONE || quant.also.contains(&Dimension::NONE);
        let mut forms = vec![text, reference("quantity")];
        if pure {
            forms.push(json!({ "type": "number" }));
        }
        json!({ "anyOf": forms })
    }
}

fn long_form() -> Value {
    let figure = json!({ "type": ["string", "number"], "pattern": "[0-9]" });
    let mut properties = Map::new();
    for key in LONG_FORM {
        let value = match key {
            "how" => {
                json!({ "enum": ["datasheet", "measured", "assumed"], "description": "how it was come by" })
            }
            "from" => json!({ "type": "string", "description": "page, meter, date" }),
            "at" => {
                let conditions = CONDITIONS.iter().map(|(name, _)| ((*name).to_owned(), figure.clone()));
                json!({
                    "type": "object",
                    "description": "conditions that it holds for",
                    "properties": conditions.collect::<Map<_, _>>(),
                    "additionalProperties": false,
                })
            }
            _ => figure.clone(),
        };
        properties.insert(key.to_owned(), value);
    }
    json!({
        "type": "object",
        "description": "a quantity with its limits and where it comes from",
        "properties": properties,
        "additionalProperties": false,
        "anyOf": [{ "required": ["value"] }, { "required": ["typ"] }, { "required": ["min"] }, { "required": ["max"] }],
    })
}

fn reference(name: &str) -> Value {
    json!({ "$ref": format!("#/$defs/{}", anchor_of(name)) })
}

fn anchor_of(name: &str) -> String {
    name.to_lowercase().replace(' ', "-")
}

fn extend(schema: &mut Value, more: Value) {
    if let (Value::Object(schema), Value::Object(more)) = (schema, more) {
        schema.extend(more);
    }
}
