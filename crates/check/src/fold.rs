//! Findings that say the same of several like things are said once.

use finding::Finding;

/// Folds findings that differ in nothing but the thing they speak of; the first stays and names the others.
pub(crate) fn fold(findings: Vec<Finding>) -> Vec<Finding> {
    let mut kept: Vec<(String, Finding, Vec<String>)> = Vec::new();
    for finding in findings {
        let key = without_subject(&finding);
        match kept.iter_mut().find(|(k, first, _)| *k == key && first.subject != finding.subject) {
            Some((_, _, others)) => others.push(finding.subject),
            None => kept.push((key, finding, Vec::new())),
        }
    }
    let named = kept.into_iter().map(|(_, mut finding, others)| {
        if !others.is_empty() {
            finding.notes.insert(0, format!("the same holds for {}", others.join(", ")));
        }
        finding
    });
    named.collect()
}

/// Everything that is said, with the name of the thing left open.
fn without_subject(finding: &Finding) -> String {
    let name = finding.subject.rsplit('.').next().unwrap_or("");
    if name.is_empty() {
        return format!("{:?}", finding.at);
    }
    let open = |text: &str| text.replace(&finding.subject, "*").replace(&format!("`{name}`"), "`*`");
    let mut key =
        format!("{} {:?} {:?} {}", finding.id, finding.severity, finding.accepted, open(&finding.message));
    for text in finding.notes.iter().chain(finding.remedies.iter().map(|r| &r.text)) {
        key.push('\n');
        key.push_str(&open(text));
    }
    for figure in &finding.figures {
        key.push('\n');
        key.push_str(&format!("{} {} {}", open(&figure.name), figure.text, figure.range_text));
    }
    key
}

#[cfg(test)]
mod tests {
    use super::*;
    use finding::{Harm, Severity};

    fn said(subject: &str, message: &str) -> Finding {
        Finding {
            id: "an-id".to_owned(),
            severity: Severity::Weakness,
            harm: Harm::Parts,
            subject: subject.to_owned(),
            message: message.to_owned(),
            at: None,
            related: Vec::new(),
            notes: vec![format!("see {subject}.motor")],
            figures: Vec::new(),
            remedies: Vec::new(),
            accepted: None,
            decided: true,
        }
    }

    #[test]
    fn like_findings_are_said_once() {
        let folded = fold(vec![
            said("axes.left", "axis `left`: 25 V"),
            said("axes.right", "axis `right`: 25 V"),
            said("axes.third", "axis `third`: 12 V"),
        ]);
        assert_eq!(folded.len(), 2);
        assert_eq!(folded[0].notes[0], "the same holds for axes.right");
    }

    #[test]
    fn one_thing_said_twice_stays_twice() {
        assert_eq!(fold(vec![said("axes.left", "a"), said("axes.left", "a")]).len(), 2);
    }
}
