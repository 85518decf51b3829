//! Every rule asked of every subject, with what is left to its limit at the worst corner.

use crate::rule::Group;
use crate::ruling::{Case, Standing};
use crate::{Judgement, Page, RULES};
use finding::Sheet;
use finding::sheet::{Block, Column, Table};

/// The sheet of all questions, a table a group.
pub(super) fn sheet(judgement: &Judgement) -> Sheet {
    let mut groups: Vec<Group> = RULES.iter().map(|rule| rule.group).collect();
    groups.dedup();
    let mut blocks = Vec::new();
    for group in groups {
        let rows: Vec<Vec<String>> =
            judgement.cases.iter().filter(|case| group_of(case) == Some(group)).map(row).collect();
        if !rows.is_empty() {
            let id = format!("questions-{}", format!("{group:?}").to_lowercase());
            let columns = ["Rule", "About", "Answer", "Value", "Limit", "Left"];
            let columns = columns
                .iter()
                .enumerate()
                .map(|(k, heading)| Column { heading: (*heading).to_owned(), numeric: k > 2 });
            let title = group.title().to_owned();
            blocks.push(Block::Table(Table { id, title, columns: columns.collect(), rows }));
        }
    }
    Sheet {
        id: "questions".to_owned(),
        title: "All questions".to_owned(),
        summary: vec![
            "Each rule was asked of everything it speaks of. Value and limit stand at the worst corner of all tolerances; what is left is the margin there. Facts have no numbers."
                .to_owned(),
        ],
        blocks,
    }
}

fn group_of(case: &Case) -> Option<Group> {
    RULES.iter().find(|rule| rule.id == case.rule).map(|rule| rule.group)
}

fn row(case: &Case) -> Vec<String> {
    let title =
        RULES.iter().find(|rule| rule.id == case.rule).map_or_else(String::new, |rule| Page::of(rule).title);
    let accepted = case.finding.as_ref().is_some_and(|f| f.accepted.is_some());
    let answer = match case.standing {
        Standing::Holds => "holds",
        Standing::Fails if accepted => "accepted",
        Standing::Fails => "does not hold",
        Standing::Undecided => "not decided",
    };
    let number = |si: fn(&worked::Verdict) -> f64| match (&case.claim, &case.verdict) {
        (Some(claim), Some(verdict)) if si(verdict).is_finite() => claim.value.text_of(si(verdict)),
        _ => String::new(),
    };
    vec![
        title,
        case.subject.clone(),
        answer.to_owned(),
        number(|v| v.value_there),
        number(|v| v.limit_there),
        number(|v| v.worst_margin),
    ]
}
