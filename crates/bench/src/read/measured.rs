//! Figures that were measured on the bench, laid over those of the parts.

use super::{Reader, unknown_name};
use crate::file::MeasuredFile;
use crate::files::ReadError;
use crate::node::{self, Node, Pair};
use crate::problem::{Build, problem};
use crate::record::Table;
use std::sync::Arc;

/// The file of measured figures, in the bench folder.
pub const MEASURED: &str = "measured.toml";

/// What was measured of one axis: its name, and what goes before the figures of its parts.
pub(super) struct Over {
    axis: Node,
    motor: Option<Node>,
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
        self.measured = items
            .iter()
            .filter_map(|item| {
                Some(Over { axis: item.get("axis")?.clone(), motor: item.get("motor").cloned() })
            })
            .collect();
        let Some(axes) = self.trees.get("bench.toml").cloned().flatten().and_then(|b| b.get("axes").cloned())
        else {
            return;
        };
        let known: Vec<&str> =
            axes.pairs().into_iter().flat_map(|p| p.iter()).map(|pair| &*pair.key).collect();
        for over in &self.measured {
            if let Some(name) = over.axis.text().filter(|name| !known.contains(&&***name)) {
                let finding = unknown_name("measured.axis", name, &over.axis.span, "axes", &known);
                self.findings.push(finding);
            }
        }
    }

    /// An axis with what was measured of it laid over its parts.
    pub(super) fn with_measured(&mut self, axis: &Pair, node: Node) -> Node {
        let own = self.measured.iter().filter(|over| over.axis.text() == Some(&axis.key));
        let motors: Vec<&Node> = own.filter_map(|over| over.motor.as_ref()).collect();
        let Some(first) = motors.first() else { return node };
        let Some(part) = node.get("motor") else {
            let message = format!("axis `{}` has no DC motor whose figures could be measured", axis.key);
            let finding = problem("name-unknown", "measured.motor", message, first.span.clone());
            self.findings.push(finding.remedy("name the axis that they were measured on"));
            return node;
        };
        let file = |text: &Node| {
            let pair = Pair { key: "file".into(), span: text.span.clone(), node: text.clone() };
            Node { span: text.span.clone(), data: node::Data::Table(Arc::new(vec![pair])) }
        };
        let part = if part.text().is_some() { file(part) } else { part.clone() };
        let laid = motors.into_iter().fold(part, |part, motor| node::merge(&part, motor));
        let pair = Pair { key: "motor".into(), span: laid.span.clone(), node: laid };
        let over = Node { span: node.span.clone(), data: node::Data::Table(Arc::new(vec![pair])) };
        // The axis keeps its own place.
        Node { span: node.span.clone(), ..node::merge(&node, &over) }
    }
}
