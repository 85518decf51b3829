//! Runs the rules over every starter and over the examples of their pages, and tells what was seen: how a failure
//! weighs, which figures a rule uses, and what it says when one of them is taken out.

use bench::builtin::{Starter, starter, starters};
use bench::file::BenchFile;
use bench::{Bench, Form, Kind, Table};
use check::{Case, Page, RULES, Rule, Standing, ask};
use finding::{Finding, Harm, Severity};
use std::cmp::Reverse;
use std::collections::{BTreeMap, BTreeSet};
use worked::Origin;

/// What was seen of each rule, by its id.
pub(crate) struct Seen {
    rules: BTreeMap<&'static str, OfRule>,
}

#[derive(Default)]
struct OfRule {
    weights: BTreeSet<(Reverse<Severity>, Reverse<Harm>)>,
    /// Generalised paths of the figures that its claims use.
    figures: BTreeSet<String>,
    /// Generalised paths of the keys that the examples of its page turn.
    keys: BTreeSet<String>,
    without: Option<String>,
}

/// A starter with changes laid over it: file and TOML.
struct Scene {
    starter: Starter,
    changes: Vec<(String, String)>,
}

/// A key that may be taken out: the file that it stands in, and its path, perhaps with the name of the device that
/// the file describes before it.
#[derive(Clone)]
struct Key {
    file: String,
    path: String,
}

/// A key to take out of a scene, and how the rule ended before.
struct Try<'a> {
    scene: &'a Scene,
    cases: &'a [Case],
    key: Key,
}

/// Keys that are taken out before it is believed that none is missed.
const TRIES: usize = 20;

impl Seen {
    /// Runs everything.
    pub(crate) fn of_all_benches() -> Self {
        let plain: Vec<Scene> =
            starters().into_iter().map(|starter| Scene { starter, changes: Vec::new() }).collect();
        let loaded: Vec<Bench> = plain.iter().filter_map(|scene| scene.bench(None).ok()).collect();
        assert_eq!(loaded.len(), plain.len(), "every starter loads");
        Self { rules: RULES.iter().map(|rule| (rule.id, OfRule::seen(rule, &plain, &loaded))).collect() }
    }

    /// `blocker, parts`.
    pub(crate) fn weights(&self, rule: &str) -> String {
        let words = |(severity, harm): &(Reverse<Severity>, Reverse<Harm>)| {
            format!("{:?}, {:?}", severity.0, harm.0).to_lowercase()
        };
        let all: Vec<String> = self.rules[rule].weights.iter().map(words).collect();
        all.join("; ")
    }

    /// Figures, gathered by the table that they stand in; keys in italics where there are none.
    pub(crate) fn data(&self, rule: &str) -> String {
        let seen = &self.rules[rule];
        if seen.figures.is_empty() {
            let keys: Vec<String> = seen.keys.iter().map(|key| format!("*{key}*")).collect();
            return keys.join("; ");
        }
        let mut tables: BTreeMap<&str, Vec<&str>> = BTreeMap::new();
        for path in &seen.figures {
            let (table, key) = path.rsplit_once('.').unwrap_or(("", path));
            tables.entry(table).or_default().push(key);
        }
        let tables: Vec<String> =
            tables.iter().map(|(table, keys)| format!("`{table}`: {}", keys.join(", "))).collect();
        tables.join("; ")
    }

    /// What is said when one of them is missing.
    pub(crate) fn without(&self, rule: &str) -> String {
        self.rules[rule].without.clone().unwrap_or_else(|| "nothing seen in the examples".to_owned())
    }
}

