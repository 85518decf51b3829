//! The plan of every starter, from the files to verified pins.

use bench::builtin::starter;
use wiring::{Outcome, Task, price, solve, verify};

#[test]
fn zz() {
    for name in ["seed-tray-shuttle", "lead-screw-stage", "turntable", "lift-arm", "draft-bench"] {
        let t = std::time::Instant::now();
        let bench = bench::load_from(&starter(name).unwrap().memory()).value.unwrap();
        let Some(task) = Task::of(&bench, false) else {
            println!("{name}: no controller");
            continue;
        };
        println!("{name} {:?}", t.elapsed());
        match solve(&task.problem, None) {
            Outcome::Plan(s) => {
                println!("{:?} {:?}", t.elapsed(), s.least);
                for (l, seat) in task.problem.lines.iter().zip(&s.plan.lines) {
                    println!(
                        "   {} {:?} -> {:?} unsafe {} unfit {} was {:?}",
                        l.name,
                        l.need,
                        seat.map(|s| (task.problem.place(s.pin), s.ability, s.swapped)),
                        l.unsafe_at.len(),
                        l.unfit.len(),
                        l.was.map(|w| task.problem.place(w))
                    );
                }
                println!("  free {:?}", s.free);
                assert!(verify(&task.problem, &s.plan).is_empty());
                assert_eq!(price(&task.problem, &s.plan), s.least);
            }
            other => println!("{other:?}"),
        }
    }
}
