//! Symbols that stay apart: two motors of a bench share the symbol R, a working must not.

use super::notation::is_nothing;
use super::{Form, input_text};
use crate::Worked;
use crate::expression::{Met, Op};
use crate::figure::Source;
use crate::input::Input;
use std::collections::{BTreeMap, BTreeSet, HashMap, HashSet};
use std::sync::Arc;

/// The symbols of the workings that are read together.
pub(crate) struct Names {
    inputs: Vec<(Arc<Input>, String)>,
    /// Place in `inputs` by path.
    places: HashMap<Arc<str>, usize>,
    /// Named parts by structure.
    named: HashMap<u64, String>,
}

impl Names {
    pub(crate) fn of(roots: &[&Worked]) -> Self {
        let mut inputs: Vec<Arc<Input>> = Vec::new();
        let mut parts: Vec<&Worked> = Vec::new();
        let (mut paths, mut structures) = (HashSet::new(), HashSet::new());
        for worked in in_order(roots) {
            match &worked.0.op {
                Op::Input(input) if paths.insert(Arc::clone(&input.path)) => inputs.push(Arc::clone(input)),
                Op::Named { .. } if structures.insert(worked.0.hash) => parts.push(worked),
                _ => {}
            }
        }
        let mut by_symbol: BTreeMap<Arc<str>, Vec<Thing>> = BTreeMap::new();
        for (place, input) in inputs.iter().enumerate() {
            by_symbol.entry(Arc::clone(&input.symbol)).or_default().push(Thing::Input(place));
        }
        for (place, part) in parts.iter().enumerate() {
            let Some((_, symbol)) = part.named() else { continue };
            by_symbol.entry(Arc::clone(symbol)).or_default().push(Thing::Part(place));
        }
        let mut shown = vec![String::new(); inputs.len()];
        let mut named = HashMap::new();
        for (symbol, things) in by_symbol {
            let texts = match things.len() {
                1 => vec![symbol.to_string()],
                _ => told_apart(&symbol, &things, &inputs, &parts),
            };
            for (thing, text) in things.iter().zip(texts) {
                match thing {
                    Thing::Input(k) => shown[*k] = text,
                    Thing::Part(k) => {
                        named.insert(parts[*k].0.hash, text);
                    }
                }
            }
        }
        let places =
            inputs.iter().enumerate().map(|(place, input)| (Arc::clone(&input.path), place)).collect();
        Self { inputs: inputs.into_iter().zip(shown).collect(), places, named }
    }

    pub(crate) fn of_input(&self, input: &Input, form: Form) -> String {
        match form {
            Form::Numbers => input_text(input),
            Form::Symbols => {
                let place = self.places.get(&input.path);
                place.map_or_else(|| input.symbol.to_string(), |place| self.inputs[*place].1.clone())
            }
        }
    }

    pub(crate) fn of_named(&self, worked: &Worked) -> String {
        self.named.get(&worked.0.hash).cloned().unwrap_or_default()
    }

    /// Named parts in the order of computation, the root last; each structure once.
    pub(crate) fn steps<'w>(&self, root: &'w Worked) -> Vec<&'w Worked> {
        let mut seen = BTreeSet::new();
        let mut steps: Vec<&Worked> =
            in_order(&[root]).into_iter().filter(|w| is_step(w) && seen.insert(w.0.hash)).collect();
        let ends_with_root = steps.last().is_some_and(|last| last.0.hash == root.0.hash);
        let wraps_last = matches!(root.0.op, Op::ShownIn(_))
            && steps.last().is_some_and(|last| last.0.hash == root.0.args[0].0.hash);
        if wraps_last {
            steps.pop();
        }
        if !ends_with_root {
            steps.push(root);
        }
        steps
    }

    pub(crate) fn sources(&self) -> Vec<Source> {
        self.inputs
            .iter()
            .filter(|(input, _)| !is_nothing(&Worked::from(Input::clone(input))))
            .map(|(input, symbol)| Source {
                symbol: symbol.clone(),
                name: input.name.to_string(),
                path: input.path.to_string(),
                value: match (input.is_missing(), input.written.is_empty()) {
                    (true, _) => "not given".to_owned(),
                    (false, false) => input.written.to_string(),
                    (false, true) => input_text(input),
                },
                origin: input.origin.to_string(),
                band_assumed: input.band_assumed,
                missing: input.is_missing(),
            })
            .collect()
    }
}

enum Thing {
    Input(usize),
    Part(usize),
}

/// Whether a part is written out as a step of its own.
pub(crate) fn is_step(worked: &Worked) -> bool {
    worked.named().is_some() && !matches!(worked.0.args[0].0.op, Op::Input(_)) && !is_nothing(worked)
}

/// What names the things that these inputs belong to: the parts of their paths between the kind and the key.
fn owners<'i>(inputs: impl Iterator<Item = &'i Input>) -> BTreeSet<&'i str> {
    let mut names = BTreeSet::new();
    for input in inputs {
        let parts: Vec<&str> = input.path.split('.').collect();
        if let [_, inner @ .., _] = parts.as_slice() {
            names.extend(inner);
        }
    }
    names
}

/// One symbol for several things, with an index for each.
fn told_apart(symbol: &str, things: &[Thing], inputs: &[Arc<Input>], parts: &[&Worked]) -> Vec<String> {
    let named = |thing: &Thing| match thing {
        Thing::Input(k) => owners(std::iter::once(inputs[*k].as_ref())),
        Thing::Part(k) => owners(in_order(&[parts[*k]]).into_iter().filter_map(|w| match &w.0.op {
            Op::Input(input) => Some(input.as_ref()),
            _ => None,
        })),
    };
    let owners: Vec<BTreeSet<&str>> = things.iter().map(named).collect();
    let mut holders: BTreeMap<&str, usize> = BTreeMap::new();
    for name in owners.iter().flatten() {
        *holders.entry(name).or_default() += 1;
    }
    owners.iter().enumerate().map(|(place, own)| qualified(symbol, place, own, &holders)).collect()
}

/// The symbol with the name that only this thing has; a running number where there is none.
fn qualified(symbol: &str, place: usize, own: &BTreeSet<&str>, holders: &BTreeMap<&str, usize>) -> String {
    let joint = if symbol.contains('_') { "," } else { "_" };
    match own.iter().find(|name| holders.get(**name) == Some(&1)) {
        Some(name) => format!("{symbol}{joint}{name}"),
        None => format!("{symbol}{joint}{}", place + 1),
    }
}

/// All nodes below, arguments before what is made of them, each once.
pub(crate) fn in_order<'w>(roots: &[&'w Worked]) -> Vec<&'w Worked> {
    let mut met = Met::default();
    let mut out = Vec::new();
    let mut stack: Vec<(&Worked, bool)> = roots.iter().rev().map(|root| (*root, false)).collect();
    while let Some((worked, ready)) = stack.pop() {
        if ready {
            out.push(worked);
        } else if met.insert(Arc::as_ptr(&worked.0) as usize) {
            stack.push((worked, true));
            stack.extend(worked.0.args.iter().rev().map(|a| (a, false)));
        }
    }
    out
}