impl OfRule {
    fn seen(rule: &'static Rule, plain: &[Scene], loaded: &[Bench]) -> Self {
        let own: Vec<Scene> = Page::of(rule).examples.iter().filter_map(Scene::of_example).collect();
        let own_cases: Vec<Vec<Case>> = own
            .iter()
            .map(|scene| scene.bench(None).map_or_else(|_| Vec::new(), |b| ask(rule, &b)))
            .collect();
        let plain_cases: Vec<Vec<Case>> = loaded.iter().map(|bench| ask(rule, bench)).collect();
        let mut of_rule = Self::default();
        let mut tries: Vec<Try<'_>> = Vec::new();
        let all = plain.iter().zip(&plain_cases).chain(own.iter().zip(&own_cases));
        for (scene, cases) in all {
            for case in cases {
                of_rule.take(case);
                tries.extend(figures_in_files(case).map(|key| Try { scene, cases, key }));
            }
        }
        of_rule.keys = own.iter().flat_map(Scene::keys).map(|key| general(&key.path)).collect();
        // What looks at facts has no figures: the keys of its examples are taken out too, here and from the starters.
        let keys: Vec<Key> = own.iter().flat_map(Scene::keys).collect();
        for (scene, cases) in own.iter().zip(&own_cases).chain(plain.iter().zip(&plain_cases)) {
            if !cases.is_empty() {
                tries.extend(keys.iter().cloned().map(|key| Try { scene, cases, key }));
            }
        }
        of_rule.without = first_said(rule, &tries);
        of_rule
    }

    fn take(&mut self, case: &Case) {
        self.weights.insert((Reverse(case.severity), Reverse(case.harm)));
        let inputs = case.claim.iter().flat_map(worked::Claim::inputs);
        self.figures.extend(inputs.filter(|i| is_of_bench(&i.path)).map(|i| general(&i.path)));
    }
}

impl Scene {
    fn of_example(example: &check::Example) -> Option<Self> {
        Some(Self { starter: starter(&example.starter)?, changes: example.fragments.clone() })
    }

    /// The bench, with a key taken out if asked; what the loader says where it does not load.
    fn bench(&self, without: Option<(&str, &str)>) -> Result<Bench, Vec<Finding>> {
        let mut files = bench::overlay(&self.starter, "bench.toml", "");
        for (file, change) in &self.changes {
            files = files.and(file, change);
        }
        if let Some((file, path)) = without {
            files = files.and(file, &format!("without = [{path:?}]\n"));
        }
        let loaded = bench::load_from(&files);
        loaded.value.ok_or(loaded.findings)
    }

    /// The keys that the changes turn or take out.
    fn keys(&self) -> Vec<Key> {
        let mut keys = Vec::new();
        for (file, change) in &self.changes {
            let mut paths = Vec::new();
            for (name, value) in change.parse::<toml::Table>().expect("the pages' test reads it too") {
                match value.as_array() {
                    Some(gone) if name == "without" => {
                        paths.extend(gone.iter().filter_map(|path| path.as_str().map(str::to_owned)));
                    }
                    _ => leaves(&name, &value, &mut paths),
                }
            }
            keys.extend(paths.into_iter().map(|path| Key { file: file.clone(), path }));
        }
        keys
    }
}

/// Paths of all values below a key; an item of a list goes by its name.
fn leaves(path: &str, value: &toml::Value, paths: &mut Vec<String>) {
    match value {
        toml::Value::Table(table) => {
            table.iter().for_each(|(key, value)| leaves(&format!("{path}.{key}"), value, paths));
        }
        toml::Value::Array(items) if items.iter().all(toml::Value::is_table) && !items.is_empty() => {
            for item in items {
                let name = item.get("name").or(item.get("id")).and_then(toml::Value::as_str);
                leaves(&name.map_or(path.to_owned(), |name| format!("{path}.{name}")), item, paths);
            }
        }
        _ => paths.push(path.to_owned()),
    }
}

/// The figures of a case that stand in a file.
fn figures_in_files(case: &Case) -> impl Iterator<Item = Key> {
    let inputs = case.claim.iter().flat_map(worked::Claim::inputs);
    inputs.filter_map(|input| match &input.origin {
        Origin::File { file, .. } => {
            // A change of a file is shown under the name `change of FILE` or `change 2 of FILE`.
            let file = file.rsplit(" of ").next().unwrap_or(file).to_owned();
            Some(Key { file, path: input.path.to_string() })
        }
        _ => None,
    })
}

