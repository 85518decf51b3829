//! Figures that were measured on the bench, laid over those of the parts.

use super::{Reader, unknown_name};
use crate::file::MeasuredFile;
use crate::files::ReadError;
use crate::node::{self, Node, Pair};
use crate::problem::{Build, problem};
use crate::record::Table;
use finding::Span;
use std::sync::Arc;

/// The file of measured figures, in the bench folder.
pub const MEASURED: &str = "measured.toml";

/// What was measured of one axis or line: its name, and what goes before the figures of the parts.
pub(super) struct Over {
    axis: Option<Node>,
    of: Option<Node>,
    motor: Option<Node>,
    line: Option<Node>,
}

impl Reader<'_> {
    /// Reads the file of measured figures, where there is one.
    pub(super) fn read_measured(&mut self) {
        if matches!(self.files.read(MEASURED), Err(ReadError::Missing)) {
            return;
        }
        let Some(tree) = self.tree(MEASURED, None) else { return };
        let before = self.findings.len();
        self.table(MeasuredFile::KIND, &tree, "");
        // What does not read is told once: here, and not again for each axis.
        if self.findings.len() > before {
            return;
        }
        let Some(node::Data::List(items)) = tree.get("measured").map(|list| &list.data) else { return };
        for item in items {
            let part = |key: &str| item.get(key).cloned();
            let over = Over { axis: part("axis"), of: part("of"), motor: part("motor"), line: part("line") };
            self.has_its_owner(item, &over);
            self.measured.push(over);
        }
        let Some(bench) = self.trees.get("bench.toml").cloned().flatten() else { return };
        let keys = |table: &str| -> Vec<Arc<str>> {
            let table = bench.get(table).and_then(Node::pairs).cloned();
            table.iter().flat_map(|pairs| pairs.iter()).map(|pair| pair.key.clone()).collect()
        };
        let axes = keys("axes");
        let devices = [keys("drivers"), keys("sensors")].concat();
        let known = |all: &[Arc<str>], name: &str| all.iter().any(|known| **known == *name);
        let mut unknown = Vec::new();
        for over in &self.measured {
            if let Some((name, node)) = named(&over.axis).filter(|(name, _)| !known(&axes, name)) {
                let axes: Vec<&str> = axes.iter().map(|name| &**name).collect();
                unknown.push(unknown_name("measured.axis", name, &node.span, "axes", &axes));
            }
            if let Some((name, node)) = named(&over.of).filter(|(name, _)| !known(&devices, split(name).0)) {
                let devices: Vec<&str> = devices.iter().map(|name| &**name).collect();
                unknown.push(unknown_name("measured.of", name, &node.span, "boards and sensors", &devices));
            }
        }
        self.findings.extend(unknown);
    }

    /// Figures of a motor belong to an axis, those of a line to a line.
    fn has_its_owner(&mut self, item: &Node, over: &Over) {
        let nobody = over.axis.is_none() && over.of.is_none();
        let (key, remedy) = match (over.motor.is_some(), over.line.is_some()) {
            (_, true) if over.of.is_none() => ("of", "name the line, as `of = \"board:A.current\"`"),
            (true, _) if over.axis.is_none() => ("axis", "name the axis of the motor"),
            _ if nobody => ("axis", "name the axis of a motor, or the line with `of`"),
            _ => return,
        };
        let message = format!("measured figures do not say what they belong to: `{key}` is missing");
        let finding = problem("key-missing", "measured", message, item.span.clone());
        self.findings.push(finding.remedy(remedy));
    }

    /// An axis, board or sensor with what was measured of it laid over its figures.
    pub(super) fn with_measured(&mut self, table: &str, pair: &Pair, node: Node) -> Node {
        match table {
            "axes" => self.with_measured_motor(pair, node),
            "drivers" => self.with_measured_signals(pair, node),
            "sensors" => self.own_lines(pair).into_iter().fold(node, |node, (signal, line)| {
                if &*signal.text == "signal" {
                    return in_place(&node, &line);
                }
                let names = [format!("{}:signal", pair.key)];
                let names = [names[0].as_str()];
                let finding = unknown_name("measured.of", &signal.whole, &signal.span, "lines", &names);
                self.findings.push(finding);
                node
            }),
            _ => node,
        }
    }

    /// An axis with what was measured of its motor.
    fn with_measured_motor(&mut self, axis: &Pair, node: Node) -> Node {
        let own =
            self.measured.iter().filter(|over| named(&over.axis).is_some_and(|(n, _)| **n == *axis.key));
        let motors: Vec<&Node> = own.filter_map(|over| over.motor.as_ref()).collect();
        let Some(first) = motors.first() else { return node };
        let Some(part) = node.get("motor") else {
            let message = format!("axis `{}` has no DC motor whose figures could be measured", axis.key);
            let finding = problem("name-unknown", "measured.motor", message, first.span.clone());
            self.findings.push(finding.remedy("name the axis that they were measured on"));
            return node;
        };
        let laid = motors.into_iter().fold(as_table(part), |part, motor| node::merge(&part, motor));
        in_place(&node, &table_of("motor", laid))
    }

    /// A board with what was measured of its lines.
    fn with_measured_signals(&mut self, board: &Pair, node: Node) -> Node {
        let lines = self.own_lines(board);
        let Some(part) = node.get("part").map(as_table).filter(|_| !lines.is_empty()) else { return node };
        let path = part.get("file").and_then(Node::text).cloned();
        // What the part file lacks is told where the part is read.
        let tree = path.map_or_else(|| Some(part.clone()), |path| self.tree(&path, None));
        let Some(tree) = tree else { return node };
        let signals: Vec<Arc<str>> = match tree.get("signals").map(|list| &list.data) {
            Some(node::Data::List(items)) => {
                items.iter().filter_map(|item| item.get("name")?.text().cloned()).collect()
            }
            _ => Vec::new(),
        };
        let mut laid = part;
        for (signal, line) in lines {
            if !signals.iter().any(|known| **known == *signal.text) {
                let names: Vec<String> = signals.iter().map(|name| format!("{}:{name}", board.key)).collect();
                let names: Vec<&str> = names.iter().map(String::as_str).collect();
                let what = "signals of the board";
                let finding = unknown_name("measured.of", &signal.whole, &signal.span, what, &names);
                self.findings.push(finding);
                continue;
            }
            let text = Node { span: signal.span.clone(), data: node::Data::Text(signal.text.clone()) };
            let name = Pair { key: "name".into(), span: signal.span.clone(), node: text };
            let pairs = std::iter::once(name).chain(line.pairs().into_iter().flat_map(|p| p.iter().cloned()));
            let data = node::Data::Table(Arc::new(pairs.collect()));
            let item = Node { span: line.span.clone(), data };
            let list = Node { span: line.span.clone(), data: node::Data::List(vec![item]) };
            laid = node::merge(&laid, &table_of("signals", list));
        }
        in_place(&node, &table_of("part", laid))
    }

    /// What was measured of the lines of a device, oldest first.
    fn own_lines(&self, device: &Pair) -> Vec<(Signal, Node)> {
        let own = |over: &Over| {
            let (name, node) = named(&over.of)?;
            let (owner, signal) = split(name);
            let signal = Signal { whole: name.clone(), text: signal.into(), span: node.span.clone() };
            (*owner == *device.key).then_some((signal, over.line.clone()?))
        };
        self.measured.iter().filter_map(own).collect()
    }
}

/// A signal of a device, as `of` names it.
struct Signal {
    whole: Arc<str>,
    text: Arc<str>,
    span: Span,
}

fn named(node: &Option<Node>) -> Option<(&Arc<str>, &Node)> {
    node.as_ref().and_then(|node| Some((node.text()?, node)))
}

/// `board:A.current` as device and signal.
fn split(name: &str) -> (&str, &str) {
    name.split_once(':').unwrap_or((name, ""))
}

/// A part as a table: the path of its file is the key `file`.
fn as_table(part: &Node) -> Node {
    if part.text().is_some() { table_of("file", part.clone()) } else { part.clone() }
}

fn table_of(key: &str, node: Node) -> Node {
    let span = node.span.clone();
    let pair = Pair { key: key.into(), span: span.clone(), node };
    Node { span, data: node::Data::Table(Arc::new(vec![pair])) }
}

/// One table laid over another, which keeps its own place.
fn in_place(node: &Node, over: &Node) -> Node {
    Node { span: node.span.clone(), ..node::merge(node, over) }
}
