//! Everything found, what can hurt or burn first.

use finding::sheet::Block;
use finding::{Finding, Severity, Sheet};

/// Whether a finding belongs to a group.
type Belongs = fn(&Finding) -> bool;

/// The sheet of findings.
pub(super) fn sheet(findings: &[Finding]) -> Sheet {
    let mut blocks = Vec::new();
    let groups: [(&str, Belongs); 5] = [
        ("Blockers", |f| f.severity == Severity::Blocker && f.decided && f.accepted.is_none()),
        ("Not decided", |f| !f.decided && f.accepted.is_none()),
        ("Weaknesses", |f| f.severity == Severity::Weakness && f.decided && f.accepted.is_none()),
        ("Notes", |f| f.severity == Severity::Note && f.decided && f.accepted.is_none()),
        ("Accepted", |f| f.accepted.is_some()),
    ];
    for (heading, belongs) in groups {
        let group: Vec<Finding> = findings.iter().filter(|f| belongs(f)).cloned().collect();
        if !group.is_empty() {
            blocks.push(Block::Heading(heading.to_owned()));
            blocks.push(Block::Findings(group));
        }
    }
    let summary = if blocks.is_empty() {
        vec!["No rule found anything to say.".to_owned()]
    } else {
        vec![
            "What can hurt people or burn parts stands first. Under each finding its working folds open."
                .to_owned(),
        ]
    };
    Sheet { id: "findings".to_owned(), title: "Findings".to_owned(), summary, blocks }
}