/// What the rule says once a key is gone, and did not say before, for the first key that it misses.
fn first_said(rule: &'static Rule, tries: &[Try<'_>]) -> Option<String> {
    let mut tried = BTreeSet::new();
    let mut refused = None;
    for Try { scene, cases, key } in tries {
        let name = general(&key.path);
        if tried.len() == TRIES || tried.contains(&name) {
            continue;
        }
        match without(scene, key) {
            Some(Ok(bench)) => {
                tried.insert(name);
                let before: BTreeSet<&str> = cases.iter().filter_map(said).collect();
                let after = ask(rule, &bench);
                // A figure that is gone leaves a claim undecided; a declaration that is gone is a finding.
                let misses = |case: &&Case| case.standing == Standing::Undecided || case.claim.is_none();
                if let Some(new) = after.iter().filter(misses).filter_map(said).find(|m| !before.contains(m))
                {
                    return Some(without_change(new));
                }
            }
            Some(Err(message)) => refused = refused.or(Some(message)),
            None => {}
        }
    }
    refused.map(|message| format!("the files are refused: {}", without_change(&message)))
}

fn said(case: &Case) -> Option<&str> {
    case.finding.as_ref().map(|finding| finding.message.as_str())
}

/// A message with the file named, where it names the change that an example makes of it.
fn without_change(message: &str) -> String {
    let mut text = message.replace("(change of ", "(");
    for number in 2..9 {
        text = text.replace(&format!("(change {number} of "), "(");
    }
    text
}

/// The bench with a key taken out, or what the loader says. `None` where the key is not found.
fn without(scene: &Scene, key: &Key) -> Option<Result<Bench, String>> {
    // The path in a part file begins somewhere behind the name of the device.
    let starts = std::iter::once(0).chain(key.path.match_indices('.').map(|(at, _)| at + 1));
    for start in starts {
        match scene.bench(Some((&key.file, &key.path[start..]))) {
            Ok(bench) => return Some(Ok(bench)),
            Err(said) if said.iter().any(|f| f.message.contains("to take away")) => {}
            Err(said) => return said.first().map(|finding| Err(finding.message.clone())),
        }
    }
    None
}

/// Whether a path is one of the bench, and not the name of a factor of the trade.
fn is_of_bench(path: &str) -> bool {
    let top = path.split('.').next().unwrap_or("");
    BenchFile::KIND.fields.iter().any(|field| field.key == top)
}

/// A path with a `*` for every name: `drivers.*.channels.*.on_resistance`. A name may have full stops of its own.
fn general(path: &str) -> String {
    let mut shown: Vec<&str> = Vec::new();
    let mut parts = path.split('.').peekable();
    let mut kind = Some(BenchFile::KIND);
    while let Some(key) = parts.next() {
        shown.push(key);
        let form = kind.and_then(|kind| form_of(kind, key));
        kind = match form {
            Some(Form::Table(kind) | Form::Named(kind) | Form::Tables(kind) | Form::Part(kind)) => Some(kind),
            Some(Form::Map { table, .. }) => *table,
            _ => None,
        };
        let named =
            matches!(form, Some(Form::Named(_) | Form::Tables(_) | Form::Settings { .. } | Form::Map { .. }));
        if named && parts.next().is_some() {
            shown.push("*");
            let is_key = |part: &&str| kind.is_some_and(|kind| form_of(kind, part).is_some());
            while parts.next_if(|part| !is_key(part)).is_some() {}
        }
    }
    shown.join(".")
}

/// What a key of a table holds. Keys of a part that stands under `part` count as keys of its device.
fn form_of(kind: &'static Kind, key: &str) -> Option<&'static Form> {
    let own = kind.fields.iter().find(|field| field.key == key).map(|field| &field.form);
    own.or_else(|| {
        kind.fields.iter().find_map(|field| match &field.form {
            Form::Flat(inner) => form_of(inner, key),
            Form::Part(inner) if field.key == "part" => form_of(inner, key),
            _ => None,
        })
    })
}
