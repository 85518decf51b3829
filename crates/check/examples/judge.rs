//! Prints what the rule book says of a starter: `cargo run -p firstspin-check --example judge -- draft-bench`.
#![allow(clippy::print_stdout)]

fn main() {
    let name = std::env::args().nth(1).unwrap_or_else(|| "seed-tray-shuttle".to_owned());
    let Some(starter) = bench::builtin::starter(&name) else {
        println!("no starter `{name}`");
        return;
    };
    let loaded = bench::load_from(&starter);
    for finding in &loaded.findings {
        println!("load: {finding:#?}");
    }
    let Some(bench) = loaded.value else { return };
    let checked = check::check(&bench);
    for f in &checked.findings {
        let state = if f.decided { "" } else { " (undecided)" };
        println!("{:?}{state} [{}] {} — {}", f.severity, f.id, f.subject, f.message);
        f.notes.iter().for_each(|n| println!("      {n}"));
        f.figures.iter().flat_map(|g| &g.steps).for_each(|s| println!("      = {}", s.text));
        f.remedies.iter().for_each(|r| println!("    → {}", r.text));
    }
    if let Some(judgement) = checked.value {
        println!("{:#?}", judgement.summary);
    }
}
